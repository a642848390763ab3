"""The steps of one zone's lockout as a list to tick off: what is done and by whom, what is due, what is still to come.

It only draws what the lockout says; what may be confirmed is in `CaseState.steps` and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from textual.content import Content
from textual.geometry import Size

from diag.case.snapshot import CaseState
from diag.machine.isolation import Zone
from diag.machine.model import Machine
from diag.safety import Act, Lockout, Phase, Step
from diag.safety.zone import STANDING
from diag.text import one_line
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines

DONE, DUE, LATER = ("✓", ".done"), ("▸", ".due"), ("·", ".quiet")
"""How far a step is: its sign, and the sign's style."""
WAY = {
    Act.WORK_SAID: "What was done inside is entered, or nothing was done",
    Act.TOOLS_OUT: "Tools, test leads and parts out",
    Act.EARTHS_OUT: "No earth and no short left inside",
    Act.GUARDS_ON: "Covers, doors and guards back in place",
    Act.CONTROLS_OFF: "Controls off or neutral",
    Act.CLEAR: "Everyone counted and clear of the machine",
    Act.LAST_LOOK: "A last look: everyone is clear",
    Act.TOLD_BACK: "People told that the power is coming back",
    Act.ROTATION: "Direction of rotation is right",
}
"""Steps of the return to service that name nothing."""
LEAD = 4
"""Columns for the sign and the digit."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list."""

    text: str
    mark: tuple[str, str]
    by: str = ""
    """Who confirmed it, where it was not the person at the keys; or whose locks are on."""
    digit: int = 0
    """Its key while it is due."""


def plan(machine: Machine, state: CaseState, zone: Zone, lockout: Lockout) -> tuple[Item, ...]:
    """The way to dead, or the return to service, whichever the zone is on."""
    due = state.steps.get(zone.id, ())
    if lockout.phase in (Phase.BACK, Phase.HOLDS):
        return _back(machine, state, zone, lockout, due)
    name = state.person.name
    covered = lockout.phase is Phase.DEAD and name in lockout.covered
    run = lockout.run(name)
    proved = sum(c.act is Act.METER_PROVED for c in run)
    tested = {c.target for c in run if c.act is Act.TESTED_DEAD}

    def item(words: str, act: Act, target: str = "", done: bool | None = None) -> Item:
        ticked = lockout.has(act) if done is None else done
        if not ticked and not covered:
            return _open(words, due, act, target)
        by = next((c.person for c in reversed(lockout.trail) if c.act is act and target in ("", c.target)), "")
        return Item(words, DONE, "" if by == name else by)

    items = [item("People told", Act.TOLD)]
    for what in zone.before_off:
        before = what in lockout.targets(Act.BEFORE_OFF) or lockout.has(Act.SHUT_DOWN)
        items.append(item(f"With the power on: {what}", Act.BEFORE_OFF, what, before))
    items.append(item("Shut down with its controls, standing still", Act.SHUT_DOWN))
    for id in zone.points:
        point = machine.points[id]
        owners = [person for p, person in state.locks if p == id]
        words = f"Off and locked: {point.title}" + (" (feeds in from outside)" if point.foreign else "")
        off = Item(words, DONE) if name in owners else _open(words, due, Act.OFF_AND_LOCKED, id)
        items.append(replace(off, by=", ".join(owners)))
    for id in zone.stored:
        released = id in lockout.targets(Act.RELEASED)
        act = Act.WAIT_BEGUN if any(s.act is Act.WAIT_BEGUN and s.target == id for s in due) else Act.RELEASED
        items.append(item(f"Released: {machine.stored[id].title}", act, id, released))
    items.append(item("Start tried, nothing moved, control put back", Act.START_TRIED))
    if zone.electrical:
        items.append(item("Opened as though live", Act.OPENED))
        items.append(item("Meter proved on a known source", Act.METER_PROVED, done=proved > 0))
    for id in zone.test_points:
        test = machine.test_points[id]
        items.append(item(f"Tested, {test.expects}: {test.title}", Act.TESTED_DEAD, id, id in tested))
    if zone.electrical:
        last = item("Meter proved again", Act.METER_PROVED, done=proved > 1)
        items.append(last if proved > 0 or last.mark is DONE else Item(last.text, LATER))
    return tuple(items)


