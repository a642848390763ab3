"""Terminators of a two-wire bus, from the resistance between its wires with the power off (ISO 11898-2, TIA-485)."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Final

EACH: Final = 120.0
"""Ohm of one terminator."""
SPREAD: Final = 0.15
"""How far from the exact value a reading may lie: terminators of 5 %, the cable and the stations in parallel. Ours."""
SHORT: Final = 10.0
"""Ohm. Under this the wires touch. Ours."""


class Bus(StrEnum):
    """What the resistance between the wires says."""

    SHORT = "wires shorted"
    EXTRA = "a terminator too many"
    HEALTHY = "two terminators"
    ONE = "one terminator missing"
    NONE = "no terminator, or the wire is open"
    UNSURE = "cannot say"


def terminators(ohms: float) -> float:
    """How many terminators of 120 ohm in parallel have that resistance; infinite for a dead short.

    Raises ValueError when negative or not a number.
    """
    if not ohms >= 0:
        raise ValueError("The resistance cannot be negative.")
    return EACH / ohms if ohms else math.inf


def judge(ohms: float) -> Bus:
    """What the resistance between the two wires says, power off; infinite for an overload. Raises ValueError when
    negative or not a number.
    """
    if math.isnan(ohms) or ohms < 0:
        raise ValueError("The resistance cannot be negative.")
    if ohms < SHORT:
        return Bus.SHORT
    for count, found in ((3, Bus.EXTRA), (2, Bus.HEALTHY), (1, Bus.ONE)):
        if abs(ohms * count / EACH - 1) <= SPREAD:
            return found
    return Bus.NONE if ohms > 1000 else Bus.UNSURE
