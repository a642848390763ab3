"""What a meter must read at a test point: every pair by name, each below what the file says."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite

from diag.machine.isolation import TestPoint
from diag.safety.types import Refused


def check_values(point: TestPoint, values: Mapping[str, float]) -> None:
    """Raises `Refused` unless every pair of a test point was measured, in volts, and reads less than the file's limit.
    Where the file names no limit, no value is asked for."""
    if point.below is None:
        return
    missing = [pair for pair in pairs_of(point) if pair not in values]
    if missing:
        raise Refused(f"{point.title}: measure and enter every pair, in V. Missing: {', '.join(missing)}.")
    if not all(map(isfinite, values.values())):
        raise Refused(f"{point.title}: that is no voltage.")
    if live := at_voltage(point, values):
        raise Refused(f"{point.title}, {', '.join(live)}: {point.below:g} V or more is a voltage. It is not dead.")


def pairs_of(point: TestPoint) -> tuple[str, ...]:
    """The pairs that are measured there; the point itself where the file names none."""
    return point.pairs or (point.title,)


def at_voltage(point: TestPoint, values: Mapping[str, float]) -> tuple[str, ...]:
    """The pairs that read what the file calls a voltage, or more; none where it says nothing."""
    return () if point.below is None else tuple(p for p, volts in values.items() if abs(volts) >= point.below)
