"""Voltage lost along a cable: conductor resistances of IEC 60228, class 5, plain copper."""

from __future__ import annotations

import math
from typing import Final

OHM_PER_KM: Final = {0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}
"""Largest resistance at 20 degC of a flexible plain copper conductor, by its cross-section in mm2 (IEC 60228)."""


def at_temperature(ohm: float, celsius: float) -> float:
    """A copper resistance known at 20 degC, at another temperature, by IEC 60228: R = R20 (230 + t) / 250.

    The standard's own rounded law; the physical one (234.5 + t) / 254.5 differs by 0.3 % at 70 degC. Raises
    ValueError below -40 or above 150 degC, where it is not meant.
    """
    if not -40 <= celsius <= 150:
        raise ValueError("The conductor's temperature must lie between -40 and 150 degC.")
    return ohm * (230 + celsius) / 250


def voltage_drop(metres: float, amperes: float, square_mm: float, celsius: float = 20.0) -> float:
    """Volts lost over both conductors of a two-wire cable of this length, d.c. or a.c. without reactance.

    Raises ValueError for a cross-section that is not in `OHM_PER_KM`, a negative length, or a current that is not
    finite.
    """
    if square_mm not in OHM_PER_KM:
        raise ValueError(f"The cross-section must be one of {', '.join(f'{s:g}' for s in OHM_PER_KM)} mm2.")
    if not (math.isfinite(metres) and metres >= 0 and math.isfinite(amperes)):
        raise ValueError("Length and current must be finite, and the length not negative.")
    return 2 * metres / 1000 * at_temperature(OHM_PER_KM[square_mm], celsius) * amperes
