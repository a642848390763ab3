"""Small countings of a fold: what may be taken back, resets against their limit, the wait of stored energy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from datetime import datetime, timedelta

from diag.case import events as e
from diag.case.snapshot import ResetCount
from diag.machine.model import Machine
from diag.safety import Person, Phase, Site, permission

UNDOABLE = (
    e.Found,
    e.CannotTell,
    e.Skipped,
    e.Did,
    e.ResetDone,
    e.Remedied,
    e.RemedyFailed,
    e.Called,
    e.Noted,
    e.Closed,
)


def undoable(event: e.Event) -> bool:
    """It may be taken back by its number. Who was at the keys stays said; the gate has its own way back."""
    return isinstance(event, UNDOABLE)


def counted(resets: Sequence[tuple[str, int]]) -> int:
    """Resets that count against the limit. One belongs to each remedy: its cause is found, and a latched fault does not
    clear by itself."""
    return len(resets) - len({remedy for _, remedy in resets if remedy})


def reset_counts(
    machine: Machine,
    site: Site,
    person: Person,
    resets: Sequence[tuple[str, int]],
    proving: int,
    answered: AbstractSet[str],
    *,
    protective: bool,
    danger: bool,
) -> tuple[tuple[ResetCount, ...], int]:
    """Each reset of the machine with what the rule says of one more, and how many count against the limit.

    `resets`: each one done, and which remedy awaited its proof then (0 for none); `proving`: which one does now;
    `answered`: indications that were found or could not be told in this round, since a reset wipes what is to be
    noted first, and the next one what came after it."""
    total = counted(resets)
    if proving and not any(remedy == proving for _, remedy in resets):
        total = min(total, max(machine.reset_limit - 1, 0))
    found = []
    for reset in machine.resets.values():
        rule = permission(machine, site, person, reset, danger=danger, resets=total, protective=protective)
        done = sum(id == reset.id for id, _ in resets)
        unnoted = [machine.indications[i].title for i in reset.note_first if i not in answered]
        may, because = rule.now, rule.because
        if may and unnoted:
            again = "Note first, as it is since the last reset, because" if done else "Note first, because"
            may, because = False, f"{again} a reset wipes it: {'; '.join(unnoted)}"
        found.append(ResetCount(reset.id, reset.title, done, machine.reset_limit, may, because))
    return tuple(found), total


def waits(machine: Machine, site: Site, off_since: Mapping[str, datetime]) -> dict[str, datetime]:
    """Stored energy to the end of the wait on its label, counted from the switching of the last point of its zone.

    Until its end it is not said to be released (`waiting`); the end alone permits nothing."""
    ends: dict[str, datetime] = {}
    for lockout in site.lockouts:
        zone = machine.zones[lockout.zone]
        if lockout.phase not in (Phase.LOCKING, Phase.DEAD) or not site.off.issuperset(zone.points):
            continue
        for stored in (machine.stored[s] for s in zone.stored if machine.stored[s].wait > 0):
            end = max(off_since[p] for p in zone.points) + timedelta(minutes=stored.wait)
            ends[stored.id] = max(end, ends.get(stored.id, end))
    return ends


def waiting(ends: Mapping[str, datetime], at: datetime | None) -> frozenset[str]:
    """Stored energy whose wait is still running at that time; without a time, every one that has a wait."""
    return frozenset(stored for stored, end in ends.items() if at is None or end > at)
