"""Platinum resistance thermometer Pt100, both ways (IEC 60751)."""

from __future__ import annotations

import math
from typing import Final

A: Final = 3.9083e-3
B: Final = -5.775e-7
C: Final = -4.183e-12
"""Of the Callendar and Van Dusen equation, per degC, degC^2, degC^4 (IEC 60751). C counts below 0 degC only."""
LOWEST: Final = -200.0
HIGHEST: Final = 850.0
"""degC, the range of the standard."""


def ohms(celsius: float) -> float:
    """Resistance in ohm at that temperature. Raises ValueError outside -200 to 850 degC."""
    if not LOWEST <= celsius <= HIGHEST:
        raise ValueError("A Pt100 is defined from -200 to 850 degC.")
    c = C if celsius < 0 else 0.0
    return 100 * (1 + A * celsius + B * celsius**2 + c * (celsius - 100) * celsius**3)


def celsius(ohm: float) -> float:
    """Temperature in degC at that resistance. Raises ValueError outside 18.52 to 390.48 ohm.

    Below 18.52 ohm a sensor is shorted, above 390.48 ohm it is open, or it is no Pt100.
    """
    low, high = ohms(LOWEST), ohms(HIGHEST)
    if not low <= ohm <= high:
        raise ValueError(f"{ohm:g} ohm is outside a Pt100's range of {low:.2f} to {high:.2f} ohm: shorted or open.")
    found = (-A + math.sqrt(A * A - 4 * B * (1 - ohm / 100))) / (2 * B)
    if ohm >= 100:
        return found + 0.0  # no negative zero
    for _ in range(20):  # Newton; the quadratic is at most 2.5 degC off, so a few steps do
        slope = 100 * (A + 2 * B * found + C * (4 * found**3 - 300 * found**2))
        step = (ohms(max(found, LOWEST)) - ohm) / slope
        found -= step
        if abs(step) < 1e-10:
            break
    return max(found, LOWEST)


def tolerance(celsius: float, grade: str = "B") -> float:
    """Degrees by which a sensor of class A or B may be off at that temperature. Raises ValueError for another class."""
    if grade == "A":
        return 0.15 + 0.002 * abs(celsius)
    if grade == "B":
        return 0.3 + 0.005 * abs(celsius)
    raise ValueError("The class is A or B.")
