"""YAML text to a tree of nodes, in one pass over the parser's events.

No implicit typing: `on`, `no`, `00`, `1e3`, `12:30`, `null` and `~` are the words that were written. Refused: a key
written twice, tags, merge keys, keys that are not words, several documents, and what grows past the limits below.
The events are taken one by one, and not as ready-made nodes, so that no depth of nesting can exhaust the stack.
"""

from __future__ import annotations

from typing import Any, Final

import yaml
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
)

from diag.machine.problem import UNSAFE, Problem, shown
from diag.machine.span import Node

try:
    from yaml import CSafeLoader as _Parser
except ImportError:
    from yaml import SafeLoader as _Parser  # type: ignore[assignment]

DEEPEST: Final = 100
"""Levels of nesting. A tree of 30 questions, one below the other, has about 95."""
MOST_NODES: Final = 200_000
"""Words, lists and maps in one file with its aliases written out: ten times the largest file that makes sense."""
LONGEST: Final = 2_000
"""Characters in one word or text."""


class _Refused(Exception):
    """Nothing more can be made of this file."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem


def compose(text: str, file: str) -> tuple[Node | None, list[Problem]]:
    """The tree of a file's one document, or None when it is empty or cannot be read; and what is wrong with it."""
    composer = _Composer(file)
    try:
        return composer.document(text), composer.problems
    except _Refused as refused:
        return None, [*composer.problems, refused.problem]
    except yaml.YAMLError as error:
        return None, [*composer.problems, _syntax(error, file, text)]


class _Composer:
    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.root: Node | None = None
        self.open: list[Node] = []
        self.keys: list[tuple[str, int, int, bool, bool] | None] = []
        """For each open map the key that waits for its value, its place, and whether it is there already."""
        self.anchors: dict[str, Node | None] = {}
        """None while the anchor's own node is still open."""
        self.names: list[str | None] = []
        self.nodes = 0

    def document(self, text: str) -> Node | None:
        get: Any = _Parser(text).get_event
        documents = 0
        while True:
            event = get()
            kind = type(event)
            if kind is ScalarEvent:
                self.scalar(event)
            elif kind is MappingStartEvent:
                self.begin(event, {})
            elif kind is SequenceStartEvent:
                self.begin(event, [])
            elif kind is MappingEndEvent or kind is SequenceEndEvent:
                self.end()
            elif kind is AliasEvent:
                self.alias(event)
            elif kind is DocumentStartEvent:
                documents += 1
                if documents > 1:
                    self.refuse(event.start_mark, "a second document starts here; one file holds one", "yaml")
            elif kind is StreamEndEvent:
                return self.root

    def scalar(self, event: Any) -> None:
        word, mark = event.value, event.start_mark
        if event.tag is not None:
            self.tagged(event)
        if len(word) > LONGEST:
            self.refuse(mark, f"a text of {len(word):,} characters; {LONGEST:,} at most", "size")
        if event.style == '"':
            bad = UNSAFE.search(word)
            if bad:
                self.refuse(mark, f"control character U+{ord(bad[0]):04X} in quotes; take it out", "encoding")
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.key(word, mark, plain=not event.style)
            if event.anchor is not None:
                self.anchors[event.anchor] = Node(word, mark.line + 1, mark.column + 1)
            return
        node = Node(word, mark.line + 1, mark.column + 1)
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        self.attach(node)

    def key(self, word: str, mark: Any, plain: bool) -> None:
        line, column = mark.line + 1, mark.column + 1
        if word == "<<":
            self.refuse(mark, "'<<' is not used here; write the fields out", "yaml")
        value = self.open[-1].value
        assert isinstance(value, dict)
        twice = word in value
        if twice:
            text = f"{shown(word)} is written twice; first in line {value[word].key_line}"
            self.problems.append(Problem(self.file, line, column, "error", text, "twice"))
        self.keys[-1] = (word, line, column, twice, plain)

    def begin(self, event: Any, value: dict[str, Node] | list[Node]) -> None:
        mark = event.start_mark
        if event.tag is not None:
            self.tagged(event)
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.refuse(mark, "a list or a map where a key should be; put text with brackets in quotes", "yaml")
        if len(self.open) >= DEEPEST:
            self.refuse(mark, f"nested deeper than {DEEPEST} levels", "size")
        self.open.append(Node(value, mark.line + 1, mark.column + 1))
        self.keys.append(None)
        self.names.append(event.anchor)
        if event.anchor is not None:
            self.anchors[event.anchor] = None

    def end(self) -> None:
        node = self.open.pop()
        self.keys.pop()
        name = self.names.pop()
        if name is not None:
            self.anchors[name] = node
        self.attach(node)

    def alias(self, event: Any) -> None:
        mark, name = event.start_mark, event.anchor
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.refuse(mark, f"alias {shown('*' + name)} as a key; write the word", "yaml")
        if name not in self.anchors:
            self.refuse(mark, f"alias {shown('*' + name)} has no anchor before it", "yaml")
        meant = self.anchors[name]
        if meant is None:
            self.refuse(mark, f"alias {shown('*' + name)} stands inside itself", "yaml")
        assert meant is not None
        if len(self.open) + meant.height > DEEPEST:
            self.refuse(mark, f"nested deeper than {DEEPEST} levels", "size")
        self.nodes += meant.size - 1
        self.attach(Node(meant.value, mark.line + 1, mark.column + 1, size=meant.size, height=meant.height))

    def attach(self, node: Node) -> None:
        """Hands a finished node to the list or map that it stands in."""
        self.nodes += 1
        if self.nodes > MOST_NODES:
            text = f"more than {MOST_NODES:,} words with its aliases written out"
            raise _Refused(Problem(self.file, node.line, node.column, "error", text, "size"))
        if not self.open:
            self.root = node
            return
        parent = self.open[-1]
        parent.size += node.size
        if node.height >= parent.height:
            parent.height = node.height + 1
        value = parent.value
        if isinstance(value, list):
            value.append(node)
            return
        pending = self.keys[-1]
        assert pending is not None
        self.keys[-1] = None
        word, node.key_line, node.key_column, twice, plain = pending
        if plain and ":" in word and node.value == "":
            text = f"{shown(word)} stands where a key and its value should; put a space after the ':'"
            raise _Refused(Problem(self.file, node.key_line, node.key_column, "error", text, "yaml"))
        if not twice and isinstance(value, dict):
            value[word] = node

    def tagged(self, event: Any) -> None:
        self.refuse(event.start_mark, f"tag {shown(event.tag)} is not used here; put text with '!' in quotes", "yaml")

    def refuse(self, mark: Any, text: str, rule: str) -> None:
        raise _Refused(Problem(self.file, mark.line + 1, mark.column + 1, "error", text, rule))


