"""The proof that the gate of each zone holds for every action of the file, and that every way back ends with power on.

Each zone is walked by itself, by one person with every power: every confirmation, every finding and every way out, in
each state that can be reached. At each state all that goes inside is asked for, in every role and for somebody without
a lock, and what is allowed must be past the gate by a second account, which is kept from the confirmations alone.

From each of these states the return to service is followed to its end, and so it is from dead with everything off that
a check or a remedy of the zone says that it takes off, also as power for a test. It must end with every point on, no
lock on, no hold in, nothing off and the direction of rotation seen; and no point goes on before. Zones that share a
point or a stored energy are then taken in pairs, dead both at once, and brought back one after the other.

What it leaves out: a second person's own steps, and three zones at once. The tests of `safety` walk the former.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

from diag.machine.model import Access, Check, Machine, Remedy, Role
from diag.safety import Act, Isolation, Person, Phase, Refused, permission
from diag.safety.measured import pairs_of

BY, STRANGER = "the proof", "somebody else"
ABLE: Final = Person(BY, Role.ENGINEER, authorised=True, qualified=True)
ASKING: Final = (
    *(Person(BY, role, authorised=True, qualified=True) for role in Role),
    Person(STRANGER, Role.ELECTRICIAN, authorised=True, qualified=True),
)
UNDOES: Final = (Act.BACK, Act.TEST_POWER, Act.MOVED, Act.VOLTAGE_FOUND, Act.METER_FAILED)
"""After these nothing counts that was confirmed on the way to dead."""
MOST: Final = 2_000
"""Steps after which a way back is given up as endless; no machine comes near it."""

Said = tuple[tuple[Act, str], ...]
"""The second account: what was confirmed on the way to dead, in order."""


@dataclass(slots=True)
class GateProof:
    """How much was walked, and the first thing that does not hold, if one does not."""

    zones: int = 0
    states: int = 0
    asked: int = 0
    """Actions inside that were asked for, each at each state and by each person."""
    ways: int = 0
    """Ways back that were followed to their end."""
    counter: str = ""


class _Broken(Exception):
    """Something does not hold. The message says what, and where."""


def prove_gate(machine: Machine, done: Callable[[int], None] = lambda n: None) -> GateProof:
    """Walks every zone, and every pair of zones that share something. `done` is told of every state."""
    proof = GateProof()
    try:
        for zone in machine.zones.values():
            if zone.points and zone.test_points:
                _Zone(machine, zone.id, proof, done).walk()
                proof.zones += 1
        for one, other in combinations(machine.zones.values(), 2):
            if set(one.points) & set(other.points) or set(one.stored) & set(other.stored):
                for first, last in ((one.id, other.id), (other.id, one.id)):
                    _pair(machine, first, last, proof)
    except _Broken as broken:
        proof.counter = str(broken)
    return proof


def inside(machine: Machine) -> Iterator[Check | Remedy]:
    """All that goes inside."""
    every: tuple[Check | Remedy, ...] = (*machine.checks.values(), *machine.remedies.values())
    for action in every:
        if action.access is not Access.OUTSIDE:
            yield action


class _Zone:
    """One zone, alone."""

    def __init__(self, machine: Machine, zone: str, proof: GateProof, done: Callable[[int], None]) -> None:
        self.machine, self.zone, self.proof, self.done = machine, zone, proof, done
        # The rule reads no more of an action than this.
        alike = {(a.access, a.zone, a.who, getattr(a, "energy", None)): a for a in inside(machine)}
        self.actions = tuple(alike.values())
        self.home: set[object] = set()

    def walk(self) -> None:
        """Every state that can be reached, and the way back from each."""
        start = Isolation()
        seen = {_key(start)}
        left: list[tuple[Isolation, Said]] = [(start, ())]
        while left:
            isolation, said = left.pop()
            self.proof.states += 1
            self.done(1)
            self.ask(isolation, said)
            self.back(isolation)
            if isolation.dead(self.machine, self.zone, BY):
                self.with_things_off(isolation)
            for act, target in _offered(self.machine, isolation, self.zone):
                after = _apply(self.machine, isolation, self.zone, act, target)
                if after is not None and (key := _key(after)) not in seen:
                    seen.add(key)
                    left.append((after, _account(said, act, target)))

    def ask(self, isolation: Isolation, said: Said) -> None:
        """Nothing inside is shown or allowed but past the gate."""
        for action in self.actions:
            for person in ASKING:
                rule = permission(self.machine, isolation, person, action)
                self.proof.asked += 1
                if (rule.now or rule.how) and not self.past(isolation, said, person, action):
                    what = "may be done" if rule.now else "is shown"
                    how = ", ".join(f"{act} {target}".strip() for act, target in said) or "nothing confirmed"
                    raise _Broken(f"{self.zone}: {action.id} {what} as {person.role} ({person.name}) after: {how}")

    def past(self, isolation: Isolation, said: Said, person: Person, action: Check | Remedy) -> bool:
        """Whether this is past the gate, by the second account and by the points and locks alone."""
        if person.role is Role.OPERATOR or person.name != BY or action.zone != self.zone:
            return False
        zone = self.machine.zones[self.zone]
        if action.access is Access.LIVE:
            return isolation.live is not None and isolation.live.zone == self.zone and not isolation.off
        locked = all(point in isolation.off and (point, BY) in isolation.locks for point in zone.points)
        held = {s for s in zone.stored if self.machine.stored[s].put_back is not None} <= isolation.holds
        count = Counter(act for act, _ in said)
        needed = {(Act.RELEASED, s) for s in zone.stored} | {(Act.TESTED_DEAD, t) for t in zone.test_points}
        electrical = not zone.electrical or (count[Act.OPENED] and count[Act.METER_PROVED] >= 2)
        return bool(locked and held and needed <= set(said) and count[Act.START_TRIED] and electrical)

    def back(self, isolation: Isolation) -> None:
        """The way back from here, unless it runs into one that was followed."""
        way = []
        for here in _home(self.machine, isolation, (self.zone,)):
            if (key := _key(here)) in self.home:
                break
            way.append(key)
        self.home.update(way)
        self.proof.ways += 1

    def with_things_off(self, isolation: Isolation) -> None:
        """The way back, and power for a test, with all off that one action of this zone takes off."""
        for action in inside(self.machine):
            if action.zone == self.zone and action.takes_off:
                off = isolation.took_off(self.zone, action.takes_off)
                for _ in _home(self.machine, off, (self.zone,)):
                    pass
                for here in _home(self.machine, off, (self.zone,), Act.TEST_POWER):
                    if here.lockout(self.zone).phase is Phase.TESTING:
                        _ended(self.machine, here, self.zone, "power for a test")
                self.proof.ways += 2


def _pair(machine: Machine, first: str, last: str, proof: GateProof) -> None:
    """Both dead at once, with things off in both; the one is returned to service, then the other."""
    isolation = Isolation()
    for zone in (first, last):
        forward = _dead(machine, isolation, zone)
        if forward is None:
            return
        most = max((a for a in inside(machine) if a.zone == zone), key=lambda a: len(a.takes_off), default=None)
        isolation = forward if most is None else forward.took_off(zone, most.takes_off)
    for _ in _home(machine, isolation, (first, last)):
        pass
    proof.ways += 1


def _dead(machine: Machine, isolation: Isolation, zone: str) -> Isolation | None:
    """The zone proved dead, step by step; None where its gate does not get there from here."""
    for _ in range(MOST):
        if isolation.dead(machine, zone, BY):
            return isolation
        steps = isolation.steps(machine, zone, ABLE)
        after = _apply(machine, isolation, zone, steps[0].act, steps[0].target) if steps else None
        if after is None:
            return None
        isolation = after
    return None


def _home(machine: Machine, isolation: Isolation, zones: tuple[str, ...], begin: Act = Act.BACK) -> Iterator[Isolation]:
    """Each state of the return to service of these zones, to its end. Raises `_Broken` where it does not end as it
    should, or a point goes on too early."""
    for _ in range(MOST):
        yield isolation
        after = next(_steps_back(machine, isolation, zones, begin), None)
        if after is None:
            break
        _early(machine, isolation, zones)
        isolation = after
    for zone in zones:
        _ended(machine, isolation, zone, "the return to service")


def _steps_back(machine: Machine, isolation: Isolation, zones: tuple[str, ...], begin: Act) -> Iterator[Isolation]:
    """What comes of the next step back, in the first zone that has one."""
    if isolation.live is not None:
        yield isolation.lapse()
        return
    waiting = []
    for zone in zones:
        lockout = isolation.lockout(zone)
        match lockout.phase:
            case Phase.NONE:
                acts = [(Act.PUT_BACK, t.what) for t in sorted(isolation.taken) if t.zone == zone]
            case Phase.TESTING:
                acts = [(Act.BACK, "")]
            case Phase.BACK | Phase.HOLDS:
                acts = [(step.act, step.target) for step in isolation.steps(machine, zone, ABLE)]
                if not acts:
                    waiting.append(zone)
            case Phase.LOCKING if lockout.has(Act.ISOLATE_AGAIN) and _unreached(machine, isolation, zone):
                acts = [(step.act, step.target) for step in isolation.steps(machine, zone, ABLE)]
            case _:
                acts = [(begin if lockout.phase is Phase.DEAD else Act.BACK, "")]
        for act, target in acts[:1]:
            after = _apply(machine, isolation, zone, act, target)
            if after is None:
                raise _Broken(f"{zone}: on the way back {act} {target} is named as the next step, and refused")
            yield after
    # Nobody's lock is on every point, and something is inside: it is isolated again first.
    for zone in waiting:
        if isolation.lockout(zone).phase is Phase.BACK and not isolation.crew(machine, zone):
            after = _apply(machine, isolation, zone, Act.ISOLATE_AGAIN, "")
            if after is not None:
                yield after


def _unreached(machine: Machine, isolation: Isolation, zone: str) -> bool:
    """Something is inside that nobody takes out before their lock is on every point again."""
    cold = any(s in isolation.holds and not _under_power(machine, s) for s in machine.zones[zone].stored)
    inside = cold or any(t.zone == zone for t in isolation.taken)
    return inside and not isolation.crew(machine, zone)


def _early(machine: Machine, isolation: Isolation, zones: tuple[str, ...]) -> None:
    """No point goes on while something of its zone is in, off or locked."""
    for zone in zones:
        if isolation.lockout(zone).phase is not Phase.BACK:
            continue
        taken = any(t.zone == zone for t in isolation.taken)
        for point in (p for p in machine.zones[zone].points if p in isolation.off):
            after = _apply(machine, isolation, zone, Act.POWER_ON, point)
            if after is None or point in after.off:
                continue
            cold = {s for s in machine.zones[zone].stored if s in isolation.holds and not _under_power(machine, s)}
            shared = {s for s in cold if any(o != zone and s in machine.zones[o].stored for o in zones)}
            if taken or cold - shared or any(p == point for p, _ in isolation.locks):
                raise _Broken(f"{zone}: {point} goes on while something is still in, off or locked")


def _under_power(machine: Machine, stored: str) -> bool:
    put_back = machine.stored[stored].put_back
    return put_back is not None and put_back.under_power


def _ended(machine: Machine, isolation: Isolation, zone: str, what: str) -> None:
    """At its end every point of the zone is on, and nothing is left in, off, locked or unseen."""
    z = machine.zones[zone]
    left = {
        "off": sorted(isolation.off.intersection(z.points)),
        "locked": sorted(f"{p} ({n})" for p, n in isolation.locks if p in z.points),
        "in": sorted(isolation.holds.intersection(z.stored)),
        "not back": sorted(t.what for t in isolation.taken if t.zone == zone),
        "not seen to turn right": sorted(isolation.turned & {zone}),
    }
    for how, things in left.items():
        if things:
            raise _Broken(f"{zone}: {what} ends, and is still {how}: {', '.join(things)}")
    if isolation.lockout(zone).phase not in (Phase.NONE, Phase.TESTING):
        raise _Broken(f"{zone}: {what} has no end; it stays at {isolation.lockout(zone).phase}")


def _offered(machine: Machine, isolation: Isolation, zone: str) -> Iterator[tuple[Act, str]]:
    """All that may be said here: what is next, what else may be found at it, and the ways out of the order."""
    found = dict.fromkeys(
        pair
        for step in (*isolation.steps(machine, zone, ABLE), *isolation.ways(machine, zone, ABLE))
        for pair in ((step.act, step.target), *((fails, "") for fails in step.fails))
    )
    yield from found


def _account(said: Said, act: Act, target: str) -> Said:
    if act in UNDOES:
        return ()
    return said[:-1] if act is Act.RETRACT else (*said, (act, target))


def _apply(machine: Machine, isolation: Isolation, zone: str, act: Act, target: str) -> Isolation | None:
    """The isolation after this confirmation; None where it is refused."""
    point = machine.test_points.get(target)
    values = dict.fromkeys(pairs_of(point), 0.0) if act is Act.TESTED_DEAD and point is not None else {}
    try:
        return isolation.apply(machine, zone, act, target, ABLE, reason="the proof", permit="the proof", values=values)
    except Refused:
        return None


def _key(isolation: Isolation) -> object:
    """Equal for states that differ at most in the order in which they were confirmed; which came last, `RETRACT`
    reads."""
    lockouts = tuple(
        (replace(o, trail=()), frozenset(Counter((c.act, c.target) for c in o.trail).items()), o.trail[-1:])
        for o in isolation.lockouts
    )
    return replace(isolation, lockouts=()), lockouts
