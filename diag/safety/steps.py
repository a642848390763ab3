"""The words of the gate: what may be confirmed next, what else may be said, and why something may not be said now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diag.machine.model import Machine, Role
from diag.machine.site import Zone
from diag.safety.types import Act, Person, Refused, Step
from diag.safety.zone import PAST_DANGER, Lockout, Phase, first_of_proof

if TYPE_CHECKING:
    from diag.safety.lockout import Site

INSIDE = (Act.OPENED, Act.METER_PROVED, Act.TESTED_DEAD)

PLAIN = {
    Act.TOLD: "Everybody who works at or near the machine is told that it will be locked out.",
    Act.SHUT_DOWN: "The machine is shut down by its own controls, and it stands still.",
    Act.OPENED: "The enclosure is opened as if everything in it were live.",
    Act.TOOLS_OUT: "All tools, leads and parts are out.",
    Act.GUARDS_ON: "Covers, doors and guards are back on.",
    Act.CLEAR: "Everybody is clear of the machine.",
    Act.LOCKS_OFF: "You take off your own locks, and only your own.",
    Act.TOLD_BACK: "Everybody is told that the locks are off and the power comes back.",
    Act.BACK: "Go the way back: tools out, guards on, people clear, locks off, people told, power on.",
    Act.TEST_POWER: "Power is wanted for a test: the way back first, and after the test isolate and prove again.",
    Act.RETRACT: "The last confirmation was a mistake: take it back.",
    Act.LIVE: "Live work in this zone: it cannot be done dead, and the site permits it.",
    Act.LIVE_OVER: "The live work is over and the enclosure is closed.",
}


def needs(zone: Zone, act: Act) -> str:
    """Whom an act asks for. Testing for the absence of voltage asks for a qualified person (29 CFR 1910.333(b)(2)(iv)),
    everything else at the gate for an authorised one (1910.147(b))."""
    if act in PAST_DANGER or act is Act.LOCKS_OFF:
        return ""
    return "qualified" if act is Act.LIVE or (act in INSIDE and zone.electrical) else "authorised"


def entitled(zone: Zone, act: Act, person: Person) -> None:
    """Raises `Refused` when this person may not do this at all.

    What only takes permission away asks for nothing, and a lock for no more than its owner.
    """
    if not person.name.strip():
        raise Refused("Say who you are first.")
    asked = needs(zone, act)
    if not asked:
        return
    if person.role is Role.OPERATOR:
        raise Refused("An operator does not lock out or go inside. Call an electrician or an engineer.")
    if asked == "qualified" and not person.qualified:
        raise Refused("This step is for a person who is qualified to work near live parts.")
    if act is not Act.LIVE and not person.authorised:
        raise Refused("This step is for a person who is authorised to lock out.")


def unprovable(zone: Zone) -> str:
    """Why a zone can never be proved dead: its file names nothing to isolate or to test. Empty when it can."""
    for what, found in (("isolation point", zone.points), ("test point", zone.test_points)):
        if not found:
            return f"{zone.title} names no {what} in the machine file, so it cannot be proved dead. Call."
    return ""


def named(zone: Zone, lockout: Lockout, act: Act, target: str, name: str) -> str:
    """The target that a step needs, or an empty string. Raises `Refused`."""
    if act is Act.RELEASED:
        left = tuple(s for s in zone.stored if s not in lockout.targets(act))
    elif act is Act.TESTED_DEAD:
        left = untested(zone, lockout, name)
    else:
        return ""
    if target not in left:
        raise Refused("Say which one: " + ", ".join(left) + ".")
    return target


def untested(zone: Zone, lockout: Lockout, name: str) -> tuple[str, ...]:
    """The test points that this person's proof still asks for, in file order; all of them for a new proof."""
    tested = set() if lockout.phase is Phase.DEAD else {c.target for c in lockout.run(name)}
    return tuple(t for t in zone.test_points if t not in tested)


def steps(machine: Machine, site: Site, zone: str, person: Person) -> tuple[Step, ...]:
    """See `Site.steps`."""
    due = site.due(machine, zone, person.name)
    if due is Act.TOLD and unprovable(machine.zones[zone]):
        return ()
    if due is None or (person.role is Role.OPERATOR and needs(machine.zones[zone], due)):
        return ()
    return _due(machine, site, machine.zones[zone], due, person.name)


def _due(machine: Machine, site: Site, zone: Zone, due: Act, name: str) -> tuple[Step, ...]:
    lockout = site.lockout(zone.id)
    match due:
        case Act.OFF_AND_LOCKED:
            return _points(machine, site, zone, name)
        case Act.RELEASED:
            left = (machine.stored[s] for s in zone.stored if s not in lockout.targets(due))
            return tuple(_step(zone, due, s.id, f"{s.title}: {s.release}.", wait=s.wait) for s in left)
        case Act.START_TRIED:
            text = "Everybody is clear. A start was tried, nothing moved, and the control is back at off."
            return (_step(zone, due, "", text, fails=(Act.MOVED,)),)
        case Act.METER_PROVED:
            again = lockout.phase is Phase.LOCKING and bool(lockout.run(name))
            text = (
                "The same meter is proved again on a known source."
                if again
                else "The meter is proved on a known source."
            )
            return (_step(zone, due, "", text, fails=(Act.METER_FAILED,)),)
        case Act.TESTED_DEAD:
            fails = (Act.VOLTAGE_FOUND, Act.METER_FAILED) if zone.electrical else (Act.VOLTAGE_FOUND, Act.MOVED)
            points = (machine.test_points[t] for t in untested(zone, lockout, name))
            return tuple(_step(zone, due, t.id, f"{t.title}: tested, {t.expects}.", fails=fails) for t in points)
        case Act.POWER_ON:
            return (_step(zone, due, "", _power_on(machine, site, zone)),)
        case Act.ISOLATE_AGAIN:
            return (_again(zone, lockout),)
    return (_step(zone, due, "", PLAIN[due]),)


