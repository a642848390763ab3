"""Long random ways through the gate of four zones by three persons, held against the ledger at every step."""

from __future__ import annotations

import gate_machines
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from ledger import Ledger

from diag.machine.model import Access, Check, Role
from diag.safety import Act, Isolation, Person, Refused, banner, permission
from diag.safety.banners import ALLOWS, TITLE

HALL = gate_machines.hall()
ZONES = tuple(HALL.zones)
CHECKS = tuple(
    Check(id="c", title="c", gives=(), do="", minutes=1, access=access, zone=zone, who=tuple(Role))
    for access in (Access.DEAD, Access.LIVE)
    for zone in ZONES
)
NAMES = ("Ann", "Bob", "Cem")
people = st.builds(
    Person,
    st.sampled_from(NAMES),
    st.sampled_from([Role.ELECTRICIAN, Role.ELECTRICIAN, Role.ENGINEER, Role.OPERATOR]),
    st.sampled_from([True, True, True, False]),
    st.sampled_from([True, True, True, False]),
)
able = st.sampled_from([Person(name, Role.ELECTRICIAN, True, True) for name in NAMES])
targets = st.sampled_from(["", "nothing", *HALL.points, *HALL.stored, *HALL.test_points])


class Gate(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.isolation, self.ledger, self.refusal = Isolation(), Ledger(HALL), "-"

    def say(self, zone: str, act: Act, target: str, person: Person) -> None:
        try:
            self.isolation = self.isolation.apply(HALL, zone, act, target, person, "no other way", "P 12")
        except Refused as refused:
            self.refusal = str(refused)
            return
        named = act in (Act.OFF_AND_LOCKED, Act.LOCKS_OFF, Act.RELEASED, Act.TESTED_DEAD)
        fit = person.role is not Role.OPERATOR and (person.authorised or act is Act.LIVE)
        self.ledger = self.ledger.write(zone, act, target if named else "", person.name, fit)

    @rule(zone=st.sampled_from(ZONES), person=able, count=st.integers(1, 14))
    def go_on(self, zone: str, person: Person, count: int) -> None:
        """The next steps that the gate offers, as most people use it."""
        for _ in range(count):
            steps = self.isolation.steps(HALL, zone, person)
            if not steps:
                return
            self.say(zone, steps[0].act, steps[0].target, person)

    @rule(zone=st.sampled_from(ZONES), person=people, which=st.integers(0, 9))
    def another_way(self, zone: str, person: Person, which: int) -> None:
        ways = (*self.isolation.ways(HALL, zone, person), *self.isolation.steps(HALL, zone, person))
        if ways:
            step = ways[which % len(ways)]
            self.say(zone, step.act, step.target, person)

    @rule(zone=st.sampled_from(ZONES), person=people, act=st.sampled_from(Act), of=targets)
    def anything(self, zone: str, person: Person, act: Act, of: str) -> None:
        self.say(zone, act, of, person)

    @rule()
    def resume(self) -> None:
        self.isolation, self.ledger = self.isolation.lapse(), self.ledger.lapse()

    @rule(sure=st.integers(0, 5))
    def lose_an_entry(self, sure: int) -> None:
        if sure == 5:
            self.isolation, self.ledger = self.isolation.doubted(HALL), self.ledger.doubt()

    @invariant()
    def rule_and_ledger_agree(self) -> None:
        assert (self.isolation.off, self.isolation.locks) == (self.ledger.off, self.ledger.locks)
        for name in NAMES:
            for person in (Person(name, Role.ELECTRICIAN, True, True), Person(name, Role.OPERATOR, True, True)):
                for check in CHECKS:
                    judge = self.ledger.may_work_dead if check.access is Access.DEAD else self.ledger.may_work_live
                    may = person.role is not Role.OPERATOR and judge(check.zone, name)
                    given = permission(HALL, self.isolation, person, check)
                    assert (given.how, given.now) == (may, may)

    @invariant()
    def refusals_are_one_clear_line(self) -> None:
        assert 0 < len(self.refusal) < 300
        assert "\n" not in self.refusal

    @invariant()
    def banner_says_no_more_than_the_rule(self) -> None:
        for name in NAMES:
            person = Person(name, Role.ELECTRICIAN, True, True)
            shown = banner(HALL, self.isolation, person)
            open_to = {c.access.value for c in CHECKS if permission(HALL, self.isolation, person, c).how}
            assert shown.level not in ("dead", "live") or shown.level in open_to
            assert shown.level != "energised" or self.isolation.energised(HALL) or self.isolation.closed
            assert 0 < len(shown.title) <= TITLE
            assert 0 < len(shown.allows) <= ALLOWS


Gate.TestCase.settings = settings(max_examples=150, stateful_step_count=40, deadline=None)


class TestGate(Gate.TestCase):
    """Collected by its name; the settings above say how much."""

    settings = Gate.TestCase.settings
