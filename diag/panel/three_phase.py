"""Three line voltages or three windings: how far they lie apart."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

DERATING: Final = ((0.0, 1.0), (1.0, 1.0), (2.0, 0.95), (3.0, 0.895), (4.0, 0.82), (5.0, 0.76))
"""Percent of voltage unbalance and the share of its rated power that a motor may give (NEMA MG 1 14.36, read off the
curve, within 0.01). Above 5 % the standard does not recommend running."""
RUN_LIMIT: Final = 5.0
"""Percent, NEMA MG 1 14.36."""
WINDING_LIMIT: Final = 5.0
"""Percent between the pairs of a winding (common practice)."""


def voltage_unbalance(ab: float, bc: float, ca: float) -> float:
    """Percent: the largest deviation from the mean of the three line voltages, over that mean (NEMA MG 1 14.36).

    It is not the negative-sequence ratio of the IEC: 460, 467, 450 V give 1.96 % here and 2.15 % there. Raises
    ValueError unless all three are positive.
    """
    return _from_mean(ab, bc, ca, "Each line voltage")


def negative_sequence(ab: float, bc: float, ca: float) -> float:
    """Percent: negative- over positive-sequence voltage from the three line voltages (IEC 61000-4-30).

    Raises ValueError unless they are positive and can close a triangle.
    """
    squares = [_positive(v, "Each line voltage") ** 2 for v in (ab, bc, ca)]
    beta = sum(s * s for s in squares) / sum(squares) ** 2
    if beta > 0.5 + 1e-12:
        raise ValueError("These three voltages cannot belong to one three-phase system.")
    root = math.sqrt(max(3 - 6 * beta, 0.0))
    return 100 * math.sqrt(max(1 - root, 0.0) / (1 + root))


def derating(unbalance: float) -> float | None:
    """The share of its rated power that a motor may give at that unbalance in percent; None above 5 %: do not run.

    Straight lines between the points of `DERATING`. Raises ValueError on a negative unbalance.
    """
    if unbalance < 0:
        raise ValueError("An unbalance cannot be negative.")
    if unbalance > RUN_LIMIT:
        return None
    for (x0, y0), (x1, y1) in pairwise(DERATING):
        if unbalance <= x1:
            return y0 + (y1 - y0) * (unbalance - x0) / (x1 - x0)
    return DERATING[-1][1]


def winding_unbalance(uv: float, vw: float, wu: float) -> float:
    """Percent: the largest deviation from the mean of the three resistances between terminals, over that mean.

    Motor isolated and disconnected at the drive end; good pairs lie within about 5 % (common practice). Raises
    ValueError unless all three are positive.
    """
    return _from_mean(uv, vw, wu, "Each winding resistance")


def _from_mean(a: float, b: float, c: float, what: str) -> float:
    values = [_positive(v, what) for v in (a, b, c)]
    mean = sum(values) / 3
    return 100 * max(abs(v - mean) for v in values) / mean


def _positive(value: float, what: str) -> float:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{what} must be a positive number.")
    return value
