"""Long seeded random ways through the gate of a whole machine by three persons, held against the ledger at every step.

    PYTHONPATH=.:tests:tests/safety python tests/safety/roam.py --steps 100000 [--seed 1] [MACHINE ...]

walks the machines of `knowledge/` (or those named), says how many acts were taken, and which act in which phase was
never tried there, or never taken though the gate may take it. The walk goes where it has seldom been: to a phase with
an act that it took least, and there it tries what it tried least, and takes of what the gate offers what it took least.
A sign of danger stands now and then, waits run now and then, and work inside takes things off.
"""

from __future__ import annotations

import argparse
import random
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from ledger import Ledger

from diag.machine.isolation import TakenOff
from diag.machine.load import read
from diag.machine.model import Access, Check, Machine, Role
from diag.safety import Act, Isolation, Person, Phase, Refused, Step, banner, permission
from diag.safety.measured import pairs_of

KNOWLEDGE = Path(__file__).parents[2] / "knowledge"
NAMES = ("Ann", "Bob", "Cem")
ABLE = tuple(Person(name, Role.ELECTRICIAN, True, True) for name in NAMES)
OTHERS = (
    *(Person(n, r, a, q) for n in NAMES for r in Role for a in (True, False) for q in (True, False)),
    Person("electrician on shift", Role.ELECTRICIAN, True, True),
)
FREE = {Act.RETRACT, Act.MOVED, Act.VOLTAGE_FOUND, Act.METER_FAILED, Act.LIVE_OVER, Act.LOCKS_OFF}
"""Acts that anybody may do."""
LIVE = (Act.LIVE, Act.LIVE_OVER, Act.RETRACT)
SHUT = (Phase.NONE, Phase.TESTING, Phase.HOLDS)
AT_WORK = (Phase.LOCKING, Phase.DEAD, Phase.STOP)
PAST_DANGER = FREE - {Act.LOCKS_OFF}
INSIDE = {Act.OPENED, Act.METER_PROVED, Act.TESTED_DEAD, Act.EARTHS_OUT}
STOPS = (Act.MOVED, Act.VOLTAGE_FOUND, Act.METER_FAILED)
NAMED = {
    *(Act.OFF_AND_LOCKED, Act.LOCKS_OFF, Act.POWER_ON, Act.RELEASED, Act.WAIT_BEGUN, Act.HOLD_OUT),
    *(Act.BEFORE_OFF, Act.PUT_BACK, Act.TESTED_DEAD),
}
"""Acts whose target the ledger reads."""

TAKEN = {
    Phase.NONE: (Act.TOLD, Act.LIVE, Act.LIVE_OVER, Act.RETRACT, Act.PUT_BACK),
    Phase.LOCKING: (
        *(Act.SHUT_DOWN, Act.BEFORE_OFF, Act.OFF_AND_LOCKED, Act.WAIT_BEGUN, Act.RELEASED, Act.START_TRIED),
        *(Act.OPENED, Act.METER_PROVED, Act.TESTED_DEAD, *STOPS, Act.LOCKS_OFF, Act.BACK, Act.RETRACT),
    ),
    Phase.DEAD: (
        *(Act.OFF_AND_LOCKED, Act.METER_PROVED, Act.TESTED_DEAD, *STOPS, Act.LOCKS_OFF, Act.BACK, Act.TEST_POWER),
        Act.RETRACT,
    ),
    Phase.STOP: (*STOPS, Act.LOCKS_OFF, Act.BACK, Act.ISOLATE_AGAIN),
    Phase.BACK: (
        *(Act.WORK_SAID, Act.PUT_BACK, Act.HOLD_OUT, Act.TOOLS_OUT, Act.EARTHS_OUT, Act.GUARDS_ON, Act.CONTROLS_OFF),
        *(Act.CLEAR, Act.LOCKS_OFF, Act.LAST_LOOK, Act.TOLD_BACK, Act.POWER_ON, *STOPS, Act.ISOLATE_AGAIN),
        Act.RETRACT,
    ),
    Phase.TESTING: (Act.ISOLATE_AGAIN, Act.BACK, Act.LIVE, Act.LIVE_OVER, Act.RETRACT, Act.PUT_BACK),
    Phase.HOLDS: (Act.ROTATION, Act.HOLD_OUT, Act.ISOLATE_AGAIN, Act.LIVE, Act.LIVE_OVER, Act.RETRACT, Act.PUT_BACK),
}
"""What the gate may take in each phase, on a machine that has what the act is about."""


