"""Whether the lines of a file stand where they belong: fields below their entry, entries below their section.

A line that is taken out, or two spaces that are missing, turn every line below into something else. That is told once,
where it begins, instead of at each line.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from pydantic import BaseModel

from diag.machine.names import nearest
from diag.machine.problem import shown
from diag.machine.source import (
    KINDS,
    CauseSource,
    CheckSource,
    HeadSource,
    ParameterSource,
    PointSource,
    RemedySource,
    ResetSource,
    StoredSource,
    TestPointSource,
    ZoneSource,
)
from diag.machine.span import Node

_ENTRIES: Final[dict[str, tuple[type[BaseModel], ...]]] = {
    "indications": tuple(KINDS.values()),
    "causes": (CauseSource,),
    "checks": (CheckSource,),
    "remedies": (RemedySource,),
    "resets": (ResetSource,),
    "zones": (ZoneSource,),
    "stored": (StoredSource,),
    "test-points": (TestPointSource,),
    "points": (PointSource,),
    "parameters": (ParameterSource,),
}
"""Sections of entries with a name each, and what an entry may be; those that ask for more stand first."""


def _names(model: type[BaseModel], needed: bool) -> frozenset[str]:
    fields = model.model_fields.items()
    return frozenset(field.alias or name for name, field in fields if field.is_required() or not needed)


_FIELDS: Final = {name: frozenset().union(*(_names(m, False) for m in models)) for name, models in _ENTRIES.items()}
_NEEDED: Final = {name: tuple(_names(model, True) for model in models) for name, models in _ENTRIES.items()}
_HEAD: Final = frozenset((*_names(HeadSource, False), *_ENTRIES, "groups", "face", "chains", "uses", "dangers"))
_ROOTS: Final = frozenset(("tree", "trees", "example", "examples"))
ROOT: Final = _HEAD | _ROOTS
"""What may stand at the left edge of a file, the fields beside a `tree` or an `example` not counted."""


def misplaced(root: Node) -> tuple[Node, str] | None:
    """The first node of a file that stands where it cannot belong, and the message for the place of its key; None when
    all is where it should be."""
    sections = root.value
    if not isinstance(sections, dict):
        return None
    if not any(name in _HEAD or name in _ROOTS for name in sections):
        return _headless(sections)
    for name, section in sections.items():
        found = _unindented(name, section) or _of_another(name, section)
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


def _headless(entries: dict[str, Node]) -> tuple[Node, str] | None:
    """Entries with no section above them at all."""
    for child in entries.values():
        fits = _fits(child)
        if fits:
            return child, f"the line {shown(fits + ':')} is missing above; what stands below it begins two spaces in"
    return None


def _unindented(name: str, section: Node) -> tuple[Node, str] | None:
    """Fields that stand beside their entry's name and not below it."""
    entries = section.value
    if name not in _FIELDS or not isinstance(entries, dict):
        return None
    for child in entries.values() if name == "causes" else ():
        fields = child.value
        if isinstance(fields, dict) and "remedy" in fields and fields["remedy"].value == "" and "do" in fields:
            text = "'do' and what follows belong to 'remedy': put two spaces more before each line of it"
            return fields["do"], text
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
    if name == "chains" or name not in _HEAD or not isinstance(entries, dict):
        return None
    for id, child in entries.items():
        rows = child.value
        if name in _FIELDS and isinstance(rows, list) and rows and all(isinstance(row.value, list) for row in rows):
            return child, f"the line 'face:' is missing above {shown(id)}"
        fits = _fits(child)
        if fits and fits != name and not any(needed <= _keys(child) for needed in _NEEDED.get(name, ())):
            return child, f"the line {shown(fits + ':')} is missing above {shown(id)}"
    return None


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
