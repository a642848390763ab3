"""The one rule that every door passes: may this person be shown how to do this, and may it be taken as done, now?

No screen and no command decides this for itself. The rule reads the machine, the site (lockouts and live work), the
person, and three facts of the case: whether a danger sign stands, how many resets were done, and whether a
protective device has operated whose cause is not found.

- Outside work: its instructions are open to everybody whose role may do it. Its answer waits for the right energy.
- Dead work: only in a zone that is proved dead for this person (29 CFR 1910.147, 1910.333(b)).
- Live work: only under this person's own acknowledgement for that zone, with every zone closed and the power on
  (1910.333(a)(1) and (c)(2)).
- A danger sign leaves nothing but the call.

The banner says the same in words and a symbol, and what it allows; never by colour alone.
"""

from __future__ import annotations

from diag.machine.model import Access, Check, Danger, Energy, Machine, Remedy, Reset, Role
from diag.safety.lockout import Phase, Site
from diag.safety.steps import stopped, unprovable
from diag.safety.types import Act, Banner, Permission, Person

TITLE, ALLOWS = 40, 70
"""The most characters that the banner's two parts may take, so that it fits into 80 columns."""

SYMBOLS = {"energised": "↯", "locking": "◐", "dead": "■", "live": "◆", "stop": "✖", "danger": "▲"}
"""One narrow sign per level, told apart by its shape."""

STOPPED: dict[Act | None, str] = {
    Act.MOVED: "it moved",
    Act.METER_FAILED: "meter not proved",
    Act.VOLTAGE_FOUND: "voltage found",
}


def energised(machine: Machine, site: Site) -> bool:
    """No electrical isolation point of the machine is off."""
    return site.energised(machine)


def dead_zones(machine: Machine, site: Site, person: Person) -> frozenset[str]:
    """The zones in which this person may do dead work now."""
    if person.role is Role.OPERATOR or not person.authorised:
        return frozenset()
    return frozenset(zone for zone in machine.zones if site.dead(machine, zone, person.name))


def live_zones(machine: Machine, site: Site, person: Person) -> frozenset[str]:
    """The zone in which this person may do live work now, or none."""
    live = site.live
    if live is None or live.person != person.name or person.role is Role.OPERATOR or not person.qualified:
        return frozenset()
    return frozenset({live.zone}) if site.closed and site.energised(machine) else frozenset()


def permission(
    machine: Machine,
    site: Site,
    person: Person,
    action: Check | Remedy | Reset,
    *,
    danger: bool = False,
    resets: int = 0,
    protective: bool = False,
) -> Permission:
    """What this person may be shown and may answer now.

    `resets`: all resets done in this case. `protective`: a protective device has operated and its cause is not found.
    """
    access = Access.OUTSIDE if isinstance(action, Reset) else action.access
    if danger:
        return _no(access, "A danger sign stands. Keep away and call.", "call")
    if person.role not in action.who:
        return _no(access, f"This is for {_or(action.who)}. Call.", "call")
    if isinstance(action, Reset):
        return _reset(machine, site, resets, protective)
    if access is Access.DEAD:
        answer = _dead(machine, site, person, action.zone)
    elif access is Access.LIVE:
        answer = _live(machine, site, person, action.zone)
    else:
        answer = Permission(True, True, "From outside, with everything closed.")
    wanted = action.energy if isinstance(action, Check) else Energy.ANY
    return _with_energy(answer, wanted, site.energised(machine))


def _with_energy(answer: Permission, wanted: Energy, on: bool) -> Permission:
    """An observation in the wrong energy state tells nothing: the way may be shown, its answer waits."""
    if not answer.now or wanted is Energy.ANY or (wanted is Energy.ON) is on:
        return answer
    if wanted is Energy.ON:
        return Permission(answer.how, False, "It needs the power on. Go the way back first.", answer.needs, "restore")
    return Permission(answer.how, False, "It needs the power off and locked out.", answer.needs, "isolate")


def _dead(machine: Machine, site: Site, person: Person, zone: str) -> Permission:
    access = Access.DEAD
    if zone not in machine.zones:
        return _no(access, "The machine file names no zone for this work, so it stays closed. Call.", "call")
    title, lockout = machine.zones[zone].title, site.lockout(zone)
    if person.role is Role.OPERATOR:
        return _no(access, "An operator does not go inside. Call.", "call")
    if not person.authorised:
        return _no(access, "This is for a person who is authorised to lock out. Call one.", "call")
    if zone in dead_zones(machine, site, person):
        return Permission(True, True, f"{title} is proved dead, with your locks on.", access)
    if lockout.phase is Phase.STOP:
        return _no(access, stopped(machine.zones[zone], lockout.found), "call")
    if why := unprovable(machine.zones[zone]):
        return _no(access, why, "call")
    if lockout.phase is not Phase.DEAD:
        return _no(access, f"First lock out and prove dead: {title}.", "lock")
    if not site.locked(machine, zone, person.name):
        return _no(access, f"First put your own lock on each isolation point of {title}, and test again.", "lock")
    return _no(access, f"Your locks came on after the proof. Test {title} again first.", "lock")


