"""What `machine.yaml` says of how the machine is made safe: zones, resets, danger signs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final

from diag.machine.isolation import TryOut, Zone
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.machine_fields import DangerSource, PointSource, ResetSource, TryOutSource, ZoneSource
from diag.machine.language.fields.sections import Sections
from diag.machine.language.validate import Entry, Written
from diag.machine.model import Danger, Reset
from diag.machine.problem import Broken, shown
from diag.machine.resolve.scope import Scope

_ZONE, _POINT, _RESET, _DANGER = names(ZoneSource), names(PointSource), names(ResetSource), names(DangerSource)
_TRY, _SECTION = names(TryOutSource), names(Sections)
NOT_YET: Final = {"try_out": None}
"""What names indications, which are read after the zones."""


def resolve_try_outs(scope: Scope, zones: Mapping[str, tuple[Entry[ZoneSource], Zone]]) -> dict[str, Zone]:
    """The zones with how a start is tried there, once the indications are known."""
    found = {}
    for id, (entry, zone) in zones.items():
        source, tried = entry.source.try_out, None
        if source is not None:
            when = source.works_when and scope.when(entry, [_ZONE.try_out, _TRY.works_when], source.works_when)
            tried = TryOut(control=source.control, works_when=when or (), back_to=source.back_to)
        found[id] = replace(zone, try_out=tried)
    return found


def resolve_zones(scope: Scope) -> dict[str, tuple[Entry[ZoneSource], Zone]]:
    """Zones; what they name is looked up among what is written, broken or not.

    A zone that names no isolation point, or an electrical one without a point to test, could never be proved dead.
    """
    found = {}
    for entry in scope.entries(ZoneSource, _SECTION.zones):
        source, id = entry.source, entry.id
        zone = Zone(id=id, **{**scope.looked_up(entry), **NOT_YET})
        found[id] = (entry, zone)
        if not source.points and _ZONE.points in entry.keys:
            text = f"{shown(id)} names no isolation point; nothing could be locked"
            scope.report(entry.place(_ZONE.points), text, Broken.ZONE)
        if source.electrical and not source.test_points and entry.sound:
            text = f"{shown(id)} is electrical and names no test point; it could not be proved dead"
            scope.report(entry.key_place(), text, Broken.ZONE)
        cut = any(_cuts_power(scope.found.maps[_SECTION.points][point]) for point in zone.points)
        if source.electrical and zone.points and entry.sound and not cut:
            text = f"{shown(id)} is electrical and none of its isolation points is; name the switch that cuts its power"
            scope.report(entry.place(_ZONE.points), text, Broken.ZONE)
    return found


def _cuts_power(point: Written) -> bool:
    """An isolation point is electrical unless it says otherwise."""
    value = point.node.value
    said = value.get(_POINT.electrical) if isinstance(value, dict) else None
    return said is None or said.value != "false"


def resolve_resets(scope: Scope, entries: Iterable[Entry[ResetSource]]) -> dict[str, Reset]:
    """The resets, once the indications to note before them are known."""
    return {
        entry.id: Reset(
            id=entry.id,
            title=entry.source.title,
            do=entry.source.do,
            who=tuple(dict.fromkeys(entry.source.who)),
            clears=entry.source.clears or "",
            minutes=entry.source.minutes,
            note_first=scope.expand_all(entry, _RESET.note_first, entry.source.note_first),
        )
        for entry in entries
    }


def resolve_dangers(scope: Scope) -> tuple[Danger, ...]:
    return tuple(
        Danger(
            when=scope.when(entry, [_DANGER.when], entry.source.when), stop=entry.source.stop, call=entry.source.call
        )
        for entry in scope.entries(DangerSource, _SECTION.dangers)
    )
