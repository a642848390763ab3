"""What a danger tag forbids while it stands: switching on what it hangs on, power for a test there, live work there.

A tag is no barrier: it isolates nothing, and nobody is let in anywhere by it. It stays until the person named on it
takes it down, or the employer's procedure for an absent owner does (29 CFR 1910.147(c)(7)(ii), (e)(3)). No reset is
done while one stands anywhere at the machine: that is `diag.safety.permissions`.
"""

from __future__ import annotations

from collections.abc import Mapping

from diag.machine.model import Machine
from diag.safety import order
from diag.safety.lockout import Isolation
from diag.safety.types import Act, Refused

Tags = Mapping[str, str]
"""Isolation point to the name on its tag. A tag that hangs elsewhere stands under the empty name, and counts for every
point."""
NO_TAGS: Tags = {}


def forbidden(machine: Machine, isolation: Isolation, tags: Tags, zone: str, act: Act, target: str) -> str:
    """Why a tag closes this confirmation, in one line; empty where none does."""
    if not tags or zone not in machine.zones or act not in (Act.POWER_ON, Act.TEST_POWER, Act.LIVE):
        return ""
    points = machine.zones[zone].points
    if act is Act.POWER_ON:
        points = (target,) if target else order.free_points(machine, isolation, machine.zones[zone])
    return _named(machine, tags, points)


def check_switched_on(machine: Machine, before: Isolation, after: Isolation, tags: Tags) -> None:
    """Raises `Refused` where a point would go on that a tag keeps off, by whatever confirmation."""
    if why := _named(machine, tags, tuple(p for p in machine.points if p in before.off - after.off)):
        raise Refused(why)


def _named(machine: Machine, tags: Tags, points: tuple[str, ...]) -> str:
    for point in points:
        if (name := tags.get(point, tags.get(""))) is not None:
            where = f" at {machine.points[point].title}" if point in tags and point in machine.points else ""
            return f"A danger tag{where} names {name}. It stays off until {name} takes the tag down."
    return ""
