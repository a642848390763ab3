"""The banner: what the one rule allows this person now, in words and by a symbol, never by colour alone."""

from __future__ import annotations

from collections.abc import Mapping

from diag.machine.model import Danger, Machine
from diag.safety.lockout import Isolation, Phase
from diag.safety.permissions import dead_zones, live_zones
from diag.safety.types import Act, Aged, Banner, Person
from diag.text import cut

TITLE, ALLOWS = 40, 70
"""The longest that the two parts of the banner may be, in characters, so that it fits into 80 columns."""

SYMBOLS = {"energised": "↯", "locking": "◐", "dead": "■", "live": "◆", "stop": "✖", "danger": "▲"}
"""One narrow sign per level, told apart by its shape."""

STOPPED: dict[Act | None, str] = {
    Act.MOVED: "it moved",
    Act.METER_FAILED: "meter not proved",
    Act.VOLTAGE_FOUND: "voltage found",
}

UNDER_WAY = (
    (Phase.LOCKING, "locking", "LOCKING OUT, not dead", "Outside work only, and the steps of the lockout."),
    (Phase.BACK, "locking", "RESTORING POWER", "Outside work only. Keep out."),
    (Phase.HOLDS, "energised", "POWER ON, NOT FINISHED", "Outside work only. Finish the steps that need the power."),
    (Phase.TESTING, "energised", "POWER ON FOR A TEST", "Outside work only. Isolate again after the test."),
)


def banner(
    machine: Machine,
    isolation: Isolation,
    person: Person,
    danger: Danger | bool | None = None,
    aged: Mapping[str, Aged] | None = None,
) -> Banner:
    """What this person must know now; the worst thing goes first. Title at most 40 characters, the rest at most 70.

    `aged`: zones whose proof of dead is made again first."""
    level, title, allows, zone = _worst(machine, isolation, person, bool(danger), aged or {})
    if zone:
        title = f"{title}: {machine.zones[zone].title}"
    return Banner(SYMBOLS[level], cut(title, TITLE), cut(allows, ALLOWS), level)


def _worst(
    machine: Machine, isolation: Isolation, person: Person, danger: bool, aged: Mapping[str, Aged]
) -> tuple[str, str, str, str]:
    """Level, title, what it allows, and the zone that is meant, or an empty string."""
    if danger:
        return "danger", "DANGER SIGN", "Keep away and call. Nothing else may be done.", ""
    # Where two zones are in one phase, the one with this person's lock is meant.
    locked = {point for point, owner in isolation.locks if owner == person.name}
    under = [one for one in isolation.lockouts if not locked.isdisjoint(machine.zones[one.zone].points)]
    others = [one for one in isolation.lockouts if one not in under]
    in_phase = {lockout.phase: lockout for lockout in reversed([*under, *others])}
    if stop := in_phase.get(Phase.STOP):
        found = STOPPED.get(stop.found, "a gap in the record")
        if stop.found is Act.VOLTAGE_FOUND and not machine.zones[stop.zone].electrical:
            found = "energy found"
        return "stop", f"STOP, {found}", "Keep out and call. Then return to service, or prove dead again.", stop.zone
    dead = sorted(dead_zones(machine, isolation, person))
    if old := [zone for zone in dead if zone in aged]:
        first = aged[old[0]]
        return "locking", f"PROVED {first.tested}", f"{first.why} Test again before you touch.".strip(), old[0]
    if dead:
        more = f" Also dead: {len(dead) - 1} more." if len(dead) > 1 else ""
        return "dead", "DEAD", f"Work inside, with your lock on each point.{more}", dead[0]
    for zone in live_zones(machine, isolation, person):
        return "live", "LIVE WORK", "Only what cannot be done dead. Close up when it is done.", zone
    if proved := in_phase.get(Phase.DEAD):
        own = isolation.locked(machine, proved.zone, person.name)
        missing = "Test again with your locks on." if own else "Your lock is not on each point."
        return "locking", "NOT DEAD FOR YOU", f"Outside work only. {missing}", proved.zone
    for phase, level, title, allows in UNDER_WAY:
        if phase in in_phase:
            return level, title, allows, in_phase[phase].zone
    return "energised", "ENERGISED", "Outside work only, with everything closed.", ""
