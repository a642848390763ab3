"""An oracle for the gate: a ledger of what was confirmed, from which it follows who may work where.

It shares no code with `diag.safety` beyond the names of the acts. It knows no phases and no next step: it keeps the
confirmations that count, in their order, and judges them by their positions alone, as a careful reader of the
record would. It never decides what is accepted; it is told what was.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

from diag.machine.isolation import PutBack, TakenOff
from diag.machine.model import Machine
from diag.safety.types import Act

NONE: frozenset[str] = frozenset()
ON_LOCKS = {Act.WAIT_BEGUN, Act.RELEASED, Act.START_TRIED, Act.OPENED, Act.METER_PROVED, Act.TESTED_DEAD}
STANDS = {"in", "stopped", "out"}
NOT_OVER = {*STANDS, "under"}


@dataclass(frozen=True, slots=True)
class Mark:
    """One line of the ledger. `crew`: for the first line of a proof, whose locks were on every point then."""

    act: Act
    item: str
    who: str
    fit: bool
    crew: frozenset[str] = NONE


@dataclass(frozen=True, slots=True)
class Page:
    """One zone. `mode`: `in` (being isolated), `stopped`, `out` (the way back), `under` (power is back, and something
    is left to do under power), `test`, or empty."""

    mode: str = ""
    marks: tuple[Mark, ...] = ()
    away: frozenset[str] = NONE
    for_test: bool = False
    open: bool = False
    """Opened, or proved dead, and the guards not back on since."""


@dataclass(frozen=True, slots=True)
class Ledger:
    """What was confirmed on one machine."""

    machine: Machine = field(compare=False, repr=False)
    pages: tuple[tuple[str, Page], ...] = ()
    off: frozenset[str] = NONE
    locks: frozenset[tuple[str, str]] = frozenset()
    live: tuple[str, str] | None = None
    pins: frozenset[str] = NONE
    """Stored energies with something in that holds or drains them."""
    loose: frozenset[tuple[str, str]] = frozenset()
    """Zone and thing, of all that was taken off and did not come back."""
    spun: frozenset[str] = NONE
    """Zones whose phases were off."""

    # ---- judging

    def may_power(self, zone: str, point: str) -> str:
        """Why this point of the zone must not be switched on now, as one would say who stands at the switch with the
        record in hand; empty where nothing speaks against it."""
        page = self.page(zone)
        lines = [m.act for m in page.marks]

        def before(*acts: Act) -> bool:
            """All of them, the last mention of each later than the last of the one before."""
            at = [max((i for i, a in enumerate(lines) if a is act), default=-1) for act in acts]
            return at[0] >= 0 and all(a < b for a, b in pairwise(at))

        if page.mode != "out" or page.open:
            return "covers are open, or nobody is on the way back"
        if any(p == point for p, _ in self.locks):
            return "somebody's lock is on it"
        if self._elsewhere(zone, point):
            return "another zone stands on it"
        if cold := [s for s in self.machine.zones[zone].stored if s in self.pins and not self._held_by(s).under_power]:
            return f"a hold is in: {cold}"
        if any(z == zone for z, _ in self.loose):
            return "something is off that is not back"
        if not before(Act.TOOLS_OUT, Act.GUARDS_ON, Act.CONTROLS_OFF, Act.CLEAR, Act.LAST_LOOK, Act.TOLD_BACK):
            return "tools, covers, controls, people, a last look, users told: not each, or not in this order"
        if Act.LOCKS_OFF in lines and not before(Act.CLEAR, Act.LOCKS_OFF, Act.LAST_LOOK):
            return "the last look was not after the locks"
        return ""

    def left_in(self) -> str:
        """What nobody can take out any more, or nobody is asked for; empty when there is none."""
        for s in self.pins:
            back = self._held_by(s)
            pages = [(z, p) for z, p in self.pages if s in self.machine.zones[z].stored]
            shut = Act.GUARDS_ON if back.inside else Act.CONTROLS_OFF
            reach = [
                z
                for z, p in pages
                if p.mode in ("in", "stopped")
                or (p.mode == "out" and (back.under_power or all(m.act is not shut for m in p.marks)))
                or (p.mode == "under" and back.under_power)
            ]
            if not reach:
                return f"the hold of {s} is in, and no way back asks for it"
        return ""

    def _held_by(self, stored: str) -> PutBack:
        back = self.machine.stored[stored].put_back
        assert back is not None
        return back

    def may_work_dead(self, zone: str, name: str) -> bool:
        """Isolated under this person's own locks, everything done in its order, and proved with those locks on."""
        z, page = self.machine.zones[zone], self.page(zone)
        if page.mode != "in" or not z.points or not z.test_points or name not in self.complete(zone):
            return False
        if not all(p in self.off for p in z.points) or not all(mark.fit for mark in page.marks):
            return False

        def at(act: Act, item: str = "") -> list[int]:
            return [i for i, mark in enumerate(page.marks) if mark.act is act and item in ("", mark.item)]

        told, shut, start, opened = (
            at(Act.TOLD) + at(Act.ISOLATE_AGAIN),
            at(Act.SHUT_DOWN),
            at(Act.START_TRIED),
            at(Act.OPENED),
        )
        released = [at(Act.RELEASED, s) for s in z.stored]
        meter, tests = at(Act.METER_PROVED), [at(Act.TESTED_DEAD, t) for t in z.test_points]
        if not (told and shut and start and all(released) and all(tests)):
            return False
        stages = [told, shut, [i for r in released for i in r], start]
        proof = [i for t in tests for i in t]
        if z.electrical:
            if not opened or len(meter) != 2:
                return False
            stages += [opened, meter[:1], proof, meter[1:]]
            proof = proof + meter
        else:
            stages.append(proof)
        stages = [s for s in stages if s]
        in_order = all(max(a) < min(b) for a, b in pairwise(stages))
        one_person = len({page.marks[i].who for i in proof}) == 1
        return in_order and one_person and name in page.marks[min(proof)].crew

    def may_work_live(self, zone: str, name: str) -> bool:
        """This person's own acknowledgement, with nothing isolated anywhere and the power on."""
        on = not any(self.machine.points[p].electrical for p in self.off)
        return (
            self.live == (name, zone)
            and on
            and not self.pins
            and not any(page.mode in STANDS for _, page in self.pages)
        )

    def complete(self, zone: str) -> frozenset[str]:
        points, away = self.machine.zones[zone].points, self.page(zone).away
        return frozenset(n for _, n in self.locks if n not in away and all((p, n) in self.locks for p in points))

    def page(self, zone: str) -> Page:
        return dict(self.pages).get(zone, Page())

    # ---- writing

    def lapse(self) -> Ledger:
        return replace(self, live=None)

    def doubt(self) -> Ledger:
        """Something is missing from the record: nothing that was proved holds, and anything may be open."""
        book = self.lapse()
        for zone, page in self.pages:
            if page.mode in STANDS:
                book = book._with(zone, Page("stopped", (), page.away, open=True))
                may_be = {s for s in self.machine.zones[zone].stored if self.machine.stored[s].put_back is not None}
                book = replace(book, pins=book.pins | may_be)
        return book

    def startle(self) -> Ledger:
        """A danger was seen: whoever looked last, and told everybody, before power has to do it again."""
        book = self
        for zone, page in self.pages:
            if page.mode == "out":
                marks = tuple(m for m in page.marks if m.act not in (Act.LAST_LOOK, Act.TOLD_BACK))
                book = book._with(zone, replace(page, marks=marks))
        return book

    def take_off(self, zone: str, things: tuple[TakenOff, ...]) -> Ledger:
        """Somebody took these off inside."""
        spun = self.spun | {zone} if any(t.phases for t in things) else self.spun
        return replace(self, loose=self.loose | {(zone, t.what) for t in things}, spun=spun)

    def write(self, zone: str, act: Act, target: str, name: str, fit: bool = True) -> Ledger:
        """The ledger after this act was accepted. Whatever is said at the gate ends live work."""
        if act is Act.LIVE:
            return replace(self, live=(name, zone))
        ends_live = act is Act.LIVE_OVER or (act is Act.RETRACT and self.live == (name, zone))
        book = self.lapse()
        return book if ends_live else book._write(zone, act, target, name, fit)

    def _write(self, zone: str, act: Act, target: str, name: str, fit: bool) -> Ledger:
        page, z = self.page(zone), self.machine.zones[zone]
        match act:
            case Act.TOLD | Act.ISOLATE_AGAIN:
                return self._with(zone, Page("in", (Mark(act, "", name, fit),), page.away, open=page.open))
            case Act.OFF_AND_LOCKED:
                points = (
                    [target] if target else [p for p in z.points if (p, name) not in self.locks or name in page.away]
                )
                marks = (*page.marks, *(Mark(act, p, name, fit) for p in points))
                book = replace(self, off=self.off | set(points), locks=self.locks | {(p, name) for p in points})
                return book._with(zone, replace(page, marks=marks, away=page.away - {name}))
            case Act.METER_PROVED | Act.TESTED_DEAD:
                marks = self._prove(zone, Mark(act, target, name, fit))
                return self._with(zone, replace(page, marks=marks, open=page.open or self._full(zone, marks)))
            case Act.MOVED | Act.VOLTAGE_FOUND | Act.METER_FAILED:
                return self._doubt(zone, act)
            case Act.BACK | Act.TEST_POWER:
                nothing = page.mode == "test" or not (self.off & set(z.points) or page.open)
                if nothing and page.mode != "test":
                    nothing = not self._with(zone, Page()).left_in() and not any(of == zone for of, _ in self.loose)
                    nothing = nothing and zone not in self.spun
                gone = Page() if nothing else Page("out", (), page.away, act is Act.TEST_POWER, page.open)
                return self._with(zone, gone)
            case Act.LOCKS_OFF:
                return self._leave(zone, target, name)
            case Act.POWER_ON:
                back = {p for p in z.points if p in self.off and not self._elsewhere(zone, p)}
                assert target in back or (not target and len(back) < 2), f"{target or 'all'} switched on in {zone}"
                for p in back & {target} if target else back:
                    assert not (why := self.may_power(zone, p)), f"power on at {p} in {zone}: {why}"
                book = replace(self, off=self.off - ({target} if target else back))
                if target and back != {target}:
                    return book._with(zone, replace(page, marks=(*page.marks, Mark(act, target, name, fit))))
                return book._with(zone, Page("under", for_test=page.for_test))._over()
            case Act.HOLD_OUT:
                held, shut = self._held_by(target), any(m.act is Act.GUARDS_ON for m in page.marks)
                assert target in self.pins, f"{target} comes out of {zone} and was not in"
                if held.under_power:
                    assert page.mode == "under"
                    assert not self.off & set(z.points), f"{target} comes out under power, and a point of {zone} is off"
                else:
                    assert page.mode == "out"
                    assert shut is not held.inside, f"{target} lies {'in' if held.inside else 'out'}side {zone}"
                    if held.inside:
                        assert name in self.complete(zone), f"{target} comes out of {zone} without {name}'s lock"
                book = replace(self, pins=self.pins - {target})
                marks = page.marks if held.under_power else (*page.marks, Mark(act, target, name, fit))
                return book._with(zone, replace(page, marks=marks))._over()
            case Act.PUT_BACK:
                assert (zone, target) in self.loose
                assert page.mode != "out" or name in self.complete(zone), f"{target} goes back without {name}'s lock"
                book = replace(self, loose=self.loose - {(zone, target)})
                marks = (*page.marks, Mark(act, target, name, fit)) if page.mode == "out" else page.marks
                return book._with(zone, replace(page, marks=marks))
            case Act.ROTATION:
                assert page.mode == "under"
                assert not self.off & set(z.points)
                return replace(self, spun=self.spun - {zone})._over()
            case Act.RELEASED:
                pins = self.pins | {target} if self.machine.stored[target].put_back is not None else self.pins
                book = replace(self, pins=pins)
                return book._with(zone, replace(page, marks=(*page.marks, Mark(act, target, name, fit))))
            case Act.RETRACT:
                return self._unwrite(zone)
        is_open = (page.open or act is Act.OPENED) and act is not Act.GUARDS_ON
        return self._with(zone, replace(page, marks=(*page.marks, Mark(act, target, name, fit)), open=is_open))

    def _full(self, zone: str, marks: tuple[Mark, ...]) -> bool:
        """A proof that was begun is complete."""
        z = self.machine.zones[zone]
        if z.electrical:
            return sum(m.act is Act.METER_PROVED for m in marks) == 2
        return {m.item for m in marks if m.act is Act.TESTED_DEAD} >= set(z.test_points)

    def _prove(self, zone: str, mark: Mark) -> tuple[Mark, ...]:
        marks = self.page(zone).marks
        run = [m for m in marks if m.act in (Act.METER_PROVED, Act.TESTED_DEAD)]
        if not run or self._full(zone, marks) or run[0].who != mark.who:
            return (*(m for m in marks if m not in run), replace(mark, crew=self.complete(zone)))
        return (*marks, mark)

    def _doubt(self, zone: str, act: Act) -> Ledger:
        """A voltage or a movement puts every point of the zone in doubt, and all that was proved on one of them."""
        book, points = self, set(self.machine.zones[zone].points)
        for other, page in self.pages:
            shared = act is not Act.METER_FAILED and not points.isdisjoint(self.machine.zones[other].points)
            if other == zone or (shared and page.mode == "in" and any(m.act in ON_LOCKS for m in page.marks)):
                book = book._with(other, Page("stopped", (), page.away, open=page.open))
        return book

    def _leave(self, zone: str, target: str, name: str) -> Ledger:
        page, z = self.page(zone), self.machine.zones[zone]
        free = {p for p in z.points if (p, name) in self.locks and not self._elsewhere(zone, p, name)}
        if page.mode == "out":
            assert any(m.act is Act.CLEAR for m in page.marks), "a lock came off before people were clear"
            assert not page.open, "a lock came off with the covers open"
            held = any(s in self.pins and not self._held_by(s).under_power for s in z.stored)
            bound = {p for p in free if held and not self._elsewhere(zone, p)}
            assert target not in bound, "a lock came off at a point of its own while a hold was in"
            if not target:
                free -= bound
        gone = {target} if target else free
        all_free = {p for p in z.points if (p, name) in self.locks and not self._elsewhere(zone, p, name)}
        away = page.away | {name} if gone == all_free else page.away
        book = replace(self, locks=self.locks - {(p, name) for p in gone})
        marks = page.marks
        if page.mode == "out":
            # Who looked, and told, before the last lock came off has to do it again.
            marks = tuple(m for m in marks if m.act not in (Act.LAST_LOOK, Act.TOLD_BACK))
            marks = (*marks, Mark(Act.LOCKS_OFF, target, name, True))
        if name in away:
            marks = tuple(m for m in marks if m.act is not Act.OFF_AND_LOCKED or m.who != name)
        return book._with(zone, replace(page, marks=marks, away=away))._void()

    def _elsewhere(self, zone: str, point: str, name: str = "") -> bool:
        return any(
            other != zone
            and page.mode in STANDS
            and point in self.machine.zones[other].points
            and name not in page.away
            for other, page in self.pages
        )

    def _over(self) -> Ledger:
        """No page waits for what is to be done under power where nothing is."""
        book = self
        for zone, page in self.pages:
            later = any(s in self.pins and self._held_by(s).under_power for s in self.machine.zones[zone].stored)
            if page.mode == "under" and not later and zone not in self.spun:
                book = book._with(zone, Page("test" if page.for_test else ""))
        return book

    def _unwrite(self, zone: str) -> Ledger:
        page = self.page(zone)
        assert page.marks, f"something was taken back in {zone} that the ledger does not have"
        last, rest = page.marks[-1], page.marks[:-1]
        if last.act is Act.TOLD:
            return self._with(zone, Page())
        book = self._with(zone, replace(page, marks=rest, open=page.open or last.act is Act.GUARDS_ON))
        assert last.act not in (Act.LOCKS_OFF, Act.POWER_ON), f"{last.act} was taken back in {zone}"
        if last.act is Act.HOLD_OUT:
            return replace(book, pins=self.pins | {last.item})
        if last.act is Act.PUT_BACK:
            return replace(book, loose=self.loose | {(zone, last.item)})
        assert last.act is not Act.RELEASED or last.item not in self.pins, f"{last.item} is held, and was taken back"
        if last.act is not Act.OFF_AND_LOCKED or page.mode != "in":
            return book
        locks = self.locks - {(last.item, last.who)}
        off = self.off if any(p == last.item for p, _ in locks) else self.off - {last.item}
        return replace(book, locks=locks, off=off)._void()

    def _void(self) -> Ledger:
        """A lock is gone: whoever it belonged to is no longer covered by a proof, and with nobody's locks on every
        point nothing holds that was confirmed under them."""
        book = self
        for zone, page in self.pages:
            crew = self.complete(zone)
            kept = [m for m in page.marks if m.act is not Act.OFF_AND_LOCKED or (m.item, m.who) in self.locks]
            if page.mode == "in" and not crew:
                kept = [m for m in kept if m.act not in ON_LOCKS]
            book = book._with(zone, replace(page, marks=tuple(replace(m, crew=m.crew & crew) for m in kept)))
        return book

    def _with(self, zone: str, page: Page) -> Ledger:
        pages = {**dict(self.pages), zone: page}
        return replace(self, pages=tuple(sorted((z, p) for z, p in pages.items() if p != Page())))
