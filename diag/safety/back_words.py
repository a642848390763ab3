"""The words of the return to service: each item by its own name, which locks come off and which stay, and for whom."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from diag.machine.isolation import Zone
from diag.machine.model import Machine
from diag.safety import order
from diag.safety.types import Act
from diag.safety.zone import STANDING, Phase

if TYPE_CHECKING:
    from diag.safety.lockout import Isolation

PLAIN = {
    Act.WORK_SAID: "What was done inside has been entered: each remedy, or nothing was done.",
    Act.TOOLS_OUT: "Tools, meters, test leads, lamps, rags and spare parts are out: counted in, counted out.",
    Act.EARTHS_OUT: "No earth and no short is left inside. From now on it counts as live: touch nothing.",
    Act.GUARDS_ON: "Covers, doors and guards are back in place, with all their fasteners.",
    Act.CONTROLS_OFF: "All controls are off or neutral, and nothing calls for a start by itself.",
    Act.TOLD_BACK: "Those who use the machine have been told that locks are off and power is coming back.",
    Act.ROTATION: "The direction of rotation was looked at before the first run, and it is right.",
}


def texts(machine: Machine, isolation: Isolation, zone: Zone, name: str) -> Iterator[tuple[Act, str, str]]:
    """What this person may confirm next on the return to service: the act, what it names, and its words."""
    due = order.due(machine, isolation, zone, name)
    for n, (act, target) in enumerate(due, 1):
        yield act, target, _text(machine, isolation, zone, act, target, f"{n} of {len(due)}", name)


def _text(machine: Machine, isolation: Isolation, zone: Zone, act: Act, target: str, count: str, name: str) -> str:
    match act:
        case Act.PUT_BACK:
            taken = next(t for t in isolation.taken if (t.zone, t.what) == (zone.id, target))
            return f"{'Out' if taken.earth else 'Back as it was marked'}: {target}; {count} still to come."
        case Act.HOLD_OUT:
            back = machine.stored[target].put_back
            assert back is not None
            where = f" ({back.where})" if back.where else ""
            return f"{machine.stored[target].title}: {back.do}{where}."
        case Act.CLEAR:
            people = ", ".join(sorted(isolation.owners(machine, zone.id)))
            return f"People have been counted by name and seen clear of the machine{': ' + people if people else ''}."
        case Act.LOCKS_OFF:
            return lock_off(machine, isolation, zone, target, name)
        case Act.LAST_LOOK:
            return f"A last look, after the locks of {zone.title}: everyone is clear of the machine."
        case Act.POWER_ON:
            return _power_on(machine, isolation, zone, target)
    return PLAIN[act]


def lock_off(machine: Machine, isolation: Isolation, zone: Zone, target: str, name: str) -> str:
    """Which lock comes off now, and which of this person's stay, with the zone that needs them."""
    off, stay, waits = order.sorted_locks(machine, isolation, zone, name)
    title = {p: machine.points[p].title for p in zone.points}
    parts = [f"Your lock at {title[p]} comes off now." for p in ((target,) if target else off)]
    parts += [f"Your lock at {title[p]} stays: {needed_by(machine, isolation, zone, p)} needs it." for p in stay]
    parts += [f"Your lock at {title[p]} stays until the hold is out." for p in waits]
    others = sorted({f"{n} at {title[p]}" for p, n in isolation.locks if n != name and p in zone.points})
    if others:
        parts.append(f"Others' locks stay: {', '.join(others)}.")
    return " ".join(parts)


def needed_by(machine: Machine, isolation: Isolation, zone: Zone, point: str) -> str:
    """The other zones that stand on a point, by their titles."""
    return ", ".join(
        machine.zones[o.zone].title
        for o in isolation.lockouts
        if o.zone != zone.id and o.phase in STANDING and point in machine.zones[o.zone].points
    )


def _power_on(machine: Machine, isolation: Isolation, zone: Zone, target: str) -> str:
    """Which point goes on, and which stay off for whom. Nobody is told that the power is back where it is not."""
    stay = [
        f"{machine.points[p].title} stays off: {needed_by(machine, isolation, zone, p)} needs it."
        for p in zone.points
        if isolation.held(machine, zone.id, p)
    ]
    on = f"{machine.points[target].title} is on again." if target else "Nothing is switched on here."
    return " ".join([on, *stay])


def titles(machine: Machine, act: Act, targets: Iterable[str]) -> tuple[str, ...]:
    """Points and energies by their titles; what was taken off goes by its own words."""
    where = machine.points if act in (Act.POWER_ON, Act.LOCKS_OFF) else machine.stored if act is Act.HOLD_OUT else {}
    return tuple(where[t].title if t in where else t for t in targets)


def waits_for_hold(machine: Machine, isolation: Isolation, zone: Zone) -> str:
    """Why no power comes and no lock comes off yet: another zone stands on what is still held in."""
    held = order.cold_in(machine, isolation, zone)
    others = {
        machine.zones[o.zone].title
        for o in isolation.lockouts
        for s in held
        if o.zone != zone.id and s in machine.zones[o.zone].stored
    }
    what = ", ".join(machine.stored[s].title for s in held)
    return f"{what}: the hold is still in for {', '.join(sorted(others))}. It comes out there first."


def waited_for(machine: Machine, isolation: Isolation, zone: Zone, name: str) -> str:
    """Why this person may confirm nothing on the return to service now."""
    lockout, owners = isolation.lockout(zone.id), isolation.owners(machine, zone.id)
    if lockout.phase is Phase.HOLDS:
        return f"{zone.title}: another zone still stands on its points or holds. The rest waits until they are on."
    if not lockout.has(Act.GUARDS_ON) and name not in isolation.crew(machine, zone.id):
        return "Something is still inside. It is taken out with your lock on each point: isolate again first."
    if order.cold_in(machine, isolation, zone) and (not owners or name in owners):
        return waits_for_hold(machine, isolation, zone)
    names = ", ".join(sorted(owners))
    return f"Locks are still on: {names}. Owners take off their own; for an absent one the site has its procedure."
