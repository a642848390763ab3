"""Ways through a gate in one line each, for tests."""

from __future__ import annotations

from diag.machine.model import Machine, Role
from diag.safety import Act, Isolation, Person, Phase, Step
from diag.safety.measured import pairs_of

ANN = Person("Ann", Role.ELECTRICIAN, authorised=True, qualified=True)
BOB = Person("Bob", Role.ENGINEER, authorised=True, qualified=True)
EVE = Person("Eve", Role.OPERATOR, authorised=True, qualified=True)
OUT = (Act.WORK_SAID, Act.TOOLS_OUT, Act.EARTHS_OUT, Act.GUARDS_ON, Act.CONTROLS_OFF, Act.CLEAR)
"""The return to service of an electrical zone that was opened, from its beginning to the locks."""
WHY = ("cannot be measured dead", "P 12")


def go(machine: Machine, isolation: Isolation, zone: str, person: Person, *acts: Act | tuple[Act, str]) -> Isolation:
    """These acts, one after the other, in one zone."""
    for said in acts:
        act, target = said if isinstance(said, tuple) else (said, "")
        isolation = isolation.apply(machine, zone, act, target, person)
    return isolation


def confirm(machine: Machine, isolation: Isolation, step: Step, person: Person) -> Isolation:
    """This step, with a dead reading for each pair where a meter's readings are asked for."""
    values = {}
    if "values" in step.asks:
        values = dict.fromkeys(pairs_of(machine.test_points[step.target]), 0.0)
    return isolation.apply(machine, step.zone, step.act, step.target, person, values=values)


def onward(machine: Machine, isolation: Isolation, zone: str, person: Person, until: Act | None = None) -> Isolation:
    """The first step that the gate offers, again and again, up to and with `until`, or to its end."""
    while steps := isolation.steps(machine, zone, person):
        isolation = confirm(machine, isolation, steps[0], person)
        if steps[0].act is until or isolation.lockout(zone).phase is Phase.NONE:
            break
    return isolation


def offered(machine: Machine, zone: str, person: Person, isolation: Isolation | None = None) -> list[tuple[str, str]]:
    """Acts and targets in the order in which the gate asks for them, until it asks for nothing more."""
    isolation, asked = isolation or Isolation(), []
    while steps := isolation.steps(machine, zone, person):
        asked.append((steps[0].act.value, steps[0].target))
        isolation = confirm(machine, isolation, steps[0], person)
        if isolation.lockout(zone).phase in (Phase.NONE, Phase.TESTING):
            break
    return asked