def _points(machine: Machine, site: Site, zone: Zone, name: str) -> tuple[Step, ...]:
    remaining = site.remaining(machine, zone.id, name)
    found = []
    if len(remaining) > 1 and site.off.issuperset(remaining):
        titles = ", ".join(machine.points[p].title for p in remaining)
        found.append(_step(zone, Act.OFF_AND_LOCKED, "", f"Your own lock is on each of: {titles}."))
    for id in remaining:
        point = machine.points[id]
        foreign = ", which feeds in from outside this machine," if point.foreign else ""
        where = f" ({point.where})" if point.where else ""
        text = f"{point.title}{where}{foreign} is off, with your own lock on it."
        found.append(_step(zone, Act.OFF_AND_LOCKED, id, text))
    return tuple(found)


def _power_on(machine: Machine, site: Site, zone: Zone) -> str:
    stay = [machine.points[p].title for p in zone.points if site.held(machine, zone.id, p)]
    if not stay:
        return "The isolation points are back on."
    return f"Back on, except what another zone stands on: {', '.join(stay)} stays off."


def _again(zone: Zone, lockout: Lockout) -> Step:
    if lockout.phase is Phase.STOP:
        text = "The site found the reason and decided. People are told, every lock is checked: prove it all again."
        return _step(zone, Act.ISOLATE_AGAIN, "", text, asks=("reason",))
    before = "The test is over. " if lockout.phase is Phase.TESTING else ""
    return _step(zone, Act.ISOLATE_AGAIN, "", f"{before}People are told: isolate, lock and prove it dead again.")


def ways(machine: Machine, site: Site, zone: str, person: Person) -> tuple[Step, ...]:
    """See `Site.ways`."""
    z, lockout, name = machine.zones[zone], site.lockout(zone), person.name
    found: list[Step] = []
    if lockout.phase is Phase.DEAD:
        if name in site.crew(machine, zone) & lockout.covered and site.uncovered(machine, zone):
            found += _due(machine, site, z, first_of_proof(z), name)
        found.append(_step(z, Act.TEST_POWER, "", PLAIN[Act.TEST_POWER]))
    if lockout.phase in (Phase.LOCKING, Phase.DEAD, Phase.STOP, Phase.TESTING):
        text = (
            "The test is over and nothing is left to do inside." if lockout.phase is Phase.TESTING else PLAIN[Act.BACK]
        )
        found.append(_step(z, Act.BACK, "", text))
    if lockout.phase in (Phase.STOP, Phase.BACK):
        found.append(_again(z, lockout))
    if lockout.phase in (Phase.LOCKING, Phase.DEAD, Phase.STOP):
        leaving = name in site.owners(machine, zone) and site.crew(machine, zone) - {name}
        if leaving:
            found.append(
                _step(z, Act.LOCKS_OFF, "", "You are done here and clear of the machine: " + PLAIN[Act.LOCKS_OFF])
            )
    if lockout.trail and lockout.phase in (Phase.LOCKING, Phase.DEAD, Phase.BACK):
        found.append(_step(z, Act.RETRACT, "", PLAIN[Act.RETRACT]))
    if site.live is not None and site.live.zone == zone:
        found.append(_step(z, Act.LIVE_OVER, "", PLAIN[Act.LIVE_OVER]))
    elif site.live is None and z.electrical and site.closed and site.energised(machine):
        found.append(_step(z, Act.LIVE, "", PLAIN[Act.LIVE], asks=("reason", "permit")))
    if person.role is Role.OPERATOR:
        return tuple(s for s in found if not s.needs)
    return tuple(found)


def not_now(machine: Machine, site: Site, zone: Zone, due: Act | None, name: str) -> str:
    """Why an act is refused where another one is due, and which."""
    lockout = site.lockout(zone.id)
    if lockout.phase is Phase.STOP:
        return f"{zone.title} is stopped. Call; then the way back, or the whole proof again once the site has decided."
    if due is None and lockout.phase is Phase.BACK:
        names = ", ".join(sorted(site.owners(machine, zone.id)))
        return f"Locks are still on: {names}. Each takes off their own; for an absent one the site has its procedure."
    if due is None:
        return f"{zone.title} is proved dead already."
    return "Not yet. Next: " + _due(machine, site, zone, due, name)[0].text


def stopped(zone: Zone, found: Act | None) -> str:
    """What a stopped zone says, in one line."""
    match found:
        case Act.MOVED:
            what = "Something moved at the start attempt"
        case Act.METER_FAILED:
            what = "The meter did not prove"
        case None:
            what = "The record has a gap"
        case _:
            what = "Voltage found" if zone.electrical else "Energy found"
    return f"{what}: {zone.title} is not dead. Keep out and call."


def _step(
    zone: Zone,
    act: Act,
    target: str,
    text: str,
    wait: float = 0.0,
    fails: tuple[Act, ...] = (),
    asks: tuple[str, ...] = (),
) -> Step:
    text = text.replace("..", ".")
    return Step(zone.id, act, target, text, wait=wait, needs=needs(zone, act), fails=fails, asks=asks)
