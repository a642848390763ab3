"""The one rule that every door passes: may this person be shown how to do this, and may it be taken as done, now?

No screen and no command decides this for itself. The rule reads the machine, its isolation (lockouts and live work),
the person, and three facts of the case: whether a danger sign stands, how many resets were done, and whether a
protective device has operated whose cause is not found.

- Outside work: its instructions are open to everybody whose role may do it. Its answer waits for the right energy.
- Dead work: only in a zone that is proved dead for this person (29 CFR 1910.147, 1910.333(b)).
- Live work: only under this person's own acknowledgement for that zone, with every zone closed and the power on
  (1910.333(a)(1) and (c)(2)).
- A danger sign leaves nothing but the call.
"""

from __future__ import annotations

from collections.abc import Mapping

from diag.machine.isolation import Zone
from diag.machine.model import Access, Check, Danger, Energy, Machine, Remedy, Reset, Role
from diag.safety.lockout import Isolation, Phase
from diag.safety.steps import stopped, unprovable
from diag.safety.types import Aged, Permission, Person

NOT_AGED: Mapping[str, Aged] = {}


def danger(machine: Machine, standing: Mapping[str, str]) -> Danger | None:
    """The first danger sign of the file that the latest states show: all of its `when` must hold."""
    return next((sign for sign in machine.dangers if shows_danger(sign, standing)), None)


def shows_danger(sign: Danger, standing: Mapping[str, str]) -> bool:
    """Whether these states show the sign."""
    return bool(sign.when) and all(standing.get(indication) in states for indication, states in sign.when)


def dead_zones(machine: Machine, isolation: Isolation, person: Person) -> frozenset[str]:
    """The zones in which this person may do dead work now."""
    if person.role is Role.OPERATOR or not person.authorised:
        return frozenset()
    return frozenset(zone for zone in machine.zones if isolation.dead(machine, zone, person.name))


def live_zones(machine: Machine, isolation: Isolation, person: Person) -> frozenset[str]:
    """The zone in which this person may do live work now, or none."""
    live = isolation.live
    if live is None or live.person != person.name or person.role is Role.OPERATOR or not person.qualified:
        return frozenset()
    return frozenset({live.zone}) if isolation.ready(machine) else frozenset()


def permission(
    machine: Machine,
    isolation: Isolation,
    person: Person,
    action: Check | Remedy | Reset,
    *,
    danger: bool = False,
    resets: int = 0,
    protective: bool = False,
    aged: Mapping[str, Aged] = NOT_AGED,
    tagged: str = "",
) -> Permission:
    """What this person may be shown and may answer now.

    `resets`: all resets that count at this machine. `protective`: a protective device has operated and its cause is not
    found. `aged`: zones whose proof of dead is made again first. Nothing more is begun there; what was done may be
    entered. `tagged`: a name on a danger tag that stands; no reset is done while one does.
    """
    access = Access.OUTSIDE if isinstance(action, Reset) else action.access
    if danger:
        return _no(access, "A danger sign stands. Keep away and call.", "call")
    if person.role not in action.who:
        return _no(access, f"This is for {_or(action.who)}. Call.", "call")
    if isinstance(action, Reset):
        return _no(access, tag_stands(tagged)) if tagged else _reset(machine, isolation, person, resets, protective)
    if access is Access.OUTSIDE:
        answer = Permission(True, True, "From outside, with everything closed.")
    else:
        answer = _inside(machine, isolation, person, access, action.zone)
        if answer.now and access is Access.DEAD and action.zone in aged:
            why = aged[action.zone].why or f"It was proved dead more than {machine.proof_holds:g} min ago."
            answer = Permission(False, True, f"{why} Test again before you touch anything.", access, "lock")
    wanted = action.energy if isinstance(action, Check) else Energy.ANY
    return _with_energy(answer, wanted, isolation.energised(machine))


