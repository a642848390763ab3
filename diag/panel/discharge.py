"""How long a d.c. bus holds its charge. For understanding only: it permits nothing."""

from __future__ import annotations

import math
from typing import Final

SAFE_VOLTS: Final = 60.0
"""Residual voltage that IEC 60204-1 6.2.4 wants to be reached within 5 s, or a label with the delay."""
CAUTION: Final = (
    "This time is a calculation and permits nothing: a discharge resistor can be open. Wait what the label says, then "
    "prove dead with a meter that was proved before, and prove the meter again. Follow the site's procedure."
)


def seconds(volts: float, microfarads: float, ohms: float, down_to: float = SAFE_VOLTS) -> float:
    """Seconds until a capacitor discharged through a resistor is down to that voltage: R C ln(V0 / V).

    Shown with `CAUTION`, never as a countdown to opening. 0 when it starts below. Raises ValueError unless all
    are positive.
    """
    for value, what in ((volts, "voltage"), (microfarads, "capacitance"), (ohms, "resistance"), (down_to, "limit")):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"The {what} must be a positive number.")
    return max(0.0, ohms * microfarads * 1e-6 * math.log(volts / down_to))
