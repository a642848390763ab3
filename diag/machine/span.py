"""A YAML file as a tree in which every node knows its place, and every scalar is still the word that was written."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

from diag.machine.place import Place

Plain = str | list["Plain"] | dict[str, "Plain"]
"""What a node holds without the places."""

Path = Sequence[str | int]
"""Keys and positions, from a node down."""

DEEPEST: Final = 100
"""Levels of nesting. A tree of 30 questions, one below the other, has about 95."""


@dataclass(slots=True, eq=False)
class Node:
    """A scalar, a list or a map. Lines and columns count from 1."""

    value: str | list[Node] | dict[str, Node]
    line: int
    column: int
    key_line: int = 0
    """The place of the key that this is the value of; 0 when it is no map's value."""
    key_column: int = 0
    size: int = 1
    """Nodes in it, itself among them, aliases written out."""
    height: int = 1
    file: str = ""
    """The file that it stands in, where that is not the file of the entry around it."""
    used: Place | None = None
    """In a module: where the module is used."""

    @property
    def children(self) -> Collection[Node]:
        """The nodes right below it; none below a word."""
        if isinstance(self.value, dict):
            return self.value.values()
        return self.value if isinstance(self.value, list) else ()

    @property
    def nodes(self) -> int:
        """How many nodes are in it, itself among them."""
        return 1 + sum(child.nodes for child in self.children)

    def mapped(self, word: Callable[[str], str] = str, key: Callable[[str], str] = str, file: str = "") -> Node:
        """A copy in which each word and key is what these make of it. What names no file itself stands in `file`."""
        value = self.value
        made: str | list[Node] | dict[str, Node]
        if isinstance(value, str):
            made = word(value)
        elif isinstance(value, list):
            made = [child.mapped(word, key, file) for child in value]
        else:
            made = {key(name): child.mapped(word, key, file) for name, child in value.items()}
        return replace(self, value=made, file=self.file or file)

    def plain(self) -> Plain:
        """The words without their places."""
        value = self.value
        if isinstance(value, str):
            return value
        if isinstance(value, dict):
            return {key: child.value if type(child.value) is str else child.plain() for key, child in value.items()}
        return [child.plain() for child in value]

    def find(self, path: Path) -> Node:
        """The node at `path`. Parts that are not in the tree are passed over: a short form has fewer levels than the
        long form that it stands for, so the path into the long form still ends at the right word."""
        node = self
        for part in path:
            value = node.value
            if isinstance(value, dict):
                if isinstance(part, str) and part in value:
                    node = value[part]
            elif isinstance(value, list) and isinstance(part, int) and part < len(value):
                node = value[part]
        return node

    def place(self, file: str) -> Place:
        return Place(self.file or file, self.line, self.column, self.used)

    def key_place(self, file: str) -> Place:
        """Where its key stands; where it stands itself when it has none."""
        if not self.key_line:
            return self.place(file)
        return Place(self.file or file, self.key_line, self.key_column, self.used)
