"""What `machine.yaml` says of the machine as a whole: isolation points, zones, resets, danger signs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from diag.machine.model import Danger, Reset, Role
from diag.machine.problem import shown
from diag.machine.scope import Scope
from diag.machine.site import IsolationPoint, StoredEnergy, TestPoint, Zone
from diag.machine.source import (
    DangerSource,
    PointSource,
    ResetSource,
    Source,
    StoredSource,
    TestPointSource,
    ZoneSource,
)
from diag.machine.validate import Entry, Written, validate

S = TypeVar("S", bound=Source)


def entry_of(scope: Scope, model: type[S], item: Written) -> Entry[S] | None:
    """The entry as its model has it, its problems told."""
    return validate(model, item, scope.problems)


def entries_of(scope: Scope, model: type[S], written: Mapping[str, Written]) -> dict[str, Entry[S]]:
    """Those entries of a section of which something can be made."""
    found = {id: entry_of(scope, model, item) for id, item in written.items()}
    return {id: entry for id, entry in found.items() if entry is not None}


def resolve_points(scope: Scope, written: Mapping[str, Written]) -> dict[str, IsolationPoint]:
    return {
        id: IsolationPoint(
            id=id,
            title=entry.source.title,
            where=entry.source.where,
            electrical=entry.source.electrical,
            foreign=entry.source.foreign,
        )
        for id, entry in entries_of(scope, PointSource, written).items()
    }


def resolve_stored(scope: Scope, written: Mapping[str, Written]) -> dict[str, StoredEnergy]:
    return {
        id: StoredEnergy(id=id, title=entry.source.title, release=entry.source.release, wait=entry.source.wait)
        for id, entry in entries_of(scope, StoredSource, written).items()
    }


def resolve_test_points(scope: Scope, written: Mapping[str, Written]) -> dict[str, TestPoint]:
    return {
        id: TestPoint(id=id, title=entry.source.title, expects=entry.source.expects)
        for id, entry in entries_of(scope, TestPointSource, written).items()
    }


def resolve_zones(scope: Scope, sections: Mapping[str, Mapping[str, Written]]) -> dict[str, Zone]:
    """Zones; what they name is looked up among what is written, broken or not.

    A zone that names no isolation point, or an electrical one without a point to test, could never be proved dead.
    """
    found = {}
    for id, entry in entries_of(scope, ZoneSource, sections["zones"]).items():
        source = entry.source
        points = scope.all_of(entry, ["points"], "isolation point", source.points, sections["points"])
        stored = scope.all_of(entry, ["stored"], "stored energy", source.stored, sections["stored"])
        tests = scope.all_of(entry, ["test-points"], "test point", source.test_points, sections["test-points"])
        if not source.points and "points" in entry.keys:
            text = f"{shown(id)} names no isolation point; nothing could be locked"
            scope.report(entry.place("points"), text, "zone")
        if source.electrical and not source.test_points and entry.sound:
            text = f"{shown(id)} is electrical and names no test point; it could not be proved dead"
            scope.report(entry.key_place(), text, "zone")
        if source.electrical and points and entry.sound and not any(_cuts_power(sections["points"][p]) for p in points):
            text = f"{shown(id)} is electrical and none of its isolation points is; name the switch that cuts its power"
            scope.report(entry.place("points"), text, "zone")
        found[id] = Zone(
            id=id, title=source.title, points=points, stored=stored, test_points=tests, electrical=source.electrical
        )
    return found


def _cuts_power(point: Written) -> bool:
    """An isolation point is electrical unless it says otherwise."""
    value = point.node.value
    said = value.get("electrical") if isinstance(value, dict) else None
    return said is None or said.value != "false"


def resolve_resets(scope: Scope, written: Mapping[str, Written]) -> dict[str, tuple[Entry[ResetSource], Reset]]:
    """The resets. What to note first is looked up by `resolve_notes`, once the indications are known."""
    found = {}
    for id, entry in entries_of(scope, ResetSource, written).items():
        source = entry.source
        reset = Reset(
            id=id,
            title=source.title,
            do=source.do,
            who=tuple(dict.fromkeys(source.who)),
            clears=source.clears or "",
            minutes=source.minutes,
            note_first=source.note_first,
        )
        found[id] = (entry, reset)
    scope.broken.update(id for id in written if id not in found)
    return found


def resolve_notes(scope: Scope, entry: Entry[ResetSource]) -> tuple[str, ...]:
    """What to note before a reset, groups written out."""
    found: list[str] = []
    for i, name in enumerate(entry.source.note_first):
        found.extend(scope.expand(entry.place("note-first", i), name))
    return tuple(dict.fromkeys(found))


def resolve_dangers(scope: Scope, written: list[Written]) -> tuple[Danger, ...]:
    found = []
    for item in written:
        entry = entry_of(scope, DangerSource, item)
        if entry is None:
            continue
        when = scope.when(entry, ["when"], entry.source.when)
        found.append(Danger(when=when, stop=entry.source.stop, call=Role(entry.source.call)))
    return tuple(found)
