"""A breadth-first walk over every reachable state of a machine's gate, holding the rule against the ledger.

At each state every act with every target is tried by each person, and live work lapses as on a resume, a handover or
a change of role. Whatever is accepted is written into the ledger (`ledger.py`), and at each state the rule's answer is
compared with the ledger's for every kind of action and several kinds of person. Which states count as one is told in
`canon.py`.

An isolation holds no role, authority or qualification: each act is tried by a person who may do all, and whatever is
accepted is tried again by every other kind of person (all twelve of `KINDS`, or in `FEW` an operator who claims all).

Two zones with two persons have too many states for every test run, so such a walk may be cut, and who cuts it says so.
`at_once` takes steps of one zone together that touch nothing in another zone, and that nothing there touches: told and
shut down; start tried and opened; all that is said between the beginning of the way back and the locks; the last look
and users told. `without` leaves out acts; what only they lead to is then not visited. `things` is what work inside
takes off, whenever somebody may work there.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from canon import ANN, BOB, key, key_of_one, lasts
from ledger import Ledger

from diag.machine.isolation import TakenOff
from diag.machine.model import Access, Check, Energy, Machine, Role
from diag.safety import Act, Isolation, Person, Refused, dead_zones, live_zones, permission

ABLE = (Role.ELECTRICIAN, True, True)
FEW = (ABLE, (Role.OPERATOR, True, True))
KINDS = (ABLE, *((r, a, q) for r in Role for a in (True, False) for q in (True, False) if (r, a, q) != ABLE))
ALL, TRADE = tuple(Role), (Role.ELECTRICIAN, Role.ENGINEER)
GIVEN = {"reason": "cannot be measured dead", "permit": "P 12"}
LESS = {
    Act.RETRACT,
    Act.BACK,
    Act.MOVED,
    Act.VOLTAGE_FOUND,
    Act.METER_FAILED,
    Act.LIVE_OVER,
    Act.LOCKS_OFF,
    Act.TEST_POWER,
}
"""Acts after which nobody may do more than before."""
FREE = {Act.RETRACT, Act.MOVED, Act.VOLTAGE_FOUND, Act.METER_FAILED, Act.LIVE_OVER, Act.LOCKS_OFF}
"""Acts that anybody may do."""


ON_THE_WAY = (Act.EARTHS_OUT, Act.GUARDS_ON, Act.CONTROLS_OFF, Act.CLEAR)
TOGETHER = {
    Act.TOLD: (Act.SHUT_DOWN,),
    Act.ISOLATE_AGAIN: (Act.SHUT_DOWN,),
    Act.START_TRIED: (Act.OPENED,),
    Act.WORK_SAID: (Act.TOOLS_OUT, *ON_THE_WAY),
    Act.TOOLS_OUT: ON_THE_WAY,
    Act.LAST_LOOK: (Act.TOLD_BACK,),
}


class Caught(AssertionError):
    """The rule and the ledger disagree, or something holds no longer that must always hold."""


@dataclass
class Walk:
    """One walk. `visited` and `edges` count states and accepted acts."""

    machine: Machine
    kinds: tuple[tuple[Role, bool, bool], ...] = FEW
    names: tuple[str, ...] = (ANN, BOB)
    gaps: bool = True
    """An entry of the record may be missing."""
    at_once: bool = False
    without: frozenset[Act] = frozenset()
    by_number: bool = False
    """Points, energies and test points count by what was done with how many; for machines of one zone."""
    things: dict[str, tuple[TakenOff, ...]] = field(default_factory=dict)
    """What work inside a zone takes off."""
    tried: tuple[str, ...] = ()
    open: dict[str, frozenset[tuple[str, str]]] = field(default_factory=dict)
    """The act that is being tried, and what was open to whom before it."""
    keys: dict[tuple[Isolation, Ledger], object] = field(default_factory=dict)
    visited: int = 0
    edges: int = 0
    back: dict[object, set[object]] = field(default_factory=dict)
    how: dict[object, tuple[object, str]] = field(default_factory=dict)

    def run(self) -> Walk:
        """Raises `Caught` with the acts that led there."""
        self.checks = tuple(self._actions())
        self.people = {name: Person(name, *ABLE) for name in self.names}
        self.plan = tuple(self._tries())
        start = (Isolation(), Ledger(self.machine))
        first = self.key(*start)
        self.how[first] = (None, "")
        todo = deque([(first, *start)])
        while todo:
            here, isolation, ledger = todo.popleft()
            self.visited += 1
            self.tried, self.open = ("start",), {who: opened(self.machine, isolation, who) for who in self.names}
            try:
                if here is first:
                    self._judge(isolation, ledger)
                for said, after, book in self._acts(isolation, ledger):
                    self.edges += 1
                    there = self.key(after, book)
                    self.back.setdefault(there, set()).add(here)
                    if there not in self.how:
                        self.how[there] = (here, said)
                        todo.append((there, after, book))
                        self._judge(after, book)
            except AssertionError as error:
                acts = [*self._path(here), " ".join(self.tried).rstrip()]
                raise Caught(f"{error}\n  after: {' > '.join(acts)}") from error
        self._nobody_is_stuck(first)
        return self

    def key(self, isolation: Isolation, ledger: Ledger) -> object:
        """What states have in common that count as one."""
        both = isolation, ledger
        if both not in self.keys:
            undo, two = Act.RETRACT not in self.without, len(self.names) > 1
            self.keys[both] = key_of_one(*both, self.machine) if self.by_number else key(*both, undo, two)
        return self.keys[both]

    # ---- what may be tried

    def _acts(self, isolation: Isolation, ledger: Ledger) -> Iterator[tuple[str, Isolation, Ledger]]:
        if isolation.live is not None:
            self.tried = ("lapse",)
            yield "lapse", isolation.lapse(), ledger.lapse()
        if self.gaps:
            self.tried = ("a gap",)
            yield "a gap", isolation.doubted(self.machine), ledger.doubt()
        for zone, things in self.things.items():
            if any(ledger.may_work_dead(zone, name) for name in self.names):
                self.tried = (f"taken off in {zone}",)
                yield self.tried[0], isolation.took_off(zone, things), ledger.take_off(zone, things)
        here = ((isolation, ledger),)
        for zone, act, target, undoes in self.plan:
            for before, book in lasts(isolation, ledger, zone) if undoes else here:
                for name in self.names:
                    taken = self._take(before, book, zone, act, target, name)
                    if taken is not None:
                        yield self._go_on(taken, zone, act, name) if self.at_once else taken

    def _tries(self) -> Iterator[tuple[str, Act, str, bool]]:
        """Zone, act and target of all that each person tries at each state, and whether it takes something back."""
        for zone in self.machine.zones:
            for act in Act:
                for target in self._targets(zone, act) if act not in self.without else ():
                    yield zone, act, target, act is Act.RETRACT

    def _go_on(
        self, taken: tuple[str, Isolation, Ledger], zone: str, act: Act, name: str
    ) -> tuple[str, Isolation, Ledger]:
        """An act that was taken, and with `at_once` those that follow it."""
        for then in TOGETHER.get(act, ()):
            if then in (Act.OPENED, Act.EARTHS_OUT) and not self.machine.zones[zone].electrical:
                continue
            if then is Act.EARTHS_OUT and not taken[2].page(zone).open:
                continue
            more = self._take(taken[1], taken[2], zone, then, "", name)
            if more is None:  # a hold or a thing that is off comes between, or it stands from before a taking back
                said = any(m.act is then for m in taken[2].page(zone).marks)
                assert said or taken[2].pins or taken[2].loose, f"{then} refused after {taken[0]}"
                break
            taken = (f"{taken[0]} > {more[0]}", *more[1:])
        return taken

    def _targets(self, zone: str, act: Act) -> tuple[str, ...]:
        z = self.machine.zones[zone]
        match act:
            case Act.OFF_AND_LOCKED | Act.LOCKS_OFF:
                return ("", *z.points)
            case Act.POWER_ON:
                return ("", *z.points)
            case Act.RELEASED | Act.WAIT_BEGUN | Act.HOLD_OUT:
                return z.stored
            case Act.BEFORE_OFF:
                return z.before_off
            case Act.PUT_BACK:
                return tuple(t.what for t in self.things.get(zone, ()))
            case Act.TESTED_DEAD:
                return z.test_points
        return ("",)

    def _take(
        self, isolation: Isolation, ledger: Ledger, zone: str, act: Act, target: str, name: str
    ) -> tuple[str, Isolation, Ledger] | None:
        self.tried = (name, act, zone, target)
        person, values = self.people[name], self._dead(act, target)
        try:
            after = isolation.apply(self.machine, zone, act, target, person, **GIVEN, values=values)
        except Refused as refused:
            text = str(refused)
            assert 0 < len(text) < 300, f"a refusal without one clear line: {text!r}"
            assert "\n" not in text, f"a refusal of several lines: {text!r}"
            return None
        said = " ".join(self.tried).rstrip()
        book = ledger.write(zone, act, target, name)
        self._others(isolation, after, zone, act, target, name)
        self._holds(isolation, after, book, act, name, said)
        return said, after, book

    def _others(self, isolation: Isolation, after: Isolation, zone: str, act: Act, target: str, name: str) -> None:
        """Every other kind of person gets the same, or nothing."""
        inside = act is Act.LIVE or (
            act in (Act.OPENED, Act.METER_PROVED, Act.TESTED_DEAD, Act.EARTHS_OUT)
            and self.machine.zones[zone].electrical
        )
        for role, authorised, qualified in self.kinds[1:]:
            try:
                got = isolation.apply(
                    self.machine,
                    zone,
                    act,
                    target,
                    Person(name, role, authorised, qualified),
                    **GIVEN,
                    values=self._dead(act, target),
                )
            except Refused:
                got = None
            may = role is not Role.OPERATOR and (authorised or act is Act.LIVE) and (qualified or not inside)
            assert got == (after if may or act in FREE else None), f"{role} {authorised} {qualified}: {act}"
        if act not in FREE - {Act.LOCKS_OFF}:
            try:
                isolation.apply(self.machine, zone, act, target, self.people[name], **GIVEN, danger=True)
            except Refused:
                return
            raise AssertionError(f"{act} was taken under a danger sign")

    def _dead(self, act: Act, target: str) -> dict[str, float]:
        """What a meter reads at a dead test point; every other reading is refused."""
        if act is not Act.TESTED_DEAD:
            return {}
        point = self.machine.test_points[target]
        return {} if point.below is None else dict.fromkeys(point.pairs or (point.title,), point.below / 2)

    # ---- what must hold

    def _holds(self, isolation: Isolation, after: Isolation, book: Ledger, act: Act, name: str, said: str) -> None:
        assert (after.off, after.locks) == (book.off, book.locks), f"points and locks: {said}"
        assert {p for p, _ in after.locks} <= after.off, f"a locked point is on: {said}"
        lost = {owner for _, owner in isolation.locks - after.locks}
        assert lost <= {name}, f"{lost} lost a lock: {said}"
        if act in LESS:
            for who in self.names:
                more = opened(self.machine, after, who) - self.open[who]
                assert not more, f"{act} opened {more} to {who}: {said}"

    def _judge(self, isolation: Isolation, ledger: Ledger) -> None:
        on = not any(self.machine.points[p].electrical for p in ledger.off)
        assert isolation.energised(self.machine) is on
        standing = [z for z, page in ledger.pages if page.mode in ("in", "stopped", "out")]
        assert not (why := ledger.left_in()), why
        in_or_out = (isolation.holds, {(t.zone, t.what) for t in isolation.taken}, isolation.turned)
        assert in_or_out == (ledger.pins, ledger.loose, ledger.spun), "what is in, off or turned"
        over = [z for z in self.machine.zones if ledger.page(z).mode in ("", "test")]
        assert not any(z in over for z, _ in ledger.loose), "a zone is over with something off"
        assert not ledger.spun.intersection(over), "a zone is over, and nobody looked which way it turns"
        held = {p for z in standing for p in self.machine.zones[z].points}
        assert isolation.off <= held, "a point stays off that no zone stands on"
        for point, name in isolation.locks:
            mine = [z for z in standing if name not in ledger.page(z).away and point in self.machine.zones[z].points]
            assert mine, f"{name}'s lock on {point} belongs to no zone"
        for name in self.names:
            dead = {z for z in self.machine.zones if ledger.may_work_dead(z, name)}
            live = {z for z in self.machine.zones if ledger.may_work_live(z, name)}
            for role, authorised, qualified in self.kinds:
                person = Person(name, role, authorised, qualified)
                for check in self.checks:
                    how = role in check.who
                    if check.access is not Access.OUTSIDE:
                        how &= role is not Role.OPERATOR
                        how &= authorised if check.access is Access.DEAD else qualified
                        how &= check.zone in (dead if check.access is Access.DEAD else live)
                    now = how and (check.energy is Energy.ANY or (check.energy is Energy.ON) is on)
                    given = permission(self.machine, isolation, person, check)
                    assert (given.how, given.now) == (how, now), (
                        f"{check.access} work in {check.zone or 'no zone'} for {person}: {given.how}, {given.now}; "
                        f"the ledger says how {how}, now {now}"
                    )
                    assert given.because
                    assert given.now or given.way, "closed, and nothing says what opens it"
        self._steps_are_taken(isolation)

    def _steps_are_taken(self, isolation: Isolation) -> None:
        """What the gate offers, it takes."""
        for zone in self.machine.zones:
            for name in self.names:
                person = self.people[name]
                for step in (*isolation.steps(self.machine, zone, person), *isolation.ways(self.machine, zone, person)):
                    if step.act is Act.RETRACT:
                        continue
                    given = {word: text for word, text in GIVEN.items() if word in step.asks}
                    if "values" in step.asks:
                        given["values"] = self._dead(step.act, step.target)
                    try:
                        isolation.apply(self.machine, zone, step.act, step.target, person, **given)
                    except Refused as refused:
                        raise AssertionError(
                            f"offered to {name} and refused: {step.act} {step.target}: {refused}"
                        ) from refused

    def _nobody_is_stuck(self, first: object) -> None:
        """From every state there is a way to the machine closed and with its power on."""
        reached, todo = {first}, [first]
        while todo:
            for before in self.back.get(todo.pop(), ()):
                if before not in reached:
                    reached.add(before)
                    todo.append(before)
        stuck = set(self.how) - reached
        if stuck:
            raise Caught(f"no way out\n  after: {' > '.join(self._path(stuck.pop()))}")

    def _path(self, here: object) -> list[str]:
        path: list[str] = []
        while here is not None:
            here, said = self.how[here]
            path.insert(0, said)
        return path[1:]

    def _actions(self) -> Iterator[Check]:
        """One of each kind that the rule can tell apart: access, zone, energy, who."""

        def check(access: Access, zone: str, energy: Energy, who: tuple[Role, ...]) -> Check:
            return Check(
                id="c", title="c", gives=(), do="", minutes=1, access=access, zone=zone, energy=energy, who=who
            )

        for energy in Energy:
            yield check(Access.OUTSIDE, "", energy, ALL)
        for zone in ("", "nowhere", *self.machine.zones):
            for access in (Access.DEAD, Access.LIVE):
                yield check(access, zone, Energy.ANY, ALL)
        for zone in self.machine.zones:
            yield check(Access.DEAD, zone, Energy.OFF, TRADE)
            yield check(Access.LIVE, zone, Energy.ON, TRADE)


def opened(machine: Machine, isolation: Isolation, name: str) -> frozenset[tuple[str, str]]:
    """What is open to a person who may do all."""
    person = Person(name, *ABLE)
    dead, live = dead_zones(machine, isolation, person), live_zones(machine, isolation, person)
    return frozenset({("dead", z) for z in dead} | {("live", z) for z in live})
