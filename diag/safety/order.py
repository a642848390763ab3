"""The order of the return to service, each item by its own name, for one zone.

No single text holds all of it. Tools, jumpers, shorts and earths out, people warned off, each lock by its owner and the
look that everybody is clear last of all: 29 CFR 1910.333(b)(2)(v). People placed, each device off by its owner, users
told after that and before the start: 1910.147(e)(1)-(3); controls in neutral before the locks come off: its appendix A.
Earths out as the last act inside, and as soon as they are out the part counts as live: EN 50110-1 6.2. The same order
binds power for a test: 1910.147(f)(1).

1. What was done is entered, or nothing was; asked where the zone was opened.
2. Everything that was taken off is back as marked; then the holds of stored energy that lie inside, in the file's
   order; then the tools; then earths and shorts.
3. Covers, guards and doors; then the holds outside. Those that come out only under power wait for the power.
4. Controls off, people counted and clear, the locks by name, a last look, users told, power back point by point.
5. Holds that come out under power; direction of rotation where phases were disconnected.

What is still inside is taken out by somebody whose own lock is on every point; where nobody's is, the zone is isolated
again first. A hold that another zone also stands on stays in, and comes out when the last such zone returns to service.
Until then no point of its own goes on here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from diag.machine.isolation import PutBack, Zone
from diag.machine.model import Machine
from diag.safety.types import Act
from diag.safety.zone import AT_WORK, STANDING, Lockout, Phase

if TYPE_CHECKING:
    from diag.safety.lockout import Isolation

Due = tuple[tuple[Act, str], ...]
"""What may be confirmed next: acts, each with the point, energy or thing that it names."""

WAY_BACK = (
    *(Act.WORK_SAID, Act.PUT_BACK, Act.HOLD_OUT, Act.TOOLS_OUT, Act.EARTHS_OUT, Act.GUARDS_ON, Act.CONTROLS_OFF),
    *(Act.CLEAR, Act.LAST_LOOK, Act.TOLD_BACK, Act.POWER_ON, Act.ROTATION),
)
"""Acts of the return to service but for the locks, which each owner takes off."""


def due(machine: Machine, isolation: Isolation, zone: Zone, name: str, old: bool = False) -> Due:
    """What this person may confirm next on the return to service of a zone; nothing while somebody or something else is
    waited for. `old`: as entries of earlier casebooks had it, without what is named here one by one."""
    lockout = isolation.lockout(zone.id)
    if lockout.phase is Phase.HOLDS:
        return _under_power(machine, isolation, zone)
    said = {confirmed.act for confirmed in lockout.trail}

    def once(*acts: Act) -> Due:
        for act in acts:
            if act not in said:
                return ((act, ""),)
        return ()

    if old:
        before = once(Act.TOOLS_OUT, Act.GUARDS_ON, Act.CLEAR)
    else:
        earths = _things(isolation, zone, earth=True)
        inside = _things(isolation, zone, earth=False) or _cold(machine, isolation, zone, inside=True)
        if (inside or earths) and name not in isolation.crew(machine, zone.id):
            return ()
        if not earths and zone.electrical and lockout.entered:
            earths = once(Act.EARTHS_OUT)
        before = (
            (once(Act.WORK_SAID) if lockout.entered else ())
            or inside
            or once(Act.TOOLS_OUT)
            or earths
            or once(Act.GUARDS_ON)
            or _cold(machine, isolation, zone, inside=False)
            or once(Act.CONTROLS_OFF, Act.CLEAR)
        )
    if before:
        return before
    owners = isolation.owners(machine, zone.id)
    if owners:
        return locks(machine, isolation, zone, name, old) if name in owners else ()
    return once(Act.TOLD_BACK) if old and once(Act.TOLD_BACK) else _power(machine, isolation, zone, lockout, old)


def ahead(machine: Machine, isolation: Isolation, zone: Zone) -> Due:
    """All that is still to come on the return to service of a zone, as far as it can be told; a lock is named by its
    point, once for each owner."""
    lockout = isolation.lockout(zone.id)
    found: list[tuple[Act, str]] = []

    def once(*acts: Act) -> None:
        found.extend((act, "") for act in acts if not lockout.has(act))

    def holds(inside: bool) -> None:
        for s in in_order(machine, zone):
            back = _back(machine, s)
            now = s in cold_in(machine, isolation, zone) and back.inside is inside
            if now and not minded(machine, isolation, zone.id, s):
                found.append((Act.HOLD_OUT, s))

    if lockout.phase is Phase.BACK:
        once(*(Act.WORK_SAID,) * lockout.entered)
        found.extend(_things(isolation, zone, earth=False))
        holds(inside=True)
        once(Act.TOOLS_OUT)
        found.extend(_things(isolation, zone, earth=True))
        once(*(Act.EARTHS_OUT,) * (zone.electrical and lockout.entered), Act.GUARDS_ON)
        holds(inside=False)
        once(Act.CONTROLS_OFF, Act.CLEAR)
        locks_on = sorted(isolation.locks)
        found.extend((Act.LOCKS_OFF, p) for p in zone.points for q, n in locks_on if p == q and n not in lockout.left)
        once(Act.LAST_LOOK, Act.TOLD_BACK)
        free = free_points(machine, isolation, zone)
        found.extend((Act.POWER_ON, p) for p in free or ("",))
    found.extend((Act.HOLD_OUT, s) for s in under_power_in(machine, isolation, zone))
    if zone.id in isolation.turned:
        found.append((Act.ROTATION, ""))
    return tuple(found)


def locks(machine: Machine, isolation: Isolation, zone: Zone, name: str, old: bool = False) -> Due:
    """The locks of this person that come off now, by their points; or their leave where all of them stay for another
    zone. Nothing while a hold keeps them on."""
    off, stay, waits = sorted_locks(machine, isolation, zone, name, old)
    if off:
        return tuple((Act.LOCKS_OFF, p) for p in off)
    return () if waits or not stay else ((Act.LOCKS_OFF, ""),)


def sorted_locks(
    machine: Machine, isolation: Isolation, zone: Zone, name: str, old: bool = False
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """The points of a person's locks here: those that come off now, those that another zone of theirs needs, and those
    that stay until a hold is out that another zone stands on. In the file's order."""
    mine = [p for p in zone.points if (p, name) in isolation.locks]
    stay = tuple(p for p in mine if isolation.held(machine, zone.id, p, name))
    rest = [p for p in mine if p not in stay]
    waits: tuple[str, ...] = ()
    if not old and isolation.lockout(zone.id).phase is Phase.BACK and cold_in(machine, isolation, zone):
        waits = tuple(p for p in rest if not isolation.held(machine, zone.id, p))
    return tuple(p for p in rest if p not in waits), stay, waits