def _live(machine: Machine, site: Site, person: Person, zone: str) -> Permission:
    access = Access.LIVE
    if zone not in machine.zones or not machine.zones[zone].electrical:
        return _no(access, "The machine file names no electrical zone for this work, so it stays closed. Call.", "call")
    title = machine.zones[zone].title
    if person.role is Role.OPERATOR:
        return _no(access, "An operator does not go inside. Call.", "call")
    if not person.qualified:
        return _no(access, "This is for a person who is qualified to work near live parts. Call one.", "call")
    if not site.closed or not site.energised(machine):
        return _no(access, "It needs every zone closed and the power on. Go the way back first.", "restore")
    if zone in live_zones(machine, site, person):
        return Permission(True, True, f"Live work in {title}, under your acknowledgement.", access)
    return _no(access, f"First say why it cannot be done dead, and the permit: live work in {title}.", "live")


def _reset(machine: Machine, site: Site, done: int, protective: bool) -> Permission:
    """Resets: never blindly again (29 CFR 1910.334(b)(2)), never past the limit, never on a locked machine."""
    access, limit = Access.OUTSIDE, machine.reset_limit
    if protective:
        why = "A protective device has operated. No reset until the cause is found (29 CFR 1910.334(b)(2))."
        return _no(access, why, "call")
    if done >= limit:
        times = "1 reset" if done == 1 else f"{done} resets"
        return _no(access, f"{times} done, and the limit here is {limit}. No more: find the cause, or call.", "call")
    if not site.closed or not site.energised(machine):
        return _no(access, "The machine is locked out. Go the way back first.", "restore")
    if site.live is not None:
        return _no(access, "Live work is open. Close up and confirm that it is over first.")
    more = limit - done
    return Permission(True, True, f"{more} more {'reset' if more == 1 else 'resets'} allowed in this case.")


def _no(needs: Access, because: str, way: str = "") -> Permission:
    return Permission(False, False, because, needs, way)


def _or(roles: tuple[Role, ...]) -> str:
    names = [("an " if role.value[0] in "aeiou" else "a ") + role.value for role in roles]
    return " or ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else "nobody named in the file"


def banner(machine: Machine, site: Site, person: Person, danger: Danger | bool | None = None) -> Banner:
    """What this person must know now; the worst thing goes first. Title at most 40 characters, the rest at most 70."""
    if danger:
        return _banner("danger", "DANGER SIGN", "Nothing but the call: keep away.")
    phases = {lockout.zone: lockout for lockout in site.lockouts}
    for lockout in site.lockouts:
        if lockout.phase is Phase.STOP:
            found = STOPPED.get(lockout.found, "a gap in the record")
            if lockout.found is Act.VOLTAGE_FOUND and not machine.zones[lockout.zone].electrical:
                found = "energy found"
            return _banner(
                "stop",
                f"STOP, {found}: ",
                "Keep out and call. Then the way back, or prove it again.",
                machine,
                lockout.zone,
            )
    dead = sorted(dead_zones(machine, site, person))
    if dead:
        more = f" Also dead: {len(dead) - 1} more." if len(dead) > 1 else ""
        return _banner("dead", "DEAD: ", f"Work inside, with your own locks on.{more}", machine, dead[0])
    if live := live_zones(machine, site, person):
        return _banner(
            "live", "LIVE WORK: ", "Only what cannot be done dead. Close up when it is over.", machine, *live
        )
    for phase in (Phase.DEAD, Phase.LOCKING, Phase.BACK):
        for zone, lockout in phases.items():
            if lockout.phase is phase:
                return _underway(machine, site, person, zone, phase)
    if any(lockout.phase is Phase.TESTING for lockout in site.lockouts):
        zone = next(z for z, lockout in phases.items() if lockout.phase is Phase.TESTING)
        return _banner(
            "energised", "POWER ON FOR A TEST: ", "Outside work only. Isolate again after the test.", machine, zone
        )
    return _banner("energised", "ENERGISED", "Outside work only, with everything closed.")


def _underway(machine: Machine, site: Site, person: Person, zone: str, phase: Phase) -> Banner:
    if phase is Phase.BACK:
        return _banner("locking", "GOING BACK: ", "Outside work only. Stay out.", machine, zone)
    if phase is Phase.LOCKING:
        return _banner(
            "locking", "LOCKING OUT, not dead: ", "Outside work only, and the gate's own steps.", machine, zone
        )
    if site.locked(machine, zone, person.name):
        return _banner(
            "locking", "NOT DEAD FOR YOU: ", "Outside work only. Test again with your locks on.", machine, zone
        )
    return _banner("locking", "NOT DEAD FOR YOU: ", "Outside work only. Your own locks are not on.", machine, zone)


def _banner(level: str, title: str, allows: str, machine: Machine | None = None, zone: str = "") -> Banner:
    name = machine.zones[zone].title if machine is not None else ""
    return Banner(SYMBOLS[level], _cut(title + name, TITLE), _cut(allows, ALLOWS), level)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
