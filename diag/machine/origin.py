"""Where each line of an entry comes from: the machine's own file, a module, a chain, or what a use says under `but`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from diag.machine.language.fields.sections import NAMED_IN
from diag.machine.language.validate import Written
from diag.machine.place import Place
from diag.machine.reader.gather import Folder
from diag.machine.span import Node


@dataclass(frozen=True, slots=True)
class Line:
    """One word or text of an entry."""

    path: tuple[str | int, ...]
    """The fields that lead to it, as the files name them, and positions in lists, counted from 0."""
    text: str
    place: Place
    """Where the word stands. In a module `place.used` says where the module is used. What a chain makes by itself
    stands at the member it is made for."""


def lines_in(written: Folder, kind: str, id: str) -> tuple[Line, ...]:
    """Every word of one entry of a machine that was loaded (`Loaded.written`), in the order of its fields.

    `kind`: a section, such as `causes`, or what its names are called, such as `cause`. Empty where there is no such
    entry, or where the files could not be read that far. Never raises because of what the files say.
    """
    for section in (kind, *(name for name, called in NAMED_IN.items() if called == kind)):
        entry = written.maps.get(section, {}).get(id) or written.named.get((section, id))
        if entry is not None:
            return tuple(_lines(entry, entry.node, ()))
    return ()


def _lines(entry: Written, node: Node, path: tuple[str | int, ...]) -> Iterator[Line]:
    if isinstance(node.value, str):
        yield Line(path, node.value, node.place(entry.file))
        return
    children = node.value.items() if isinstance(node.value, dict) else enumerate(node.value)
    for key, child in children:
        yield from _lines(entry, child, (*path, key))