def may_be_taken(machine: Machine, things: dict[str, tuple[TakenOff, ...]]) -> set[tuple[Phase, Act]]:
    """What `TAKEN` comes to on this machine."""
    zones, stored = machine.zones.values(), machine.stored.values()
    cold = any(s.put_back and not s.put_back.under_power for s in stored)
    warm = any(s.put_back and s.put_back.under_power for s in stored)
    turned = any(t.phases for some in things.values() for t in some)
    electrical, plain = any(z.electrical for z in zones), any(not z.electrical for z in zones)
    has = {
        Act.LIVE: electrical,
        Act.LIVE_OVER: electrical,
        Act.OPENED: electrical,
        Act.METER_PROVED: electrical,
        Act.EARTHS_OUT: electrical,
        Act.BEFORE_OFF: any(z.before_off for z in zones),
        Act.RELEASED: bool(machine.stored),
        Act.WAIT_BEGUN: any(s.counts_when for s in stored),
        Act.PUT_BACK: bool(things),
        Act.ROTATION: turned,
    }
    found = {(phase, act) for phase, acts in TAKEN.items() for act in acts if has.get(act, True)}
    if not electrical:
        found -= {(phase, Act.RETRACT) for phase in (Phase.NONE, Phase.TESTING, Phase.HOLDS)}
    if not plain:
        found -= {(Phase.DEAD, Act.TESTED_DEAD)}
    found -= set() if cold else {(Phase.BACK, Act.HOLD_OUT)}
    found -= set() if warm else {(Phase.HOLDS, Act.HOLD_OUT)}
    return found if warm or turned else {(phase, act) for phase, act in found if phase is not Phase.HOLDS}