_PLAINER: Final = (
    ("maximum nesting depth", f"nested deeper than {DEEPEST} levels"),
    (
        "cannot start any token",
        "a character that cannot stand here; indent with spaces, not tabs, and put text in quotes",
    ),
    ("end of stream", "the quote that opens here is never closed"),
    (
        "mapping values are not allowed",
        "a ':' that cannot stand here; check the indent and the line above, or put the text in quotes",
    ),
    ("found a tab character", "a tab; indent with spaces"),
    ("could not find expected ':'", "a ':' is missing after this line, or its indent is wrong"),
    ("expected ',' or '}'", "a '}' or a ',' is missing"),
    ("expected ',' or ']'", "a ']' or a ',' is missing"),
    ("did not find expected key", "a key was expected here; check the indent and the quotes"),
    ("expected '-' indicator", "a '- ' was expected here; check the indent"),
    ("expected <block end>", "a line that does not fit the ones above it; check the indent"),
    ("unknown escape character", "a backslash that means nothing here; use single quotes"),
    ("found undefined tag handle", "a '!' that cannot stand here; put the text in quotes"),
    ("expected alphabetic or numeric", "a '&' or '*' that cannot stand here; put the text in quotes"),
)


def _syntax(error: yaml.YAMLError, file: str, text: str) -> Problem:
    """The parser's own complaint in plain words, where it is known what it means. A file that breaks off is told at its
    last character: the parser means the line after it, which is not there."""
    said = str(getattr(error, "problem", None) or error).partition("\n")[0]
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    context = str(getattr(error, "context", None) or "")
    plainly = next((plain for words, plain in _PLAINER if words in said), f"not YAML: {said}")
    if "quoted scalar" in context and "never closed" in plainly:
        mark = getattr(error, "context_mark", None) or mark
    line, column = (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)
    last = text.count("\n") + 1
    if line > last:
        line, column = last, len(text) - text.rfind("\n")
    return Problem(file, line, column, "error", plainly, "yaml")
