"""Units as people write them: which quantity they measure, how large they are, a.c. or d.c.

Case is forgiven everywhere but in a leading m or M, which tells milli from mega. Only prefixes that somebody at a
machine means with a unit are known: nobody reads megavolts off a panel, so `MV` is no unit here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Final


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as far as it is understood: quantity, size in the quantity's base unit, a.c. or d.c. when said."""

    quantity: str
    size: Decimal
    current: str = ""


PREFIX: Final = {"p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9, "T": 12}

# Base symbol, and the prefixes that someone at a machine means with it.
PREFIXED: Final = {
    "V": "umk",
    "A": "numk",
    "ohm": "kMGT",
    "Hz": "kM",
    "W": "mkM",
    "VA": "kM",
    "F": "pnum",
    "H": "um",
    "Pa": "kM",
    "s": "um",
    "N": "k",
    "g": "mk",
}
_OTHER: Final = {
    "mohm": ("ohm", "0.001"),
    "r": ("ohm", "1"),
    "bar": ("Pa", "1e5"),
    "mbar": ("Pa", "100"),
    "hPa": ("Pa", "100"),
    "psi": ("Pa", "6894.757"),
    "min": ("s", "60"),
    "h": ("s", "3600"),
    "m": ("m", "1"),
    "um": ("m", "1e-6"),
    "mm": ("m", "1e-3"),
    "cm": ("m", "1e-2"),
    "degC": ("degC", "1"),
    "degF": ("degF", "1"),
    "K": ("K", "1"),
    "%": ("%", "1"),
    "rpm": ("rpm", "1"),
    "Nm": ("Nm", "1"),
    "deg": ("deg", "1"),
    "dB": ("dB", "1"),
}
_SPELT: Final = {
    "volt": "V",
    "volts": "V",
    "millivolt": "mV",
    "millivolts": "mV",
    "amp": "A",
    "amps": "A",
    "ampere": "A",
    "amperes": "A",
    "milliamp": "mA",
    "milliamps": "mA",
    "ohms": "ohm",
    "kohms": "kohm",
    "Mohms": "Mohm",
    "mohms": "mohm",
    "kilohm": "kohm",
    "kilohms": "kohm",
    "megohm": "Mohm",
    "megohms": "Mohm",
    "hertz": "Hz",
    "percent": "%",
    "pct": "%",
    "c": "degC",
    "celsius": "degC",
    "fahrenheit": "degF",
    "sec": "s",
    "seconds": "s",
    "r/min": "rpm",
    "1/min": "rpm",
}
_SIGNS: Final = {
    "\u2212": "-",
    "\u2126": "ohm",
    "\u03a9": "ohm",
    "\u00b5": "u",
    "\u03bc": "u",
    "\u00b0": "deg",
    "\u00a0": " ",
    "\u2009": " ",
    "\u202f": " ",
    "\t": " ",
}


def fold(text: str) -> str:
    """Case taken out, except of a leading m or M, which tells milli from mega."""
    return text[:1] + text[1:].lower() if text[:1] in "mM" else text.lower()


def _table() -> dict[str, Unit]:
    table = {fold(base): Unit(base, Decimal(1)) for base in PREFIXED}
    for base, prefixes in PREFIXED.items():
        for p in prefixes:
            table[fold(p + base)] = Unit(base, Decimal(1).scaleb(PREFIX[p]))
    for name, (quantity, size) in _OTHER.items():
        table[fold(name)] = Unit(quantity, Decimal(size))
    for spelt, name in _SPELT.items():
        table[fold(spelt)] = table[fold(name)]
        table[fold(spelt[:1].upper() + spelt[1:])] = table[fold(name)]
    table["Min"] = table["min"]
    return table


_UNITS: Final = _table()
_CURRENT: Final = re.compile(r"(.*?)\s*(d\.?c\.?|a\.?c\.?|=|~|\u23d3)$", re.IGNORECASE)
_CURRENT_OF: Final = {"dc": "d.c.", "=": "d.c.", "\u23d3": "d.c.", "ac": "a.c.", "~": "a.c."}


def find(text: str) -> Unit | None:
    """The unit of that name, or None when it is not one that converts."""
    text = plain_signs(text).strip()
    current = ""
    found = _CURRENT.match(text)
    if found and fold(found[1].replace(" ", "")) in _UNITS:
        base = _UNITS[fold(found[1].replace(" ", ""))]
        if base.quantity in ("V", "A", "W"):
            text, current = found[1], _CURRENT_OF[found[2].lower().replace(".", "")]
    unit = _UNITS.get(fold(text.replace(" ", "")))
    return None if unit is None else Unit(unit.quantity, unit.size, current)


def plain_signs(text: str) -> str:
    """Typographic signs as the plain ones: minus, ohm, micro, degree, odd spaces."""
    for sign, plain in _SIGNS.items():
        text = text.replace(sign, plain)
    return text


def bare_prefixes(declared: Unit) -> str:
    """Prefixes that may stand without their unit. Not where a bare m, k or M would be unclear (times, pressures)."""
    if not declared.quantity:
        return "kM"
    if declared.quantity in ("s", "g", "N", "Pa"):
        return ""
    found = PREFIXED.get(declared.quantity, "")
    return found + "m" if declared.quantity == "ohm" and declared.size == Decimal("0.001") else found
