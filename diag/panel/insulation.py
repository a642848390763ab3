"""Insulation of a winding or a circuit: its resistance and how it grows while the test voltage stays on."""

from __future__ import annotations

import math
from typing import Final

LEAST_MOHM: Final = 1.0
"""Megohm at 500 V d.c., circuit isolated and electronics disconnected (IEC 60204-1 18.3, from memory)."""
LEAST_INDEX: Final = {"A": 1.5, "B": 2.0, "F": 2.0, "H": 2.0}
"""Polarization index by thermal class of the insulation (IEEE 43)."""
TOO_GOOD_MOHM: Final = 5000.0
"""Above this after one minute the index says nothing (IEEE 43-2000, from memory)."""
CAUTION: Final = (
    "The test voltage hurts people and electronics. Isolated and proved dead first, electronics disconnected, nobody "
    "at the other end, and discharged to earth afterwards for as long as the test took, and longer."
)


def polarization_index(one_minute: float, ten_minutes: float) -> float:
    """Resistance after ten minutes over that after one (IEEE 43); any unit, the same for both.

    Raises ValueError unless both are positive and finite.
    """
    if not (math.isfinite(one_minute) and math.isfinite(ten_minutes) and one_minute > 0 and ten_minutes > 0):
        raise ValueError("Both resistances must be positive numbers; an overload gives no index.")
    return ten_minutes / one_minute


def index_is_enough(index: float, thermal_class: str) -> bool:
    """Whether the index reaches IEEE 43 for that class. Raises ValueError for a class that is not in `LEAST_INDEX`."""
    if thermal_class not in LEAST_INDEX:
        raise ValueError(f"The thermal class is one of {', '.join(LEAST_INDEX)}.")
    return index >= LEAST_INDEX[thermal_class]


def index_means_something(one_minute_mohm: float) -> bool:
    """Whether an index may be judged: not above 5000 Mohm after one minute."""
    return one_minute_mohm <= TOO_GOOD_MOHM
