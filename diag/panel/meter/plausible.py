"""Whether a value is possible: the question to ask before an odd one is taken."""

from __future__ import annotations

import math
from typing import Final

from diag.panel.meter.units import find

COLDEST: Final = -273.15
LOW_VOLTAGE: Final = 1500.0
"""Volts; a low-voltage installation has no more."""
ELECTRIC_MOST: Final = 2.5
OTHER_MOST: Final = 10.0
"""How many times its nominal a voltage or a current may be, and anything else, before it is odd."""
SWAPPED_LEAST: Final = 0.1
"""From this share of the nominal on, a value of the wrong sign is more than noise around zero."""


def implausible(value: float, nominal: float | None, unit: str) -> str:
    """A question to ask before this value is taken; empty when nothing is odd about it.

    Odd is: beyond two and a half times the nominal of a voltage or a current, ten times that of anything else; a d.c.
    value of the wrong sign (leads swapped); below absolute zero; more than 1500 V. The limits are our own, wide
    enough for any fault that leaves the circuit whole.
    """
    name = unit.strip()
    known = find(name)
    quantity = known.quantity if known else ""
    if math.isnan(value):
        return "That is not a number. What does the meter show?"
    if math.isinf(value):
        return ""
    if quantity == "degC":
        return f"{value:g} {name} is colder than anything can be. Is that right?" if value < COLDEST else ""
    if known and quantity == "V" and abs(value) * float(known.size) > LOW_VOLTAGE:
        return _slip(value, nominal, name) or f"{value:g} {name} is beyond a low-voltage installation. Is that right?"
    if not nominal:
        return ""
    electric = quantity in ("V", "A")
    if electric and known and known.current != "a.c." and value / nominal < -SWAPPED_LEAST:
        return f"{value:g} {name} where {nominal:g} is expected: are the leads the other way round?"
    # A resistance may be anything.
    if quantity != "ohm" and abs(value) > (ELECTRIC_MOST if electric else OTHER_MOST) * abs(nominal):
        return _slip(value, nominal, name) or f"{value:g} {name}, where {nominal:g} is expected. Is that right?"
    return ""


def _slip(value: float, nominal: float | None, name: str) -> str:
    """The same digits with a point or a prefix forgotten, when that lands near the nominal."""
    for power in (1000.0, 100.0, 10.0):
        if nominal and 0.5 <= abs(value / power / nominal) <= 1.5:
            return f"{value:g} {name} where {nominal:g} is expected. Is it {value / power:g} {name}?"
    return ""
