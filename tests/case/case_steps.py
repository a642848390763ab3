"""People, a clock that a test sets, and the ways that many cases go."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from diag.case.case import Case
from diag.case.log.events import Gate
from diag.case.snapshot import Action
from diag.machine.model import Role
from diag.safety import Act, Person, Phase
from diag.safety.measured import pairs_of

OLGA = Person("Olga", Role.OPERATOR)
ANN = Person("Ann", Role.ELECTRICIAN, authorised=True, qualified=True)
BOB = Person("Bob", Role.ENGINEER, authorised=True, qualified=True)
BOX = "control-box"
START = datetime(2026, 11, 25, 3, 0, tzinfo=UTC)


class Ticking:
    """A clock that goes one minute further each time it is read."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        self.now += timedelta(minutes=1)
        return self.now


def gate(case: Case, act: Act, target: str = "", zone: str = BOX, **words: str) -> None:
    case.post(Gate(zone=zone, act=act, target=target, **words))


def lock_out(case: Case, zone: str = BOX) -> None:
    """Every step of the gate, one after another, as the case names them, until nothing is left to confirm. Each label's
    wait is waited for, on a clock that ticks whenever it is read."""
    while steps := case.state.steps[zone]:
        while steps[0].act is Act.RELEASED and case.state.waits.get(steps[0].target, START) > case._clock():
            pass
        values = {}
        if "values" in steps[0].asks:
            values = dict.fromkeys(pairs_of(case.machine.test_points[steps[0].target]), 0.0)
        case.post(Gate(zone=zone, act=steps[0].act, target=steps[0].target, values=values))


def go_back(case: Case, zone: str = BOX) -> None:
    """The whole way back."""
    gate(case, Act.BACK, zone=zone)
    while case.state.lockouts[zone].phase is not Phase.NONE and case.state.steps[zone]:
        step = case.state.steps[zone][0]
        gate(case, step.act, step.target, zone)


def live(case: Case, zone: str = BOX) -> None:
    gate(case, Act.LIVE, zone=zone, reason="A voltage is measured no other way", permit="P-17")


def probability(case: Case, cause: str) -> float:
    return next(c.probability for c in case.advice().causes if c.id == cause)


def next_of(case: Case) -> Action:
    """The one next thing, where there must be one."""
    todo = case.advice().next
    assert todo is not None
    return todo
