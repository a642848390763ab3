"""A meter reading as a person writes it, turned into a number in the indication's own unit.

What is taken: `23.9`, `23,9 V`, `.5`, `-12`, `0.4 k`, `1k2`, `4M7`, `4R7`, `3V3` (the letter stands for the decimal
mark, IEC 60062), `230 V a.c.`, `OL`, `>40M`. Prefixes and units convert to the declared unit; a bare number is in
the declared unit; a bare prefix goes with the declared quantity (`0.4 k` of an `ohm` reading is 400 ohm).

What is refused, with one line that says what to write, rather than guessed:

* `1,234` (a decimal comma or thousands), `1.234,5`, `1 234`, `1'234`: digits in groups. A point is always the decimal
  mark, as on the meter: `1.234` is one and a bit.
* `10 m` and `10 mohm` of a resistance that is not declared in milliohm: lower-case m is typed for mega as often.
* `1e3`, `12:30`, `1/2`, fraction characters, digits outside 0-9, `--5`, `nan`, `inf`, ranges, `<5`.
* a unit of another quantity, a.c. for d.c., a prefix that nobody means (`12 MV`), a negative resistance, frequency,
  time or a.c. value.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from diag.panel.units import PREFIX, Unit, bare_prefixes, find, fold, plain_signs

LONGEST: Final = 40
"""Characters. No one writes a longer reading; what is longer is a paste."""
MOST_DIGITS: Final = 15
"""More digits than a float keeps."""


class BadReading(ValueError):
    """A reading that was not understood. The message is one plain line that says what to write instead."""

    def __init__(self, message: str) -> None:
        super().__init__(message.replace(".c..", ".c."))  # a sentence that ends in "V d.c."


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading in the declared unit."""

    value: float
    """In `unit`. With `overload` a lower limit: `inf` for `OL` (`-inf` for `-OL`), 40e6 for `>40M` of ohm."""
    unit: str
    """The declared unit, as given."""
    overload: bool = False
    """The meter's range ended before the value did."""
    step: float = 0.0
    """What one count of the last digit written is worth, in `unit`; 0 with `OL`. It feeds the meter's accuracy."""


_NEVER_NEGATIVE: Final = {"ohm", "Hz", "F", "H", "s", "g", "rpm", "K"}
_SHOWN: Final = {
    "Pa": "pressure",
    "m": "a length",
    "s": "a time",
    "degF": "degrees Fahrenheit",
    "F": "farads or degrees Fahrenheit",
    "K": "kelvin",
}


def shown(text: str) -> str:
    """Text of a person, safe to repeat in one line: printable characters only, cut at 24."""
    clean = "".join(c if c.isprintable() else "\u00b7" for c in text.strip())
    return clean if len(clean) <= 24 else clean[:23] + "\u2026"


_NUMBER: Final = re.compile(r"([+-]?)\s*([0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?![0-9.,'])\s*(.*)", re.DOTALL)
_LETTER_MARK: Final = re.compile(r"([+-]?)\s*([0-9]*)([A-Za-z])([0-9]+)(?![0-9.,'])\s*(.*)", re.DOTALL)
_OVER: Final = re.compile(r"([+-]?)\s*(?:\.?[O0]\.?L\.?|overload)(?![A-Za-z0-9])\s*(.*)", re.IGNORECASE | re.DOTALL)
_GROUPED: Final = re.compile(r"[+-]?\s*([1-9][0-9]{0,2}),([0-9]{3})(?![0-9.,])")
_MIXED: Final = re.compile(r"[+-]?\s*[0-9]+[., '\u2019][0-9]+[., '\u2019][0-9]|[+-]?\s*[0-9]+[ '\u2019][0-9]")


