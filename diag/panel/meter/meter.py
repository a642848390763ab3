"""A meter reading as a person writes it, turned into a number in the indication's own unit.

Accepted are `23.9`, `23,9 V`, `.5`, `-12`, `0.4 k`, `1k2`, `4M7`, `4R7`, `3V3` (the letter stands for the decimal
mark, IEC 60062), `230 V a.c.`, `OL`, `>40M`. Prefixes and units convert to the declared unit; a bare number is in
the declared unit; a bare prefix goes with the declared quantity (`0.4 k` of an `ohm` reading is 400 ohm).

Refused, with one line that says what to write, rather than guessed, are:

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

from diag.panel.meter.units import PREFIX, Unit, bare_prefixes, find, fold, plain_signs
from diag.text import cut, one_line

LONGEST: Final = 40
"""Characters. Nobody writes a longer reading; longer text was pasted by mistake."""
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


MILLI: Final = Decimal("0.001")
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
    """Text of a person, safe to repeat in one line: cut at 24 characters."""
    return cut(one_line(text), 24)


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
    typed = _Typed(text, name)
    typed.refuse_odd_characters(said)
    if over := _OVER.fullmatch(said):
        typed.scale(over[2])
        typed.refuse_overload(over[1])
        return Measured(-math.inf if over[1] == "-" else math.inf, unit, overload=True)
    bound = said.startswith(">")
    if bound:
        said = said[1:].lstrip()
        if said.startswith("-"):
            raise typed.bad(f" is not understood; write the number the meter shows{_in(name)}.")
    number, size, rest = typed.number(said)
    if size is None:
        size = typed.scale(rest)
    elif rest:
        typed.refuse_prefixed(rest)
    value = number * size
    if value < 0:
        typed.refuse_negative()
    step = Decimal(1).scaleb(int(number.as_tuple().exponent)) * size
    return Measured(_float(value), unit, bound, abs(_float(step)))


def _float(value: Decimal) -> float:
    return float(value) + 0.0  # no negative zero


def _in(name: str) -> str:
    return f", in {name}" if name else ""


@dataclass(frozen=True, slots=True)
class _Typed:
    """What was typed for a reading in the unit `name`, for the messages that refuse it."""

    text: str
    name: str

    def bad(self, why: str) -> BadReading:
        return BadReading(f'"{shown(self.text)}"{why}')

    @property
    def declared(self) -> Unit | None:
        """The declared unit; that of a plain number has no quantity. None when it is not one that converts."""
        return find(self.name) if self.name else Unit("", Decimal(1))

    def refuse_odd_characters(self, said: str) -> None:
        for c in said:
            if not c.isprintable():
                raise BadReading(f"There is a control character in the reading; type the number again{_in(self.name)}.")
            if c.isnumeric() and c not in "0123456789":
                raise self.bad(": write plain digits 0 to 9, and a fraction as a decimal number.")
        if said.startswith("<"):
            raise self.bad(': write the number the meter shows, without "<".')
        if "\u221e" in said or said.lower().lstrip("+-") in ("inf", "infinity", "nan"):
            raise self.bad(" is not a number; write OL when the meter shows an overload.")

    def number(self, said: str) -> tuple[Decimal, Decimal | None, str]:
        """The number, the size of a letter that stood for its decimal mark (None without one), and what follows."""
        if _MIXED.match(said):
            raise self.bad(": write one number without spaces or thousands marks, as in 1234.5.")
        if grouped := _GROUPED.match(said):
            a, b = grouped[1], grouped[2]
            raise self.bad(f" can be {a}.{b} or {a}{b}; write the one that is meant.")
        if found := _LETTER_MARK.fullmatch(said):
            sign, whole, letter, part, rest = found.groups()
            size = self.letter_size(letter)
            if size is not None and (whole or letter in "Rr"):
                return self.decimal(f"{sign}{whole or '0'}.{part}"), size, rest
        if found := _NUMBER.fullmatch(said):
            sign, digits, rest = found.groups()
            return self.decimal(sign + digits.replace(",", ".").rstrip(".")), None, rest
        raise self.bad(f" is not a number; write what the meter shows{_in(self.name)}, as in 23.9.")

    def decimal(self, digits: str) -> Decimal:
        if sum(c.isdigit() for c in digits) > MOST_DIGITS:
            raise self.bad(" has more digits than a meter shows.")
        return Decimal(digits)

    def letter_size(self, letter: str) -> Decimal | None:
        """What a letter in the place of the decimal mark multiplies by, relative to the declared unit (IEC 60062)."""
        declared = self.declared
        if declared is None:
            return None
        if letter.upper() == {"ohm": "R", "V": "V", "A": "A"}.get(declared.quantity, "-"):
            return Decimal(1) / declared.size
        return self.prefix_size(letter, declared)

    def prefix_size(self, prefix: str, declared: Unit) -> Decimal | None:
        """What a prefix that stands alone, as in `0.4 k`, multiplies by; None when it is something else."""
        prefix = "k" if prefix == "K" else "M" if prefix.lower() == "meg" else prefix
        if prefix == "m":
            self.refuse_milli(declared)
        if len(prefix) != 1 or prefix not in bare_prefixes(declared):
            return None
        return Decimal(1).scaleb(PREFIX[prefix]) / declared.size

    def refuse_milli(self, declared: Unit) -> None:
        """Lower-case m is typed for mega as often, where the resistance is not declared in milliohm."""
        if declared.quantity == "ohm" and declared.size != MILLI:
            raise self.bad(f': "m" can be milli or mega; write M for mega, or the value in {self.name}.')

    def scale(self, rest: str) -> Decimal:
        """What to multiply a number followed by `rest` by, to have it in the declared unit."""
        rest = rest.strip()
        if not rest or fold(rest.replace(" ", "")) == fold(plain_signs(self.name).replace(" ", "")):
            return Decimal(1)
        declared = self.declared
        if declared is None:
            raise self.bad(f": this reading is in {self.name}.")
        size = self.prefix_size(rest, declared)
        if size is not None:
            return size
        if not self.name:
            raise self.bad(": this reading is a plain number, without a unit.")
        return self.unit_size(rest, declared)

    def unit_size(self, rest: str, declared: Unit) -> Decimal:
        """What a unit that was written out, as in `0.4 kohm`, multiplies by. Refuses one of something else."""
        typed = find(rest)
        if typed is None:
            raise self.bad(f': "{shown(rest)}" is not a unit of this reading; it is in {self.name}.')
        if typed.quantity != declared.quantity:
            what = _SHOWN.get(typed.quantity, typed.quantity)
            raise self.bad(f" is {what}; this reading is in {self.name}.")
        if typed.current and declared.current and typed.current != declared.current:
            raise self.bad(f" is {typed.current}; this reading is in {self.name}. Check the meter's setting.")
        if typed.size == MILLI:
            self.refuse_milli(declared)
        return typed.size / declared.size

    def refuse_prefixed(self, rest: str) -> None:
        """After `1k2` only the plain unit may follow, and it changes nothing: `1k2 ohm`, not `1k2 kohm`."""
        typed, declared = find(rest), find(self.name)
        if typed is None or declared is None or typed.size != 1 or typed.quantity != declared.quantity:
            raise self.bad(": after a letter in the number only its plain unit may follow, as in 1k2 ohm.")
        self.scale(rest)

    def refuse_overload(self, sign: str) -> None:
        if self.name in ("", "%"):
            raise self.bad(f" is a meter's overload; this reading is {self.name or 'a plain number'}.")
        if sign == "-":
            self.refuse_negative()

    def refuse_negative(self) -> None:
        declared = self.declared
        if declared is not None and (declared.quantity in _NEVER_NEGATIVE or declared.current == "a.c."):
            raise self.bad(f": a reading in {self.name} cannot be negative.")
