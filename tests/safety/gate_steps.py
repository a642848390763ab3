"""Ways through a gate in one line each, for tests."""

from __future__ import annotations

from diag.machine.model import Machine, Role
from diag.safety import Act, Person, Phase, Site

ANN = Person("Ann", Role.ELECTRICIAN, authorised=True, qualified=True)
BOB = Person("Bob", Role.ENGINEER, authorised=True, qualified=True)
EVE = Person("Eve", Role.OPERATOR, authorised=True, qualified=True)
WHY = ("cannot be measured dead", "P 12")


def go(machine: Machine, site: Site, zone: str, person: Person, *acts: Act | tuple[Act, str]) -> Site:
    """These acts, one after the other, in one zone."""
    for said in acts:
        act, target = said if isinstance(said, tuple) else (said, "")
        site = site.apply(machine, zone, act, target, person)
    return site


def onward(machine: Machine, site: Site, zone: str, person: Person, until: Act | None = None) -> Site:
    """The first step that the gate offers, again and again, up to and with `until`, or to its end."""
    while steps := site.steps(machine, zone, person):
        site = site.apply(machine, zone, steps[0].act, steps[0].target, person)
        if steps[0].act is until or site.lockout(zone).phase is Phase.NONE:
            break
    return site


def offered(machine: Machine, zone: str, person: Person, site: Site | None = None) -> list[tuple[str, str]]:
    """Acts and targets in the order in which the gate asks for them, until it asks for nothing more."""
    site, asked = site or Site(), []
    while steps := site.steps(machine, zone, person):
        asked.append((steps[0].act.value, steps[0].target))
        site = site.apply(machine, zone, steps[0].act, steps[0].target, person)
        if site.lockout(zone).phase in (Phase.NONE, Phase.TESTING):
            break
    return asked
