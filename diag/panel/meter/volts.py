"""Several voltages typed in one row, as they are read off at a test point: `0.1 0 0.2 V`, `12 mV 0 V 0 V`."""

from __future__ import annotations

import re
from typing import Final

from diag.panel.meter.meter import BadReading, parse, shown

_UNIT: Final = re.compile(r"([kmµu]?v)(?:ac|dc|a\.c\.|d\.c\.)?", re.IGNORECASE)
_KIND: Final = ("ac", "dc", "a.c.", "d.c.")
_TOGETHER: Final = re.compile(r"(?<=[0-9])(?=[kmµu]?v)", re.IGNORECASE)
LONGEST: Final = 200
"""Characters of one row."""


def row(text: str, count: int) -> tuple[float, ...]:
    """So many voltages, in V. A unit counts for the figures before it that have none yet, and the last needs one: a
    bare figure, or nothing at all, is no voltage. Raises `BadReading` with one plain line."""
    if len(text) > LONGEST:
        raise BadReading("That row is too long.")
    found: list[float] = []
    bare: list[str] = []
    for word in _TOGETHER.sub(" ", text.replace("/", " ").replace(";", " ")).split():
        if found and not bare and word.casefold() in _KIND:
            continue
        unit = _UNIT.fullmatch(word)
        if unit is None:
            bare.append(word)
        elif not bare:
            raise BadReading(f"{shown(word)} has no figure before it.")
        else:
            found += [_volts(figure, unit[1]) for figure in bare]
            bare = []
    if bare:
        raise BadReading("Type the unit too, such as 0.2 V.")
    if len(found) != count:
        some = "1 voltage is" if count == 1 else f"{count} voltages are"
        raise BadReading(f"{some} asked for, and here {_are(len(found))}.")
    return tuple(found)


def _volts(figure: str, unit: str) -> float:
    measured = parse(f"{figure} {unit.lower().replace('v', 'V')}", "V")
    if measured.overload:
        raise BadReading("Out of the meter's range: choose a higher range and measure again.")
    return measured.value


def _are(count: int) -> str:
    return {0: "is none", 1: "is 1"}.get(count, f"are {count}")