def _back(machine: Machine, state: CaseState, zone: Zone, lockout: Lockout, due: Sequence[Step]) -> tuple[Item, ...]:
    """What was done on the return to service, and all that is still to come, each by its name."""
    items = list(_gone(machine, lockout, state.person.name))
    whose = {p: sorted(n for q, n in state.locks if q == p and n not in lockout.left) for p in zone.points}
    for act, target in state.ahead.get(zone.id, ()):
        owner = whose[target].pop(0) if act is Act.LOCKS_OFF and whose[target] else ""
        mine = owner in ("", state.person.name)
        words = _way_words(machine, act, target, lockout)
        if owner and _needed(machine, state, zone, target, owner):
            words = f"Lock stays on for another zone: {machine.points[target].title}"
        item = _open(words, due if mine else (), act, target)
        items.append(replace(item, by=owner) if owner else item)
    return tuple(items)


def restored(machine: Machine, lockout: Lockout, name: str) -> tuple[Item, ...]:
    """The return to service of this lockout with its end reached; `name`: the person at the keys."""
    return tuple(_gone(machine, lockout, name))


def _gone(machine: Machine, lockout: Lockout, name: str) -> Iterator[Item]:
    for c in lockout.trail:
        yield Item(_way_words(machine, c.act, c.target, lockout), DONE, "" if c.person == name else c.person)


def _needed(machine: Machine, state: CaseState, zone: Zone, point: str, owner: str) -> bool:
    """Whether another zone stands on this lock of this person."""
    return any(
        o.phase in STANDING and z != zone.id and point in machine.zones[z].points and owner not in o.left
        for z, o in state.lockouts.items()
    )


def _way_words(machine: Machine, act: Act, target: str, lockout: Lockout) -> str:
    point = machine.points[target].title if target in machine.points else ""
    match act:
        case Act.PUT_BACK:
            return f"Back as marked: {target}"
        case Act.HOLD_OUT:
            back = machine.stored[target].put_back
            return f"{machine.stored[target].title}: {back.do if back is not None else 'hold out'}"
        case Act.LOCKS_OFF:
            return f"Lock off: {point}" if point else "Locks that come off are off"
        case Act.POWER_ON:
            test = ", for the test" if lockout.again else ""
            return f"Back on: {point}{test}" if point else f"All points that may be on are on{test}"
    return WAY[act]


def _open(words: str, due: Sequence[Step], act: Act, target: str) -> Item:
    for n, step in enumerate(due):
        if step.act is act and step.target == target:
            return Item(words, DUE, digit=n + 1)
    return Item(words, DUE if any(s.act is act and not s.target for s in due) else LATER)


class TickList(Written):
    """Done, due and later are told apart by their sign; the one that Enter confirms is drawn reversed."""

    _items: tuple[Item, ...] = ()
    _at = 0
    _digits = False

    def show(self, items: tuple[Item, ...], at: int, digits: bool) -> None:
        """`at`: the digit of the step that Enter confirms; `digits`: several are due, so they have their digits."""
        self._items, self._at, self._digits = items, at, digits
        self.refresh(layout=True)

    @property
    def due(self) -> int:
        """The row of the first step that is due, or the last row."""
        n = next((n for n, item in enumerate(self._items) if item.mark is DUE), len(self._items) - 1)
        return sum(len(self._rows(item, self.content_size.width)) for item in self._items[: max(n, 0)])

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return sum(len(self._rows(item, width)) for item in self._items)

    def draw(self) -> Content:
        width = self.content_size.width
        return lines(row for item in self._items for row in self._rows(item, width))

    def _rows(self, item: Item, width: int) -> list[Content]:
        """A step on as many rows as its words take; who confirmed it stands on the first."""
        chosen = item.mark is DUE and item.digit == self._at
        sign, style = ("↵", DUE[1]) if chosen and self._digits else item.mark
        key = str(item.digit) if item.digit and self._digits else " "
        by = one_line(item.by)
        if len(by) > width // 3:  # names are never cut: they stand on rows of their own
            whole = replace(item, by="", text=f"{one_line(item.text)} · {by}")
            return self._rows(whole, width)
        room = max(width - LEAD - (len(by) + 2 if by else 0), 4)
        look = CURSOR if chosen else "" if item.mark is DONE else style
        rows = []
        for n, part in enumerate(Content(one_line(item.text)).wrap(room)):
            lead = line((sign, style), " ", (key, ".key"), " ") if n == 0 else Content(" " * LEAD)
            row = line(lead, (part.plain.rstrip().ljust(room), look), (f"  {by}" if by and n == 0 else "", ".quiet"))
            rows.append(clickable(row, ("screen.digit", (item.digit,))) if item.digit else row)
        return rows