@dataclass
class Roam:
    """One random way. Raises AssertionError with the last acts where rule and ledger disagree."""

    machine: Machine
    seed: int = 1
    tried: Counter[tuple[Phase, Act]] = field(default_factory=Counter)
    taken: Counter[tuple[Phase, Act]] = field(default_factory=Counter)
    said: list[str] = field(default_factory=list)
    left: int = 0

    def __post_init__(self) -> None:
        self.chance = random.Random(f"{self.machine.id} {self.seed}")
        self.isolation, self.ledger = Isolation(), Ledger(self.machine)
        self.danger, self.waits = False, frozenset[str]()
        self.zone, self.person = next(iter(self.machine.zones)), ABLE[0]
        self.things = things_of(self.machine)
        self.expected = may_be_taken(self.machine, self.things)
        phases = {phase for phase, _ in self.expected}
        self.pairs = [(phase, act) for phase in Phase if phase in phases for act in Act]
        self.checks = [
            Check(id="c", title="c", gives=(), do="", minutes=1, access=access, zone=zone, who=tuple(Role))
            for access in (Access.DEAD, Access.LIVE)
            for zone in self.machine.zones
        ]

    def run(self, steps: int) -> Roam:
        """That many acts are tried, or a few more."""
        self.left = steps
        try:
            while self.left > 0:
                self._episode()
        except AssertionError as error:
            raise AssertionError(f"{error}\n  seed {self.seed}, after: {' > '.join(self.said[-60:])}") from error
        return self

    # ---- where it goes

    def _episode(self) -> None:
        """To a phase where something was taken least, and there what was tried least and taken least."""
        chance = self.chance
        goal, act = min(sorted(self.expected), key=lambda pair: (self.taken[pair], chance.random()))
        if chance.random() < 0.3:
            goal, _ = min(self.pairs, key=lambda pair: (self.tried[pair], chance.random()))
        alone = act in LIVE and goal in SHUT
        spun = [zone for zone, things in self.things.items() if any(t.phases for t in things)]
        zone = chance.choice(spun if goal is Phase.HOLDS and spun else list(self.machine.zones))
        self.person = chance.choice(ABLE)
        if alone or (goal in SHUT and chance.random() < 0.3):
            for other in 2 * list(self.machine.zones):
                self._reach(other, Phase.NONE)
        if not alone and chance.random() < 0.3:  # another zone is somewhere on its way
            self._reach(chance.choice(list(self.machine.zones)), chance.choice((Phase.LOCKING, Phase.DEAD, Phase.BACK)))
        if not self._reach(zone, goal):
            return
        if goal is Phase.DEAD and chance.random() < 0.5:  # somebody joins, and all of it is proved again for them
            self.person = chance.choice(ABLE)
            self._reach(zone, Phase.DEAD)
        if act is Act.PUT_BACK and goal in SHUT:  # entered late
            self._take_off(zone)
            for thing in self.things.get(zone, ()):
                self.say(act, thing.what, self.person)
        if alone:
            self.say(Act.LIVE, "", self.person)
            self.say(act, "", self.person)
        for _ in range(chance.randrange(16)):
            if self.isolation.lockout(zone).phase is goal:
                self._anything()
        for _ in range(chance.randrange(2, 8)):
            if chance.random() < 0.1:
                self._happens()
            if not self._offered():
                break
            if chance.random() < 0.2:
                self.person = chance.choice(ABLE)
            if chance.random() < 0.2:
                self._anything()

    def _reach(self, zone: str, goal: Phase) -> bool:
        """Whether the zone came to that phase, as people would bring it there."""
        self.zone, self.danger, self.waits = zone, False, frozenset()
        for _ in range(80):
            if self.isolation.lockout(zone).phase is goal and (
                goal is not Phase.DEAD or self.ledger.may_work_dead(zone, self.person.name)
            ):
                return True
            step = self._towards(zone, goal)
            if step is None:
                return False
            self.say(step.act, step.target, self.person, offered=bool(step.text))
        return False

    def _towards(self, zone: str, goal: Phase) -> Step | None:
        lockout = self.isolation.lockout(zone)
        here, things = lockout.phase, self.things.get(zone, ())
        turned = zone in self.isolation.turned
        begun = here is Phase.LOCKING and lockout.has(Act.SHUT_DOWN)
        if goal is Phase.STOP and (begun or here in (Phase.DEAD, Phase.BACK)):
            return self._untold(self.chance.choice(STOPS))
        if goal is Phase.BACK and here in AT_WORK:
            return self._untold(Act.BACK)
        if goal is Phase.TESTING and here is Phase.DEAD:
            return self._untold(Act.TEST_POWER)
        if goal is Phase.HOLDS and here is Phase.DEAD:
            if not turned and any(t.phases for t in things):
                self._take_off(zone)
            return self._untold(Act.BACK)
        if goal is Phase.NONE and here in (*AT_WORK, Phase.TESTING):
            return self._untold(Act.BACK)
        if goal is Phase.LOCKING and here is Phase.DEAD:
            return self._untold(Act.ISOLATE_AGAIN if self.chance.random() < 0.5 else Act.BACK)
        wrong_way = here is Phase.BACK and (
            goal not in SHUT or (lockout.again is not (goal is Phase.TESTING) and goal is not Phase.HOLDS)
        )
        wrong_way |= here is Phase.BACK and goal is Phase.HOLDS and not turned
        if here is Phase.STOP or wrong_way or (here in (Phase.TESTING, Phase.HOLDS) and goal not in SHUT):
            return self._untold(Act.ISOLATE_AGAIN)
        for person in (self.person, *ABLE):
            steps = self.isolation.steps(self.machine, zone, person)
            if steps:
                self.person = person
                return self.chance.choice(steps)
        inside = any(of == zone for of, _ in self.ledger.loose) or bool(self.ledger.pins)
        return self._untold(Act.ISOLATE_AGAIN) if here is Phase.BACK and inside and self.chance.random() < 0.5 else None

    # ---- what happens

    def _happens(self) -> None:
        """What nobody says at the gate."""
        what = self.chance.choice(("danger", "waits", "lapse", "gap", "taken off"))
        self.said.append(what)
        if what == "danger":
            self.danger = not self.danger
        elif what == "waits":
            self.waits = frozenset(self.machine.stored)
        elif what == "lapse":
            self.isolation, self.ledger = self.isolation.lapse(), self.ledger.lapse()
        elif what == "gap" and self.chance.random() < 0.2:
            self.isolation, self.ledger = self.isolation.doubted(self.machine), self.ledger.doubt()
        elif what == "taken off":
            self._take_off(self.zone)
        self.judge()

    def _take_off(self, zone: str) -> None:
        """Work takes things off; it may also be entered late."""
        things = self.things.get(zone, ())
        self.isolation = self.isolation.took_off(zone, things)
        self.ledger = self.ledger.take_off(zone, things)

    def _anything(self) -> None:
        """What was tried least in this phase, by anybody, whether or not the gate offers it."""
        phase = self.isolation.lockout(self.zone).phase
        least = min(self.tried[phase, act] for act in Act)
        act = self.chance.choice([act for act in Act if self.tried[phase, act] == least])
        zone = self.machine.zones[self.zone]
        things = [t.what for t in self.things.get(self.zone, ())]
        targets = ["", "nothing", *zone.points, *zone.stored, *zone.test_points, *zone.before_off, *things]
        person = self.person if self.chance.random() < 0.5 else self.chance.choice(OTHERS)
        self.say(act, self.chance.choice(targets), person)

    def _offered(self) -> bool:
        """What the gate offers, and was taken least in this phase. False where it offers nothing."""
        isolation, phase = self.isolation, self.isolation.lockout(self.zone).phase
        steps = isolation.steps(self.machine, self.zone, self.person)
        ways = isolation.ways(self.machine, self.zone, self.person)
        if not steps and not ways:
            return False
        all_of = steps if steps and self.chance.random() < 0.4 else (*steps, *ways, *map(self._untold, STOPS))
        step = min(all_of, key=lambda s: (self.taken[phase, s.act], self.chance.random()))
        self.say(step.act, step.target, self.person, offered=bool(step.text))
        return True

    def _untold(self, act: Act) -> Step:
        """An act without a target, whether or not the gate offers it."""
        return Step(self.zone, act, "", "", 0, "", (), ())

    def say(self, act: Act, target: str, person: Person, offered: bool = False) -> None:
        """One act tried, and everything judged anew. What is offered is taken, but under a danger sign or a wait;
        a step back is offered wherever there is one, and says itself where it goes no further."""
        zone, phase = self.zone, self.isolation.lockout(self.zone).phase
        self.tried[phase, act] += 1
        self.left -= 1
        point = self.machine.test_points.get(target)
        values = {} if point is None or point.below is None else dict.fromkeys(pairs_of(point), point.below / 3)
        given = {"reason": "the site decided", "permit": "P 12", "values": values}
        try:
            after = self.isolation.apply(
                self.machine, zone, act, target, person, **given, danger=self.danger, waiting=self.waits
            )
        except Refused as refused:
            text = str(refused)
            assert 0 < len(text) < 300, f"a refusal without one clear line: {text!r}"
            assert "\n" not in text, f"a refusal of several lines: {text!r}"
            assert not offered or self.danger or act in (Act.RELEASED, Act.RETRACT), (
                f"offered and refused: {act} {target}: {text}"
            )
            return
        self.said.append(f"{person.name} {act} {zone} {target}".rstrip())
        self.taken[phase, act] += 1
        assert not self.danger or act in PAST_DANGER, f"{act} under a danger sign"
        assert act is not Act.RELEASED or target not in self.waits, f"{target} released, and its wait runs"
        inside = act is Act.LIVE or (act in INSIDE and self.machine.zones[zone].electrical)
        may = person.role is not Role.OPERATOR and person.name in NAMES
        may &= (person.authorised or act is Act.LIVE) and (person.qualified or not inside)
        assert may or act in FREE, f"{act} was taken from {person}"
        book = self.ledger.write(zone, act, target if act in NAMED else "", person.name)
        assert {owner for _, owner in self.isolation.locks - after.locks} <= {person.name}, "somebody lost a lock"
        self.isolation, self.ledger = after, book
        self.judge()

    # ---- what must hold

    def judge(self) -> None:
        isolation, ledger = self.isolation, self.ledger
        assert (isolation.off, isolation.locks) == (ledger.off, ledger.locks), "points and locks"
        in_or_out = (isolation.holds, {(t.zone, t.what) for t in isolation.taken}, isolation.turned)
        assert in_or_out == (ledger.pins, ledger.loose, ledger.spun), "what is in, off or turned"
        assert not (why := ledger.left_in()), why
        for person in ABLE:
            opened = set()
            for check in self.checks:
                judge = ledger.may_work_dead if check.access is Access.DEAD else ledger.may_work_live
                may = judge(check.zone, person.name)
                given = permission(self.machine, isolation, person, check)
                assert (given.how, given.now) == (may, may), f"{check.access} in {check.zone} for {person.name}: {may}"
                opened |= {check.access.value} if may else set()
            shown = banner(self.machine, isolation, person)
            assert shown.level not in ("dead", "live") or shown.level in opened, f"the banner says {shown.level}"

    # ---- what was reached

    def missing(self) -> list[str]:
        """Each act that was never tried in a phase, or never taken where it may be."""
        untried = [f"{act} in {phase}: never tried" for phase, act in self.pairs if not self.tried[phase, act]]
        return untried + [f"{a} in {p}: never taken" for p, a in sorted(self.expected) if not self.taken[p, a]]

    def unforeseen(self) -> list[str]:
        """Each act that was taken in a phase where `TAKEN` has it not."""
        return [f"{act} in {phase}" for phase, act in sorted(self.taken) if (phase, act) not in self.expected]