def parse(text: str, unit: str) -> Measured:
    """The reading `text` in the declared `unit` (`V d.c.`, `ohm`, `mA`, ... or empty for a plain number).

    Raises BadReading with one line that says what is wrong and what to write.
    """
    name = unit.strip()
    if len(text) > LONGEST:
        raise BadReading(f"That is too long for a reading; write the number the meter shows{_in(name)}.")
    said = plain_signs(text).strip()
    if not said:
        raise BadReading(f"Write the number the meter shows{_in(name)}.")
    _refuse_odd_characters(said, text, name)
    if over := _OVER.fullmatch(said):
        _scale(over[2], name, text)
        return _overloaded(over[1], name, unit, text)
    bound = said.startswith(">")
    if bound:
        said = said[1:].lstrip()
        if said.startswith("-"):
            raise BadReading(f'"{shown(text)}" is not understood; write the number the meter shows{_in(name)}.')
    number, size, rest = _number(said, text, name)
    if size is None:
        scale = _scale(rest, name, text)
    else:
        scale = size
        _plain_unit(rest, name, text)
    value = number * scale
    _refuse_negative(value, name, text)
    exponent = number.as_tuple().exponent
    step = Decimal(1).scaleb(int(exponent)) * scale
    return Measured(_float(value), unit, bound, abs(_float(step)))


def _float(value: Decimal) -> float:
    return float(value) + 0.0  # no negative zero


def _in(name: str) -> str:
    return f", in {name}" if name else ""


def _refuse_odd_characters(said: str, text: str, name: str) -> None:
    for c in said:
        if not c.isprintable():
            raise BadReading(f"There is a control character in the reading; type the number again{_in(name)}.")
        if c.isnumeric() and c not in "0123456789":
            raise BadReading(f'"{shown(text)}": write plain digits 0 to 9, and a fraction as a decimal number.')
    if said.startswith("<"):
        raise BadReading(f'"{shown(text)}": write the number the meter shows, without "<".')
    if "\u221e" in said or said.lower().lstrip("+-") in ("inf", "infinity", "nan"):
        raise BadReading(f'"{shown(text)}" is not a number; write OL when the meter shows an overload.')


def _number(said: str, text: str, name: str) -> tuple[Decimal, Decimal | None, str]:
    """The number, the size of a letter that stood for its decimal mark (None without one), and what follows."""
    if _MIXED.match(said):
        raise BadReading(f'"{shown(text)}": write one number without spaces or thousands marks, as in 1234.5.')
    if grouped := _GROUPED.match(said):
        a, b = grouped[1], grouped[2]
        raise BadReading(f'"{shown(text)}" can be {a}.{b} or {a}{b}; write the one that is meant.')
    if found := _LETTER_MARK.fullmatch(said):
        sign, whole, letter, part, rest = found.groups()
        size = _letter_size(letter, name)
        if size is not None and (whole or letter in "Rr"):
            _few_digits(whole + part, text)
            return Decimal(f"{sign}{whole or '0'}.{part}"), size, rest
    if found := _NUMBER.fullmatch(said):
        sign, digits, rest = found.groups()
        _few_digits(digits, text)
        return Decimal(sign + digits.replace(",", ".").rstrip(".")), None, rest
    raise BadReading(f'"{shown(text)}" is not a number; write what the meter shows{_in(name)}, as in 23.9.')


def _few_digits(digits: str, text: str) -> None:
    if sum(c.isdigit() for c in digits) > MOST_DIGITS:
        raise BadReading(f'"{shown(text)}" has more digits than a meter shows.')


def _letter_size(letter: str, name: str) -> Decimal | None:
    """What a letter in the place of the decimal mark multiplies by, relative to the declared unit (IEC 60062)."""
    declared = find(name) if name else Unit("", Decimal(1))
    if declared is None:
        return None
    if letter.upper() == {"ohm": "R", "V": "V", "A": "A"}.get(declared.quantity, "-"):
        return Decimal(1) / declared.size
    prefix = "k" if letter == "K" else letter
    if prefix == "m" and declared.quantity == "ohm" and declared.size != Decimal("0.001"):
        raise BadReading(f'"m" can be milli or mega here; write M for mega, or the value in {name}.')
    if prefix not in bare_prefixes(declared):
        return None
    return Decimal(1).scaleb(PREFIX[prefix]) / declared.size


