"""Power and its conductors: line voltages, windings, cables, the charge of a bus, insulation."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

DERATING: Final = ((0.0, 1.0), (1.0, 1.0), (2.0, 0.95), (3.0, 0.895), (4.0, 0.82), (5.0, 0.76))
"""Percent of voltage unbalance and the share of its rated power that a motor may give (NEMA MG 1 14.36, read off the
curve, within 0.01). Above 5 % the standard does not recommend running."""
WINDING_LIMIT: Final = 5.0
"""Percent between the pairs of a winding (common practice)."""
OHM_PER_KM: Final = {0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}
"""Largest resistance at 20 degC of flexible plain copper (class 5), by its cross-section in mm2 (IEC 60228)."""
SAFE_VOLTS: Final = 60.0
"""Residual voltage that IEC 60204-1 6.2.4 wants to be reached within 5 s, or a label with the delay."""
DISCHARGE_CAUTION: Final = (
    "This time is a calculation and permits nothing: a discharge resistor can be open. Wait what the label says, then "
    "prove dead with a meter that was proved before, and prove the meter again. Follow the site's procedure."
)
LEAST_INDEX: Final = {"A": 1.5, "B": 2.0, "F": 2.0, "H": 2.0}
"""Polarization index by thermal class of the insulation (IEEE 43)."""
TOO_GOOD_MOHM: Final = 5000.0
"""Above this after one minute the index says nothing (IEEE 43-2000, from memory)."""
INSULATION_CAUTION: Final = (
    "The test voltage hurts people and electronics. Isolated and proved dead first, electronics disconnected, nobody "
    "at the other end, and discharged to earth afterwards for as long as the test took, and longer."
)


def voltage_unbalance(ab: float, bc: float, ca: float) -> float:
    """Percent: the largest deviation from the mean of the three line voltages, over that mean (NEMA MG 1 14.36).

    It is not the negative-sequence ratio of the IEC: 460, 467, 450 V give 1.96 % here and 2.15 % there. Raises
    ValueError unless all three are positive.
    """
    return _from_mean(ab, bc, ca, "Each line voltage")


def derating(unbalance: float) -> float | None:
    """The share of its rated power that a motor may give at that unbalance in percent; None above 5 %: do not run.

    Straight lines between the points of `DERATING`.
    """
    for (x0, y0), (x1, y1) in pairwise(DERATING):
        if unbalance <= x1:
            return y0 + (y1 - y0) * (unbalance - x0) / (x1 - x0)
    return None


def winding_unbalance(uv: float, vw: float, wu: float) -> float:
    """Percent: the largest deviation from the mean of the three resistances between terminals, over that mean.

    The motor is isolated and disconnected at the drive end; good pairs lie within about 5 % (common practice). Raises
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


def voltage_drop(metres: float, amperes: float, square_mm: float) -> float:
    """Volts lost over both conductors of a two-wire cable of this length at 20 degC, d.c. or a.c. without reactance.

    Raises ValueError for a cross-section that is not in `OHM_PER_KM`, a negative length, or a current that is not
    finite.
    """
    if square_mm not in OHM_PER_KM:
        raise ValueError(f"The cross-section must be one of {', '.join(f'{s:g}' for s in OHM_PER_KM)} mm2.")
    if not (math.isfinite(metres) and metres >= 0 and math.isfinite(amperes)):
        raise ValueError("Length and current must be finite, and the length not negative.")
    return 2 * metres / 1000 * OHM_PER_KM[square_mm] * amperes


def discharge_seconds(volts: float, microfarads: float, ohms: float) -> float:
    """Seconds until a capacitor discharged through a resistor is down to `SAFE_VOLTS`: R C ln(V0 / V).

    Shown with `DISCHARGE_CAUTION`, never as a countdown to opening. 0 when it starts below. Raises ValueError unless
    all are positive.
    """
    for value, what in ((volts, "The voltage"), (microfarads, "The capacitance"), (ohms, "The resistance")):
        _positive(value, what)
    return max(0.0, ohms * microfarads * 1e-6 * math.log(volts / SAFE_VOLTS))


def polarization_index(one_minute: float, ten_minutes: float) -> float:
    """Resistance after ten minutes over that after one (IEEE 43); any unit, the same for both.

    Raises ValueError unless both are positive and finite.
    """
    if not (math.isfinite(one_minute) and math.isfinite(ten_minutes) and one_minute > 0 and ten_minutes > 0):
        raise ValueError("Both resistances must be positive numbers; an overload gives no index.")
    return ten_minutes / one_minute
