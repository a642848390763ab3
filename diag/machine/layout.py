"""Whether the lines of a file stand where they belong: fields below their entry, entries below their section.

A line that is taken out, or two spaces that are missing, turn every line below into something else. That is told once,
where it begins, instead of at each line.
"""

from __future__ import annotations

from typing import Final

from pydantic import BaseModel

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
    if name == "chains" or not isinstance(entries, dict):
        return None
    for id, child in entries.items():
        fits = _fits(child)
        if fits and fits != name and not any(needed <= _keys(child) for needed in _NEEDED.get(name, ())):
            return child, f"the line {shown(fits + ':')} is missing above {shown(id)}"
    return None


def _fits(entry: Node) -> str:
    """The section that this is a whole entry of; empty when of none."""
    keys = _keys(entry)
    for name, models in _NEEDED.items():
        if any(needed <= keys <= _FIELDS[name] for needed in models):
            return name
    return ""


def _keys(entry: Node) -> frozenset[str]:
    return frozenset(entry.value) if isinstance(entry.value, dict) else frozenset()