def free_points(machine: Machine, isolation: Isolation, zone: Zone) -> tuple[str, ...]:
    """The points of the zone that are off and that no other zone stands on."""
    return tuple(p for p in zone.points if p in isolation.off and not isolation.held(machine, zone.id, p))


def cold_in(machine: Machine, isolation: Isolation, zone: Zone) -> tuple[str, ...]:
    """The stored energies of the zone whose hold is in and comes out before the power."""
    if not isolation.holds:
        return ()
    return tuple(s for s in zone.stored if s in isolation.holds and not _back(machine, s).under_power)


def minded(machine: Machine, isolation: Isolation, zone: str, stored: str) -> bool:
    """Another zone stands on this stored energy too and has its hold still before it on its own return to service."""
    back = _back(machine, stored)
    past = Act.GUARDS_ON if back.inside else Act.CONTROLS_OFF
    for other in isolation.lockouts:
        if other.zone == zone or stored not in machine.zones[other.zone].stored:
            continue
        if other.phase in AT_WORK:
            return True
        if other.phase is Phase.BACK and (back.under_power or not other.has(past)):
            return True
    return False


def alone(machine: Machine, isolation: Isolation, zone: Zone) -> bool:
    """A hold of this zone is in that no other zone would take out, or something is off that belongs here."""
    if any(t.zone == zone.id for t in isolation.taken) or zone.id in isolation.turned:
        return True
    for s in zone.stored:
        if s in isolation.holds and not minded(machine, isolation, zone.id, s):
            later = _back(machine, s).under_power and any(
                o.phase is Phase.HOLDS and o.zone != zone.id and s in machine.zones[o.zone].stored
                for o in isolation.lockouts
            )
            if not later:
                return True
    return False


def under_power_in(machine: Machine, isolation: Isolation, zone: Zone) -> tuple[str, ...]:
    """The stored energies of the zone whose hold is in and comes out under power, in their order."""
    if not isolation.holds:
        return ()
    return tuple(s for s in in_order(machine, zone) if s in isolation.holds and _back(machine, s).under_power)


def in_order(machine: Machine, zone: Zone) -> tuple[str, ...]:
    """The stored energies of a zone that are held, as their holds come out: the file's order, and what says `after`
    later than what it names."""
    left = [s for s in zone.stored if machine.stored[s].put_back is not None]
    found: list[str] = []
    while left:
        ready = next((s for s in left if not set(_back(machine, s).after) & set(left)), left[0])
        left.remove(ready)
        found.append(ready)
    return tuple(found)


def _back(machine: Machine, stored: str) -> PutBack:
    back = machine.stored[stored].put_back
    assert back is not None
    return back


def _things(isolation: Isolation, zone: Zone, earth: bool) -> Due:
    """What was taken off in this zone and is not back."""
    if not isolation.taken:
        return ()
    return tuple((Act.PUT_BACK, t.what) for t in sorted(isolation.taken) if t.zone == zone.id and t.earth is earth)


def _cold(machine: Machine, isolation: Isolation, zone: Zone, inside: bool) -> Due:
    """The first hold that comes out now; none that another zone still stands on."""
    for s in in_order(machine, zone) if isolation.holds else ():
        back = _back(machine, s)
        now = s in isolation.holds and not back.under_power and back.inside is inside
        if now and not minded(machine, isolation, zone.id, s):
            return ((Act.HOLD_OUT, s),)
    return ()


def _power(machine: Machine, isolation: Isolation, zone: Zone, lockout: Lockout, old: bool) -> Due:
    for act in () if old else (Act.LAST_LOOK, Act.TOLD_BACK):
        if not lockout.has(act):
            return ((act, ""),)
    free = free_points(machine, isolation, zone)
    if old or not free:
        return ((Act.POWER_ON, ""),)
    if cold_in(machine, isolation, zone):
        return ()
    return tuple((Act.POWER_ON, p) for p in free)


def _under_power(machine: Machine, isolation: Isolation, zone: Zone) -> Due:
    """What comes once every point of the zone is on again."""
    if isolation.off & set(zone.points):
        return ()
    for s in under_power_in(machine, isolation, zone):
        if any(
            o.zone != zone.id and o.phase in STANDING and s in machine.zones[o.zone].stored for o in isolation.lockouts
        ):
            return ()
        return ((Act.HOLD_OUT, s),)
    return ((Act.ROTATION, ""),) if zone.id in isolation.turned else ()
