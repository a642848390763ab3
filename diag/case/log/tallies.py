"""What resets come to against their limit, the wait of stored energy, and what a confirmation does at a gate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from datetime import datetime, timedelta

from diag.case.log.events import Gate
from diag.case.snapshot import ResetCount
from diag.machine.model import Machine
from diag.safety import Act, Isolation, Person, Phase, Refused, permission
from diag.safety.tags import NO_TAGS, Tags, check_switched_on, forbidden


def reset_counts(
    machine: Machine,
    isolation: Isolation,
    person: Person,
    resets: Sequence[tuple[str, int]],
    elsewhere: int,
    proving: int,
    answered: AbstractSet[str],
    *,
    protective: bool,
    danger: bool,
    mistaken: Sequence[tuple[str, str]] = (),
    tagged: str = "",
) -> tuple[tuple[ResetCount, ...], int]:
    """Each reset of the machine with what the rule says of one more, and how many count against the limit.

    `resets`: each one done, and which remedy awaited its proof then (0 for none); `elsewhere`: how many of other cases
    count; `proving`: which remedy awaits its proof now; `answered`: the indications that were found or could not be
    told in this round, since a reset wipes what must be noted first, and the next reset what came after it; `mistaken`:
    each reset that was taken back, and who had entered it. They count among those of `elsewhere`; `tagged`: a name on a
    danger tag that stands."""
    # One reset belongs to each remedy: its cause is found, and a latched fault does not clear by itself.
    total = len(resets) - len({remedy for _, remedy in resets if remedy}) + elsewhere
    if proving and all(remedy != proving for _, remedy in resets):
        total = min(total, max(machine.reset_limit - 1, 0))
    found = []
    for reset in machine.resets.values():
        rule = permission(
            machine, isolation, person, reset, danger=danger, resets=total, protective=protective, tagged=tagged
        )
        done = sum(id == reset.id for id, _ in resets)
        unnoted = [machine.indications[i].title for i in reset.note_first if i not in answered]
        may, because = rule.now, rule.because
        if may and unnoted:
            again = "Note first, as it is since the last reset, because" if done else "Note first, because"
            may, because = False, f"{again} a reset wipes it: {'; '.join(unnoted)}"
        by = tuple(name for id, name in mistaken if id == reset.id)
        found.append(ResetCount(reset.id, reset.title, done, machine.reset_limit, may, because, by))
    return tuple(found), total


def waits(
    machine: Machine,
    isolation: Isolation,
    off_since: Mapping[str, datetime],
    begun: Mapping[str, datetime] | None = None,
) -> dict[str, datetime]:
    """Stored energy to the end of the wait on its label. It counts from what the file says: one isolation point, or
    what somebody says has happened (`begun`); else from the switching of the last point of its zone.

    Until its end it is not said to be released (`waiting`); the end alone permits nothing."""
    ends: dict[str, datetime] = {}
    for lockout in isolation.lockouts:
        zone = machine.zones[lockout.zone]
        if lockout.phase not in (Phase.LOCKING, Phase.DEAD) or not isolation.off.issuperset(zone.points):
            continue
        for stored in (machine.stored[s] for s in zone.stored if machine.stored[s].wait > 0):
            if stored.counts_when:
                if stored.id not in lockout.targets(Act.WAIT_BEGUN):
                    continue
                start = (begun or {})[stored.id]
            else:
                last = max(off_since[p] for p in zone.points)
                start = off_since.get(stored.counts_from, last) if stored.counts_from else last
            end = start + timedelta(minutes=stored.wait)
            ends[stored.id] = max(end, ends.get(stored.id, end))
    return ends


def waiting(ends: Mapping[str, datetime], at: datetime | None) -> frozenset[str]:
    """Stored energy whose wait is still running at that time; without a time, all that has a wait."""
    return frozenset(stored for stored, end in ends.items() if at is None or end > at)


def confirmed(
    machine: Machine,
    isolation: Isolation,
    person: Person,
    gate: Gate,
    running: frozenset[str],
    danger: bool,
    old: bool = False,
    tags: Tags = NO_TAGS,
) -> Isolation:
    """The isolation after a confirmation at a gate. Raises `Refused`, also where a danger tag closes it.

    `running`: stored energy that is `waiting`. `old`: the entry is of a casebook from before the gate asked for each
    thing by its own name."""
    if why := forbidden(machine, isolation, tags, gate.zone, gate.act, gate.target):
        raise Refused(why)
    words = (gate.zone, gate.act, gate.target, person, gate.reason, gate.permit)
    after = isolation.apply(machine, *words, danger=danger, waiting=running, values=gate.values, old=old)
    check_switched_on(machine, isolation, after, tags)
    return after