def things_of(machine: Machine) -> dict[str, tuple[TakenOff, ...]]:
    """For each zone a few of the things that work inside takes off there, one with phases and one earth among them."""
    found: dict[str, dict[tuple[bool, bool], TakenOff]] = {}
    for action in (*machine.checks.values(), *machine.remedies.values()):
        for thing in action.takes_off if action.zone in machine.zones else ():
            found.setdefault(action.zone, {}).setdefault((thing.phases, thing.earth), thing)
    return {zone: tuple({t.what: t for t in some.values()}.values()) for zone, some in found.items()}


def machines() -> list[Machine]:
    """Those of `knowledge/`."""
    return [read(path.parent) for path in sorted(KNOWLEDGE.glob("*/machine.yaml"))]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--steps", type=int, default=100_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("machine", nargs="*")
    given = asked.parse_args()
    for machine in machines():
        if given.machine and machine.id not in given.machine:
            continue
        begun = time.process_time()
        roam = Roam(machine, given.seed).run(given.steps)
        taken = sum(roam.taken.values())
        print(f"{machine.id}: {given.steps:,} steps, {taken:,} acts taken, {time.process_time() - begun:.0f} s")
        for line in (*roam.missing(), *(f"{line}: not foreseen" for line in roam.unforeseen())):
            print(f"  {line}")


if __name__ == "__main__":
    main()
