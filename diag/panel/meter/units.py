"""Units as people write them: which quantity they measure, how large they are, a.c. or d.c.

Case is forgiven everywhere but in a leading m or M, which tells milli from mega. Only prefixes that somebody at a
machine means with a unit are known: nobody reads megavolts off a panel, so `MV` is no unit here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
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
    "ohm": {"mohm": "0.001", "r": "1"},
    "Pa": {"bar": "1e5", "mbar": "100", "hPa": "100", "psi": "6894.757"},
    "s": {"min": "60", "h": "3600"},
    "m": {"m": "1", "um": "1e-6", "mm": "1e-3", "cm": "1e-2"},
    **{name: {name: "1"} for name in ("degC", "degF", "K", "%", "rpm", "Nm", "deg", "dB")},
}
"""Other names of a quantity's units, with their size in its base unit."""
_SPELT: Final = {
    "V": "volt volts",
    "mV": "millivolt millivolts",
    "A": "amp amps ampere amperes",
    "mA": "milliamp milliamps",
    "ohm": "ohms",
    "mohm": "mohms",  # before Mohm, whose "Mohms" is not "mohms" with a capital
    "kohm": "kohms kilohm kilohms",
    "Mohm": "Mohms megohm megohms",
    "Hz": "hertz",
    "%": "percent pct",
    "degC": "c celsius",
    "degF": "fahrenheit",
    "s": "sec seconds",
    "rpm": "r/min 1/min",
}
_SIGNS: Final = str.maketrans(
    {"\u2212": "-", "\u2126": "ohm", "\u03a9": "ohm", "\u00b5": "u", "\u03bc": "u", "\u00b0": "deg"}
    | dict.fromkeys("\u00a0\u2009\u202f\t", " ")
)


def fold(text: str) -> str:
    """Case taken out, except of a leading m or M, which tells milli from mega."""
    return text[:1] + text[1:].lower() if text[:1] in "mM" else text.lower()


def _table() -> dict[str, Unit]:
    table = {fold(base): Unit(base, Decimal(1)) for base in PREFIXED}
    for base, prefixes in PREFIXED.items():
        for p in prefixes:
            table[fold(p + base)] = Unit(base, Decimal(1).scaleb(PREFIX[p]))
    for quantity, sizes in _OTHER.items():
        table |= {fold(name): Unit(quantity, Decimal(size)) for name, size in sizes.items()}
    for name, spelt in _SPELT.items():
        for word in spelt.split():
            table[fold(word)] = table[fold(word[:1].upper() + word[1:])] = table[fold(name)]
    table["Min"] = table["min"]
    return table


_UNITS: Final = _table()
_CURRENT: Final = re.compile(r"(.*?)\s*(d\.?c\.?|a\.?c\.?|=|~|\u23d3)$", re.IGNORECASE)
_CURRENT_OF: Final = {"dc": "d.c.", "=": "d.c.", "\u23d3": "d.c.", "ac": "a.c.", "~": "a.c."}


def find(text: str) -> Unit | None:
    """The unit of that name, or None when it is not one that converts."""
    text = plain_signs(text).strip()
    if found := _CURRENT.match(text):
        base = _UNITS.get(fold(found[1].replace(" ", "")))
        if base is not None and base.quantity in ("V", "A", "W"):
            return replace(base, current=_CURRENT_OF[found[2].lower().replace(".", "")])
    return _UNITS.get(fold(text.replace(" ", "")))


def plain_signs(text: str) -> str:
    """Typographic signs as the plain ones: minus, ohm, micro, degree, odd spaces."""
    return text.translate(_SIGNS)


def bare_prefixes(declared: Unit) -> str:
    """Prefixes that may stand without their unit. Not where a bare m, k or M would be unclear (times, pressures)."""
    if not declared.quantity:
        return "kM"
    if declared.quantity in ("s", "g", "N", "Pa"):
        return ""
    found = PREFIXED.get(declared.quantity, "")
    return found + "m" if declared.quantity == "ohm" and declared.size == Decimal("0.001") else found
