"""A walk over two cases at one machine, each with one person in a sitting of their own, held against one ledger.

What is physically so belongs to the machine, and only what one looks for to the case. So whatever is entered in one
case is at once so in the other, and every answer of the rule there is compared with the same ledger: locks, points,
holds, things taken off, danger signs, resets, waits, the banner and whether a case may end. It goes through what stands
behind the door (`validate_event` and `Replay`); `test_the_door_does_as_the_walk_does` holds both together.

The features of a case meet in pairs (`PAIRS`), each pair in a walk of its own; locking out, proving and a voltage found
belong to all of them. Which states count as one is told in `canon.py`; besides:

- *Times.* The clock stands still until somebody waits, and of all times only which waits still run is told apart.
- *The two cases.* Each has one person and no other difference, so a state and the one with both exchanged are one.
- *Facts.* Of what was seen only whether a sign of danger stands, which one look shows and none ends, and of a remedy
  only whether it awaits its proof, is told apart.
- *One remedy.* While it was entered in one case, it is tried in the other and judged, but not followed.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import combinations

import gate_machines
from canon import ANN, BOB, state_of
from ledger import Ledger
from walk import FREE, Caught

from diag.case.log import events as e
from diag.case.log import stored
from diag.case.log.ageing import Around
from diag.case.log.projection import Projection, permitted
from diag.case.log.replay import Replay, replay
from diag.case.log.tallies import waiting, waits
from diag.case.log.validate_event import validate_event
from diag.machine.isolation import TakenOff
from diag.machine.model import Access, Cause, Check, Danger, Indication, Kind, Machine, Remedy, Role, State
from diag.safety import Act, Person, Refused

FEATURES = ("waiting", "danger", "remedies", "way back", "power for a test")
PAIRS = tuple(combinations(FEATURES, 2))
CASES = ("one", "two")
NAMES = (ANN, BOB)
ZONE, POINT, HOLD, THING, REMEDY, RESET, SIGN = "press", "q1", "ram", "plug X14", "mend", "clear", "smoke"
TRADE = (Role.ELECTRICIAN, Role.ENGINEER)
START = datetime(2031, 5, 6, 7, 0, tzinfo=UTC)
WAIT = timedelta(minutes=6)
"""Longer than the wait on the label."""
FORWARD = (
    *(Act.TOLD, Act.SHUT_DOWN, Act.OFF_AND_LOCKED, Act.RELEASED, Act.START_TRIED, Act.TESTED_DEAD),
    *(Act.VOLTAGE_FOUND, Act.ISOLATE_AGAIN, Act.LOCKS_OFF),
)
BACKWARD = (
    *(Act.WORK_SAID, Act.PUT_BACK, Act.HOLD_OUT, Act.TOOLS_OUT, Act.GUARDS_ON, Act.CONTROLS_OFF, Act.CLEAR),
    *(Act.LAST_LOOK, Act.TOLD_BACK, Act.POWER_ON),
)
"""Of the way back, which power for a test takes too."""


def machine() -> Machine:
    """One zone on one switch, with a pin that holds the ram, a remedy inside, a reset and a sign of danger."""
    sign = Danger(when=((SIGN, ("yes",)),), stop="Smoke. Keep away.", call=Role.ELECTRICIAN)
    zone = gate_machines.zone(ZONE, POINT, HOLD, "low high", electrical=False)
    bench = gate_machines.machine(zone, holds=f"{HOLD}:inside", dangers=(sign,))
    mend = Remedy(
        id=REMEDY, do="Mend it", minutes=5, access=Access.DEAD, who=TRADE, zone=ZONE, takes_off=(TakenOff(what=THING),)
    )
    runs = Indication(id="runs", kind=Kind.QUESTION, title="Runs", states=(State("yes"), State("no")), normal="yes")
    smoke = Indication(id=SIGN, kind=Kind.QUESTION, title="Smoke", states=(State("no"), State("yes")), normal="no")
    looks = {
        i: Check(id=f"see-{i}", title=i, gives=(i,), do="Look", minutes=1, access=Access.OUTSIDE, who=tuple(Role))
        for i in (SIGN, "runs")
    }
    inside = Check(id="inside", title="In", gives=("runs",), do="Look", minutes=1, access=Access.DEAD, who=TRADE)
    cause = Cause(id="worn", title="Worn", part="Ram", rate=1.0, shows={"runs": {"no": 1.0}}, remedy=mend)
    return replace(
        bench,
        reset_limit=1,
        proof_holds=1e6,
        indications={SIGN: smoke, "runs": runs},
        checks={**{c.id: c for c in looks.values()}, "inside": replace(inside, zone=ZONE)},
        remedies={REMEDY: mend},
        causes={cause.id: cause},
    )


@dataclass(frozen=True, slots=True)
class Book:
    """The ledger of the machine, and what stands beside it: one for both cases."""

    ledger: Ledger
    danger: bool = False
    waits: frozenset[str] = frozenset()
    """Stored energies whose wait runs."""
    resets: int = 0
    """Those that count."""
    awaiting: tuple[str, ...] = ("", "")
    """For each case whether its remedy was never entered (empty), `open`, `reset` (its one reset is done) or `over`."""
    touched: frozenset[int] = frozenset()
    """Cases at whose gate something was confirmed."""

    def may(self, case: int, name: str) -> bool:
        """Inside work, and the remedy."""
        return not self.danger and self.ledger.may_work_dead(ZONE, name)

    def may_mend(self, case: int, name: str) -> bool:
        return self.may(case, name) and self.awaiting[case] in ("", "over")

    def may_reset(self, case: int) -> bool:
        """With nothing in the way, as often as the limit says over both cases, and once more for each remedy."""
        shut = self.ledger.off or any(page.mode in ("in", "stopped", "out") for _, page in self.ledger.pages)
        once_more = self.awaiting[case] == "open"
        return not self.danger and not shut and (once_more or self.resets < 1)

    def may_end(self, case: int, name: str) -> bool:
        """No danger, no lock of this case, nothing unfinished at the gate where it was, nothing left off."""
        page = self.ledger.page(ZONE)
        locked = any(owner == name for _, owner in self.ledger.locks)
        unfinished = case in self.touched and page.mode != ""
        return not (self.danger or locked or unfinished or (self.ledger.loose and page.mode == ""))

    def gate(self, case: int, act: Act, target: str, name: str, waits_on: bool) -> Book:
        before = self.ledger
        assert not self.danger or act in FREE - {Act.LOCKS_OFF}, f"{act} under a danger sign"
        assert act is not Act.RELEASED or target not in self.waits, f"{target} released, and its wait runs"
        after = before.write(ZONE, act, target, name)
        mode = after.page(ZONE).mode
        running = self.waits
        anew = act is Act.ISOLATE_AGAIN and before.page(ZONE).mode == "stopped"
        if waits_on and after.off and (anew or not before.off):
            running = frozenset({HOLD})
        if not after.off:
            running = frozenset()
        assert mode in ("", "in", "stopped", "out", "test")
        return replace(self, ledger=after, waits=running, touched=self.touched | {case})


@dataclass(frozen=True, slots=True)
class Here:
    """A state of the walk: what each case has, the ledger, and the clock."""

    cases: tuple[Replay, Replay]
    book: Book
    at: datetime = START


@dataclass
class TwoCases:
    """One walk. `most`: how many states are visited at most; 0 for all."""

    features: tuple[str, ...]
    most: int = 0
    machine: Machine = field(default_factory=machine)
    visited: int = 0
    edges: int = 0
    tried: tuple[str, ...] = ()
    how: dict[object, tuple[object, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        held = self.machine.stored[HOLD]
        wait = held.wait if "waiting" in self.features else 0.0
        self.machine = replace(self.machine, stored={HOLD: replace(held, wait=wait)})
        self.people = tuple(Person(name, Role.ELECTRICIAN, True, True) for name in NAMES)
        self.strangers = (
            Person("electrician on shift", Role.ELECTRICIAN, True, True),
            Person("Eve", Role.OPERATOR, True, True),
        )
        backward = {"way back", "power for a test"}.intersection(self.features)
        acts = [*FORWARD, *(BACKWARD if backward else ())]
        acts += [Act.BACK] * ("way back" in self.features) + [Act.TEST_POWER] * ("power for a test" in self.features)
        self.gate = tuple(
            e.Gate(zone=ZONE, act=act, target=target, reason="the site decided", by_item=True)
            for act in acts
            for target in self._targets(act)
        )

    def _targets(self, act: Act) -> tuple[str, ...]:
        match act:
            case Act.OFF_AND_LOCKED | Act.LOCKS_OFF | Act.POWER_ON:
                return ("", POINT)
            case Act.RELEASED | Act.HOLD_OUT:
                return (HOLD,)
            case Act.TESTED_DEAD:
                return self.machine.zones[ZONE].test_points
            case Act.PUT_BACK:
                return (THING,)
        return ("",)

    # ---- the walk

    def run(self) -> TwoCases:
        """Raises `Caught` with the entries that led there."""
        try:
            here = self.begin()
            self.agree(here)
            self.judge(here)
        except AssertionError as error:
            raise Caught(f"{error}\n  after: start") from error
        first = self.key(here)
        self.how[first] = (None, "")
        todo = deque([(first, here)])
        while todo and (not self.most or self.visited < self.most):
            known, here = todo.popleft()
            self.visited += 1
            try:
                for there in self.onward(here):
                    self.edges += 1
                    self.agree(there)
                    found = self.key(there)
                    if found not in self.how:
                        self.how[found] = (known, " ".join(self.tried).rstrip())
                        self.judge(there)
                        todo.append((found, there))
            except AssertionError as error:
                acts = [*self._path(known), " ".join(self.tried).rstrip()]
                raise Caught(f"{error}\n  after: {' > '.join(acts)}") from error
        return self

    def _path(self, known: object) -> list[str]:
        path: list[str] = []
        while known is not None:
            known, said = self.how[known]
            path.insert(0, said)
        return path[1:]

    def begin(self) -> Here:
        """Two cases, each opened by its person."""
        begun: list[list[e.Entry | e.Elsewhere]] = [[], []]
        for case, person in enumerate(self.people):
            sits = e.TookOver(person=person.name, role=person.role, authorised=True, qualified=True)
            opened = e.Opened(machine=self.machine.id, revision=self.machine.revision)
            for seq, event in enumerate((opened, sits), 1):
                self._share(begun, case, self._stamped(seq, START, event, person, CASES[case]))
        one, two = (replay(self.machine, CASES[n], entries) for n, entries in enumerate(begun))
        return Here((one, two), Book(Ledger(self.machine)))

    def _share(self, kept: list[list[e.Entry | e.Elsewhere]], case: int, entry: e.Stamped) -> None:
        kept[case].append(entry)
        if stored.touching(self.machine, (), entry.event):
            kept[1 - case].append(e.Elsewhere(CASES[case], entry))

    def _stamped(self, seq: int, at: datetime, event: e.Event, person: Person, sitting: str) -> e.Stamped:
        return e.Stamped.model_construct(
            seq=seq,
            at=at,
            by=person.name,
            event=event,
            sitting=sitting,
            role=person.role,
            authorised=person.authorised,
            qualified=person.qualified,
            advice=None,
        )

    def onward(self, here: Here) -> Iterator[Here]:
        """Each state that one more entry leads to."""
        if here.book.waits:
            self.tried = ("the wait is over",)
            yield replace(here, at=here.at + WAIT, book=replace(here.book, waits=frozenset()))
        for case, person in enumerate(self.people):
            projection = here.cases[case].projection(person, Around(here.at))
            others = [
                replace(projection, state=replace(projection.state, person=stranger)) for stranger in self.strangers
            ]
            for event in self.events(here.book, case):
                there = self.enter(here, projection, case, event)
                if there is not None:
                    self._strangers(here, others, event)
                    if not (isinstance(event, e.Remedied) and any(here.book.awaiting)):
                        yield there

    def events(self, book: Book, case: int) -> Iterator[e.Event]:
        """What is tried in this case."""
        yield from self.gate
        if "danger" in self.features:
            yield e.Found(indication=SIGN, seen={"no" if book.danger else "yes": 1.0})
            yield e.MadeSafe(how="put out")
        if "remedies" in self.features:
            yield e.ResetDone(reset=RESET)
            yield e.Remedied(remedy=REMEDY)
            yield e.RemedyFailed(remedy=REMEDY)

    def enter(self, here: Here, projection: Projection, case: int, event: e.Event) -> Here | None:
        """The state after an entry of this case; None where it is refused."""
        person, book = self.people[case], here.book
        self.tried = (person.name, *_words(event))
        try:
            valid = validate_event(self.machine, projection, event, here.at)
        except Refused as refused:
            self._refused(book, case, event, str(refused))
            return None
        after = self._write(book, case, event)
        cases = list(here.cases)
        entry = self._stamped(1 + _own(cases[case]), here.at, valid, person, CASES[case])
        cases[case] = cases[case].after(entry)
        if stored.touching(self.machine, (), valid):
            cases[1 - case] = cases[1 - case].after(e.Elsewhere(CASES[case], entry))
        return Here((cases[0], cases[1]), after, here.at)

    def _strangers(self, here: Here, others: list[Projection], event: e.Event) -> None:
        """What somebody without a name, or an operator, is refused."""
        free = isinstance(event, e.Found | e.ResetDone | e.RemedyFailed)
        if free or (isinstance(event, e.Gate) and event.act in FREE - {Act.LOCKS_OFF}):
            return
        for other in others:
            try:
                validate_event(self.machine, other, event, here.at)
            except Refused:
                continue
            raise AssertionError(f"taken from {other.state.person.name}: {' '.join(_words(event))}")

    # ---- the ledger

    def _refused(self, book: Book, case: int, event: e.Event, why: str) -> None:
        """What the ledger would have taken is not refused, and one clear line says why."""
        assert 0 < len(why) < 300, f"a refusal without one clear line: {why!r}"
        assert "\n" not in why, f"a refusal of several lines: {why!r}"
        name = NAMES[case]
        match event:
            case e.Remedied():
                assert not book.may_mend(case, name), "the remedy was refused"
            case e.ResetDone():
                assert not book.may_reset(case), "a reset was refused"
            case e.MadeSafe():
                assert not book.danger, "nobody may make it safe"
            case e.Found():
                raise AssertionError("what is seen from outside was refused")
            case e.RemedyFailed():
                assert book.awaiting[case] not in ("open", "reset"), "the remedy awaits its proof"

    def _write(self, book: Book, case: int, event: e.Event) -> Book:
        """The ledger after an entry that was taken."""
        name = NAMES[case]
        awaits = partial(_with, book.awaiting, case)
        match event:
            case e.Gate():
                return book.gate(case, event.act, event.target, name, "waiting" in self.features)
            case e.Found():
                if book.danger or "yes" not in event.seen:
                    return book
                return replace(book, danger=True, ledger=book.ledger.startle())
            case e.MadeSafe():
                assert book.danger, "no sign stood"
                return replace(book, danger=False)
            case e.Remedied():
                assert book.may_mend(case, name), "the remedy was taken"
                off = book.ledger.take_off(ZONE, self.machine.remedies[REMEDY].takes_off)
                return replace(book, ledger=off, awaiting=awaits("open"))
            case e.RemedyFailed():
                assert book.awaiting[case] in ("open", "reset")
                return replace(book, awaiting=awaits("over"))
            case e.ResetDone():
                assert book.may_reset(case), "a reset was taken"
                if book.awaiting[case] == "open":
                    return replace(book, awaiting=awaits("reset"))
                return replace(book, resets=book.resets + 1)
        raise AssertionError(event)

    def agree(self, here: Here) -> None:
        """What must hold after every entry: both cases have one machine, and it is that of the ledger."""
        book, ledger = here.book, here.book.ledger
        one, two = here.cases
        assert one.isolation == two.isolation, "the two cases have two machines"
        assert one.dangers == two.dangers, "a sign of danger stands in one case alone"
        assert one.everyone == two.everyone, "what counts for all cases differs"
        isolation = one.isolation
        assert (isolation.off, isolation.locks) == (ledger.off, ledger.locks), "points and locks"
        assert {p for p, _ in isolation.locks} <= isolation.off, "a locked point is on"
        assert not (why := ledger.left_in()), why
        assert (isolation.holds, {(t.zone, t.what) for t in isolation.taken}) == (ledger.pins, ledger.loose)
        counts = ledger.page(ZONE).mode == "in" and bool(ledger.off)
        for case in here.cases:
            assert bool(case.dangers) == book.danger, f"a sign of danger in {case.id}"
            running = waiting(waits(self.machine, isolation, case.off_since), here.at)
            assert running == (book.waits if counts else frozenset()), f"waits of {case.id}: {running}"

    def judge(self, here: Here) -> None:
        """What must hold in every state: each case shows and allows its person what the ledger says."""
        book = here.book
        for case, person in enumerate(self.people):
            now = here.cases[case].projection(person, Around(here.at))
            state, name = now.state, person.name
            assert state.locks == tuple(sorted(book.ledger.locks))
            assert state.holds == tuple(sorted(book.ledger.pins))
            assert bool(state.danger) == book.danger, f"a sign of danger in {CASES[case]}"
            assert not state.problems, state.problems
            assert (state.person, state.lead) == (person, person), "somebody else's case or keys"
            may = book.may(case, name)
            for action in (self.machine.checks["inside"], self.machine.remedies[REMEDY]):
                given = permitted(self.machine, now, action)
                assert (given.how, given.now) == (may, may), f"{action.id} for {name}: {given.how}, the ledger: {may}"
            level = "danger" if book.danger else state.banner.level
            assert level == state.banner.level, "the banner does not say danger"
            assert (level == "dead") is may, f"the banner of {name} says {level}"
            assert state.resets[0].may == book.may_reset(case), f"a reset for {name}"
            try:
                validate_event(self.machine, now, e.Closed(outcome="running"), here.at)
                ended = True
            except Refused:
                ended = False
            assert ended == book.may_end(case, name), f"{CASES[case]} may end: {ended}"

    # ---- which states count as one

    def key(self, here: Here) -> object:
        return min(self._key(here, False), self._key(here, True))

    def _key(self, here: Here, swap: bool) -> tuple[object, ...]:
        book, order = here.book, (1, 0) if swap else (0, 1)
        gate = state_of(here.cases[0].isolation, book.ledger, False, swap)
        cases = tuple(_of_case(here.cases[n]) for n in order)
        other = tuple((book.awaiting[n], n in book.touched) for n in order)
        return gate, cases, other, book.danger, tuple(sorted(book.waits)), book.resets


def _of_case(so_far: Replay) -> tuple[object, ...]:
    """What a case has of its own, as far as it matters."""
    own = tuple(p for p, _ in sorted(so_far.own_locks & so_far.isolation.locks))
    resets = tuple(sorted(remedy for _, remedy in so_far.resets))
    counted = len(so_far.others.resets), so_far.others.since_cure
    return own, tuple(sorted(so_far.own_zones)), so_far.remedy, so_far.remedied, resets, counted, so_far.closed


def _own(so_far: Replay) -> int:
    return sum(not isinstance(entry, e.Elsewhere) for entry in so_far.entries)


def _with(all_of: tuple[str, ...], case: int, word: str) -> tuple[str, ...]:
    return tuple(word if n == case else was for n, was in enumerate(all_of))


def _words(event: e.Event) -> tuple[str, ...]:
    match event:
        case e.Gate():
            return event.act.value, event.target
        case e.Found():
            return SIGN, *event.seen
    return (event.kind,)
