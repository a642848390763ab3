"""The steps of one zone's lockout as a list to tick off: what is done and by whom, what is due, what is still to come.

It only draws what the lockout says; what may be confirmed is in `State.steps` and nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diag.case.snapshot import State
from diag.machine.model import Machine
from diag.machine.site import Zone
from diag.safety import Act, Lockout, Phase, Step

DONE, DUE, LATER = "done", "due", "later"


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list."""

    text: str
    mark: str
    by: str = ""
    """Who confirmed it, where it was not the person at the keys; or whose locks are on."""
    digit: int = 0
    """Its key while it is due."""


def plan(machine: Machine, state: State, zone: Zone, lockout: Lockout) -> tuple[Item, ...]:
    """The way to dead, or the way back, whichever the zone is on."""
    due = state.steps.get(zone.id, ())
    if lockout.phase is Phase.BACK:
        return _back(state, zone, lockout, due)
    return _forth(machine, state, zone, lockout, due)


def _forth(machine: Machine, state: State, zone: Zone, lockout: Lockout, due: Sequence[Step]) -> tuple[Item, ...]:
    name = state.person.name
    covered = lockout.phase is Phase.DEAD and name in lockout.covered
    run = lockout.run(name)
    proved = sum(c.act is Act.METER_PROVED for c in run)
    tested = {c.target for c in run if c.act is Act.TESTED_DEAD}

    def item(words: str, act: Act, target: str = "", done: bool | None = None) -> Item:
        ticked = lockout.has(act) if done is None else done
        by = next((c.person for c in reversed(lockout.trail) if c.act is act and target in ("", c.target)), "")
        if ticked or covered:
            return Item(words, DONE, "" if by == name else by)
        return _open(words, due, act, target)

    items = [
        item("People told", Act.TOLD),
        item("Shut down by its controls, standing still", Act.SHUT_DOWN),
    ]
    for id in zone.points:
        point = machine.points[id]
        owners = [person for p, person in state.locks if p == id]
        words = f"Off and locked: {point.title}" + (" (feeds in from outside)" if point.foreign else "")
        mine = name in owners
        found = Item(words, DONE, ", ".join(owners)) if mine else _open(words, due, Act.OFF_AND_LOCKED, id)
        items.append(Item(found.text, found.mark, ", ".join(owners), found.digit))
    for id in zone.stored:
        stored = machine.stored[id]
        items.append(item(f"Released: {stored.title}", Act.RELEASED, id, id in lockout.targets(Act.RELEASED)))
    items.append(item("Start tried, nothing moved, control put back", Act.START_TRIED))
    if zone.electrical:
        items.append(item("Opened as if live", Act.OPENED))
        items.append(item("Meter proved on a known source", Act.METER_PROVED, done=proved > 0))
    for id in zone.test_points:
        test = machine.test_points[id]
        items.append(item(f"Tested, {test.expects}: {test.title}", Act.TESTED_DEAD, id, id in tested))
    if zone.electrical:
        last = item("Meter proved again", Act.METER_PROVED, done=proved > 1)
        items.append(last if proved > 0 or last.mark == DONE else Item(last.text, LATER))
    return tuple(items)


def _back(state: State, zone: Zone, lockout: Lockout, due: Sequence[Step]) -> tuple[Item, ...]:
    owners = sorted({person for p, person in state.locks if p in zone.points and person not in lockout.left})
    told = lockout.has(Act.TOLD_BACK)

    def item(words: str, act: Act, done: bool = False) -> Item:
        by = next((c.person for c in lockout.trail if c.act is act and c.person != state.person.name), "")
        return Item(words, DONE, by) if done or lockout.has(act) else _open(words, due, act, "")

    return tuple(
        item(words, act, not owners if act is Act.LOCKS_OFF else told if act is Act.TOLD_BACK else False)
        for act, words in _way_back(lockout, owners)
    )


def restored(lockout: Lockout) -> tuple[Item, ...]:
    """The way back of this lockout with its end reached."""
    return tuple(Item(words, DONE) for _, words in _way_back(lockout))


def _way_back(lockout: Lockout, owners: Sequence[str] = ()) -> tuple[tuple[Act, str], ...]:
    return (
        (Act.TOOLS_OUT, "Tools, leads and parts out"),
        (Act.GUARDS_ON, "Covers, doors and guards back on"),
        (Act.CLEAR, "Everybody clear of the machine"),
        (Act.LOCKS_OFF, f"Locks off, each by its owner{': ' + ', '.join(owners) if owners else ''}"),
        (Act.TOLD_BACK, "People told that the power comes back"),
        (Act.POWER_ON, "Power back on" + (", for the test" if lockout.again else "")),
    )


def _open(words: str, due: Sequence[Step], act: Act, target: str) -> Item:
    for n, step in enumerate(due):
        if step.act is act and step.target == target:
            return Item(words, DUE, digit=n + 1)
    return Item(words, DUE if any(s.act is act and not s.target for s in due) else LATER)