def _with_energy(answer: Permission, wanted: Energy, on: bool) -> Permission:
    """An observation in the wrong energy state tells nothing: the way may be shown, its answer waits."""
    if not answer.now or wanted is Energy.ANY or (wanted is Energy.ON) is on:
        return answer
    if wanted is Energy.ON:
        return Permission(answer.how, False, "It needs the power on. Return to service first.", answer.needs, "restore")
    return Permission(answer.how, False, "It needs the power off and locked out.", answer.needs, "isolate")


def _inside(machine: Machine, isolation: Isolation, person: Person, access: Access, id: str) -> Permission:
    zone, live = machine.zones.get(id), access is Access.LIVE
    if zone is None or (live and not zone.electrical):
        kind = "electrical zone" if live else "zone"
        return _no(access, f"The machine file names no {kind} for this work, so it stays closed. Call.", "call")
    if person.role is Role.OPERATOR:
        return _no(access, "Operators do not go inside. Call.", "call")
    if live:
        return _live(machine, isolation, person, zone)
    return _dead(machine, isolation, person, zone)


def _dead(machine: Machine, isolation: Isolation, person: Person, zone: Zone) -> Permission:
    access, lockout = Access.DEAD, isolation.lockout(zone.id)
    if not person.authorised:
        return _no(access, "It needs a person who is authorised to lock out. Call one.", "call")
    if zone.id in dead_zones(machine, isolation, person):
        return Permission(True, True, f"{zone.title} is proved dead, with your locks on.", access)
    if lockout.phase is Phase.STOP:
        return _no(access, stopped(zone, lockout.found), "call")
    if why := unprovable(zone):
        return _no(access, why, "call")
    if lockout.phase is not Phase.DEAD:
        return _no(access, f"First lock out {zone.title} and prove it dead.", "lock")
    if not isolation.locked(machine, zone.id, person.name):
        return _no(access, f"First put your own lock on each isolation point of {zone.title}, and test again.", "lock")
    return _no(access, f"Your locks went on after the proof. Test {zone.title} again first.", "lock")


def _live(machine: Machine, isolation: Isolation, person: Person, zone: Zone) -> Permission:
    access = Access.LIVE
    if not person.qualified:
        return _no(access, "It needs a person who is qualified to work near live parts. Call one.", "call")
    if not isolation.ready(machine):
        why = "It needs every zone closed, holds out and the power on. Return to service first."
        return _no(access, why, "restore")
    if zone.id in live_zones(machine, isolation, person):
        return Permission(True, True, f"Live work in {zone.title}, under your acknowledgement.", access)
    return _no(access, f"First say why the work in {zone.title} cannot be done dead, and name the permit.", "live")


def _reset(machine: Machine, isolation: Isolation, person: Person, done: int, protective: bool) -> Permission:
    """Resets: never blindly again (29 CFR 1910.334(b)(2)), never past the limit, never on a locked machine."""
    access, limit = Access.OUTSIDE, machine.reset_limit
    if protective:
        why = "A protective device has operated. No reset until the cause is found (29 CFR 1910.334(b)(2))."
        return _no(access, why, "call")
    if done >= limit:
        times = "1 reset" if done == 1 else f"{done} resets"
        return _no(access, f"{times} done, and the limit here is {limit}. No more: find the cause, or call.", "call")
    if not isolation.closed or not isolation.energised(machine):
        return _no(access, "The machine is locked out. Return to service first.", "restore")
    if isolation.live is not None:
        return _no(access, "Live work is open. Close up and confirm that it is over first.")
    if isolation.holds and not person.authorised:
        return _no(access, "A hold is still in. It comes out first, as the lockout says.", "restore")
    more = limit - done
    return Permission(True, True, f"{more} more {'reset' if more == 1 else 'resets'} allowed at this machine.")


def tag_stands(name: str) -> str:
    """Why nothing is reset or started while a danger tag with this name stands."""
    return f"A danger tag names {name}. Nothing is reset or started until {name} takes it down."


def _no(needs: Access, because: str, way: str = "") -> Permission:
    return Permission(False, False, because, needs, way)


def _or(roles: tuple[Role, ...]) -> str:
    names = [("an " if role.value[0] in "aeiou" else "a ") + role.value for role in roles]
    return " or ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else "nobody named in the file"
