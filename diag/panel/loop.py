"""A 4 to 20 mA loop: what its current says (NAMUR NE 43), and the value it stands for."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Final

FAILED_LOW: Final = 3.6
VALID_LOW: Final = 3.8
VALID_HIGH: Final = 20.5
FAILED_HIGH: Final = 21.0
"""mA. Valid from 3.8 to 20.5, failed at 3.6 and below or at 21 and above (NAMUR NE 43); between them neither."""


class Loop(StrEnum):
    """What a loop current says."""

    FAILED_LOW = "failed, low"
    UNSURE_LOW = "neither, low"
    VALID = "valid"
    UNSURE_HIGH = "neither, high"
    FAILED_HIGH = "failed, high"


def band(milliamps: float) -> Loop:
    """The NE 43 band of a loop current in mA. Raises ValueError when it is not a number."""
    if math.isnan(milliamps):
        raise ValueError("The loop current must be a number.")
    if milliamps <= FAILED_LOW:
        return Loop.FAILED_LOW
    if milliamps < VALID_LOW:
        return Loop.UNSURE_LOW
    if milliamps <= VALID_HIGH:
        return Loop.VALID
    return Loop.UNSURE_HIGH if milliamps < FAILED_HIGH else Loop.FAILED_HIGH


def percent(milliamps: float) -> float:
    """Percent of span that a valid current stands for: 4 mA is 0, 20 mA is 100. Raises ValueError on a current that
    NE 43 does not call valid, because it stands for nothing then.
    """
    found = band(milliamps)
    if found is not Loop.VALID:
        raise ValueError(f"{milliamps:g} mA is no value: {found.value} (NAMUR NE 43).")
    return (milliamps - 4) / 16 * 100


def milliamps(percent: float) -> float:
    """The current that stands for that percent of span. Raises ValueError when no valid current does."""
    current = 4 + percent / 100 * 16
    if band(current) is not Loop.VALID:
        raise ValueError(f"{percent:g} % is beyond what the loop can show.")
    return current
