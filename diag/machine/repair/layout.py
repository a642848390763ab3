"""Whether the lines of a file stand where they belong: fields below their entry, entries below their section.

A line that is taken out, or two spaces that are missing, turn every line below into something else. That is reported
once, where it begins, instead of at each line."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from pydantic import BaseModel

from diag.machine.language.fields.base_source import fields, names, required
from diag.machine.language.fields.cause_fields import CauseSource, RemedySource
from diag.machine.language.fields.sections import FILES, FOLDERS, MACHINE_FILE, MAPS, Sections, entry_type
from diag.machine.language.shapes import models_in
from diag.machine.language.spellings import RENAMED
from diag.machine.names import nearest
from diag.machine.problem import shown
from diag.machine.span import Node

_SECTION, _CAUSE, _REMEDY = names(Sections), names(CauseSource), names(RemedySource)


def _entries() -> dict[str, tuple[type[BaseModel], ...]]:
    """Sections of entries with a name each, and what an entry may be. Those that ask for more stand first. What makes
    entries of other sections is left out, as those hold what they make in part."""
    found = {name: tuple(models_in(entry_type(name))) for name in MAPS if name != _SECTION.chains}
    asked = {name: max(len(required(model)) for model in models) for name, models in found.items() if models}
    return {name: found[name] for name in sorted(asked, key=lambda name: (name != _SECTION.indications, -asked[name]))}


_ENTRIES: Final = _entries()
_FIELDS: Final = {name: frozenset().union(*map(fields, models)) for name, models in _ENTRIES.items()}
_NEEDED: Final = {name: tuple(frozenset(required(model)) for model in models) for name, models in _ENTRIES.items()}
_ROOTS: Final = frozenset(name for pair in FOLDERS.values() for name in pair)
_HEAD: Final = frozenset((*FILES[MACHINE_FILE], *RENAMED, *_ENTRIES)) - _ROOTS
ROOT: Final = _HEAD | _ROOTS
"""What may stand at the left edge of a file, the fields beside a `tree` or an `example` not counted."""


def misplaced(root: Node, twice: Collection[int] = ()) -> tuple[Node, str] | None:
    """The first node of a file that stands where it cannot belong, and the message for the place of its key; None when
    all is where it should be. `twice`: the lines with a name that its entry has already."""
    sections = root.value
    if not isinstance(sections, dict):
        return None
    if ROOT.isdisjoint(sections):
        entries = ((child, _fits(child)) for child in sections.values())
        below = "what stands below it begins two spaces in"
        return next(((at, f"the line {shown(f'{s}:')} is missing above; {below}") for at, s in entries if s), None)
    for name, section in sections.items():
        found = _unindented(name, section) or _of_another(name, section) or _out_of_step(name, section, twice)
        if found:
            return found
    return None


def meant_as(name: str, node: Node, free: Sequence[str], maps: Collection[str], lists: Collection[str]) -> str:
    """The heading or field that a wrong one was meant as: one of those that are still free, by its spelling or by what
    stands below it. Empty where that cannot be made out. `maps` and `lists` are the sections of either shape."""
    near = nearest(name, free)
    below = node.value
    if isinstance(below, str):
        return near if not below or near not in (*maps, *lists) else ""
    if isinstance(below, list):
        return near if near not in maps else ""
    fits = next((fits for child in below.values() if (fits := _fits(child))), "")
    if fits in free and not (near in maps and near not in _FIELDS):
        return fits
    return near if near not in lists and not fits else ""


def at_the_edge(name: str, node: Node, sections: Collection[str]) -> tuple[str, str, bool]:
    """Of an entry that stands at the left edge of a file: the section that it belongs to, the message, and whether it
    is whole. Empty for what is no entry."""
    keys = _keys(node)
    fits = section_of(keys)
    section = fits or next((s for s, models in _NEEDED.items() if any(needed <= keys for needed in models)), "")
    if section not in sections or len(keys) < 2:
        return "", "", False
    lines = "" if node.column > 4 else " and before each line below that belongs to it"
    text = f"{shown(name)} stands at the left edge and belongs under {shown(section + ':')}: put 2 spaces before it"
    return section, f"{text}{lines}", bool(fits)


def _unindented(name: str, section: Node) -> tuple[Node, str] | None:
    """Fields that stand beside their entry's name and not below it."""
    entries = section.value
    if name not in _FIELDS or not isinstance(entries, dict):
        return None
    for child in entries.values() if name == _SECTION.causes else ():
        cause = child.value
        if (
            isinstance(cause, dict)
            and _REMEDY.do in cause
            and _CAUSE.remedy in cause
            and not cause[_CAUSE.remedy].value
        ):
            text = "'do' and what follows belong to 'remedy': put two spaces more before each line of it"
            return cause[_REMEDY.do], text
    above = ""
    for id, child in entries.items():
        if above and id in _FIELDS[name] and not _fits(child):
            text = f"{shown(id)} and what follows belong to {shown(above)}: put two spaces more before each line of it"
            return child, text
        above = id if child.value == "" else ""
    return None