def _scale(rest: str, name: str, text: str) -> Decimal:
    """What to multiply a number by, that was followed by `rest`, to have it in the declared unit `name`."""
    rest = rest.strip()
    if not rest or _same(rest, name):
        return Decimal(1)
    declared = find(name) if name else Unit("", Decimal(1))
    if declared is None:
        raise BadReading(f'"{shown(text)}": this reading is in {name}.')
    bare = "k" if rest == "K" else "M" if rest.lower() == "meg" else rest
    if bare == "m" and declared.quantity == "ohm" and declared.size != Decimal("0.001"):
        raise BadReading(f'"{shown(text)}": "m" can be milli or mega; write M for mega, or the value in {name}.')
    if bare in bare_prefixes(declared) and len(bare) == 1:
        return Decimal(1).scaleb(PREFIX[bare]) / declared.size
    if not name:
        raise BadReading(f'"{shown(text)}": this reading is a plain number, without a unit.')
    typed = find(rest)
    if typed is None:
        raise BadReading(f'"{shown(text)}": "{shown(rest)}" is not a unit of this reading; it is in {name}.')
    if typed.quantity != declared.quantity:
        what = _SHOWN.get(typed.quantity, typed.quantity)
        raise BadReading(f'"{shown(text)}" is {what}; this reading is in {name}.')
    if typed.current and declared.current and typed.current != declared.current:
        raise BadReading(f'"{shown(text)}" is {typed.current}; this reading is in {name}. Check the meter\'s setting.')
    if typed.quantity == "ohm" and typed.size == Decimal("0.001") and declared.size != typed.size:
        raise BadReading(f'"{shown(text)}": "m" can be milli or mega; write M for mega, or the value in {name}.')
    return typed.size / declared.size


def _plain_unit(rest: str, name: str, text: str) -> None:
    """After `1k2` only the plain unit may follow, and it changes nothing: `1k2 ohm`, not `1k2 kohm`."""
    if not rest:
        return
    typed, declared = find(rest), find(name)
    if typed is None or declared is None or typed.size != 1 or typed.quantity != declared.quantity:
        raise BadReading(
            f'"{shown(text)}": after a letter in the number only its plain unit may follow, as in 1k2 ohm.'
        )
    _scale(rest, name, text)


def _same(rest: str, name: str) -> bool:
    return fold(rest.replace(" ", "")) == fold(plain_signs(name).replace(" ", "")) != ""


def _overloaded(sign: str, name: str, unit: str, text: str) -> Measured:
    if name in ("", "%"):
        raise BadReading(f'"{shown(text)}" is a meter\'s overload; this reading is {name or "a plain number"}.')
    value = -math.inf if sign == "-" else math.inf
    if value < 0:
        _refuse_negative(Decimal(-1), name, text)
    return Measured(value, unit, overload=True)


def _refuse_negative(value: Decimal, name: str, text: str) -> None:
    if value >= 0:
        return
    declared = find(name) if name else None
    if declared is not None and (declared.quantity in _NEVER_NEGATIVE or declared.current == "a.c."):
        raise BadReading(f'"{shown(text)}": a reading in {name} cannot be negative.')


def implausible(value: float, nominal: float | None, unit: str) -> str:
    """A question to ask before this value is taken; empty when nothing is odd about it.

    Odd is: beyond two and a half times the nominal of a voltage or a current, ten times that of anything else; a d.c.
    value of the wrong sign (leads swapped); below absolute zero; more than 1500 V. The limits are our own, wide
    enough for any fault that leaves the circuit whole.
    """
    name = unit.strip()
    known = find(name)
    quantity = known.quantity if known else ""
    size = float(known.size) if known else 1.0
    if math.isnan(value):
        return "That is not a number. What does the meter show?"
    if math.isinf(value):
        return ""
    if quantity == "degC" and value < -273.15:
        return f"{value:g} {name} is colder than anything can be. Is that right?"
    if quantity == "V" and abs(value) * size > 1500:
        return _slip(value, nominal, name) or f"{value:g} {name} is beyond a low-voltage installation. Is that right?"
    if not nominal or quantity == "degC":
        return ""
    electric = quantity in ("V", "A")
    if electric and known and known.current != "a.c." and value * nominal < 0 and abs(value / nominal) > 0.1:
        return f"{value:g} {name} where {nominal:g} is expected: are the leads the other way round?"
    if quantity != "ohm" and abs(value) > (2.5 if electric else 10.0) * abs(nominal):
        return _slip(value, nominal, name) or f"{value:g} {name}, where {nominal:g} is expected. Is that right?"
    return ""


def _slip(value: float, nominal: float | None, name: str) -> str:
    """The same digits with a point or a prefix forgotten, when that lands near the nominal."""
    if not nominal:
        return ""
    for power in (1000.0, 100.0, 10.0):
        if 0.5 <= abs(value / power / nominal) <= 1.5:
            return f"{value:g} {name} where {nominal:g} is expected. Is it {value / power:g} {name}?"
    return ""