def _of_another(name: str, section: Node) -> tuple[Node, str] | None:
    """An entry that is whole in another section and not in this one: the line between the two is missing."""
    entries = section.value
    if name == _SECTION.chains or name not in _HEAD or not isinstance(entries, dict):
        return None
    for id, child in entries.items():
        rows = child.value
        if name in _FIELDS and isinstance(rows, list) and rows and all(isinstance(row.value, list) for row in rows):
            return child, f"the line 'face:' is missing above {shown(id)}"
        fits = _fits(child)
        if fits and fits != name and not any(needed <= _keys(child) for needed in _NEEDED.get(name, ())):
            return child, f"the line {shown(fits + ':')} is missing above {shown(id)}"
    return None


def _out_of_step(name: str, section: Node, twice: Collection[int]) -> tuple[Node, str] | None:
    """The name of an entry that stands level with the fields of the one above it, or a field level with a name."""
    entries = section.value
    if name not in _FIELDS or not isinstance(entries, dict):
        return None
    before: Node | None = None
    for id_of, child in entries.items():
        fields_of = child.value
        out = _too_far_left(id_of, child, before, name) if before is not None else None
        if out:
            return out
        before = child
        if not isinstance(fields_of, dict) or child.line == child.key_line:
            continue
        for id, node in fields_of.items():
            if id in _FIELDS[name] or nearest(id, _FIELDS[name]) or node.key_column <= child.key_column:
                continue
            spaces = child.key_column - 1
            text = f"{shown(id)} stands too far right: put {spaces} space{'s' * (spaces != 1)} before it"
            if node.value == "" and node.key_line + 1 in twice:
                return node, text
            if any(needed <= _keys(node) <= _FIELDS[name] for needed in _NEEDED[name]):
                return node, f"{text}, and {node.key_column - 1 - spaces} fewer before each line that belongs to it"
    return None


def _too_far_left(id: str, node: Node, before: Node, name: str) -> tuple[Node, str] | None:
    """A field of the entry before it that stands level with that entry's name."""
    fields_of = before.value
    if id not in _FIELDS[name] or not isinstance(fields_of, dict) or before.line == before.key_line:
        return None
    if id in fields_of or _keys(node) & _FIELDS[name] or not set(fields_of) & _FIELDS[name]:
        return None
    spaces = before.column - 1
    return node, f"{shown(id)} is not level with the lines above it: put {spaces} spaces before it"


def _fits(entry: Node) -> str:
    """The section that this is a whole entry of; empty when of none."""
    return section_of(_keys(entry))


def section_of(keys: frozenset[str]) -> str:
    """The section in which an entry with these fields is whole; empty when in none."""
    for name, models in _NEEDED.items():
        if any(needed <= keys <= _FIELDS[name] for needed in models):
            return name
    return ""


def _keys(entry: Node) -> frozenset[str]:
    return frozenset(entry.value) if isinstance(entry.value, dict) else frozenset()
