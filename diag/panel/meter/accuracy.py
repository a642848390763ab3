"""What a meter's accuracy makes of a reading near a limit.

A meter's data sheet gives percent of reading plus counts of the last digit. Half-width of the interval that holds the
true value: a = percent / 100 * |reading| + counts * step. Inside it every value is taken as equally likely (a
rectangular distribution, which the GUM, JCGM 100 4.3.7, takes where only limits are known). A band then weighs as
much as its share of that interval. Under a flat belief about the true value close to the limit this is P(seen | band)
up to a common factor; it says nothing of how likely a band was before.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from diag.panel.meter.meter import BadReading, Measured, shown


class Span(Protocol):
    """A band of a reading: a state and the values it stands for, `None` without limit on that side."""

    @property
    def state(self) -> str: ...
    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Percent of reading, and counts of the last digit shown."""

    percent: float
    counts: float = 0.0

    def half_width(self, measured: Measured) -> float:
        """How far the true value may lie from the reading, in the reading's unit; 0 for an overload."""
        if not math.isfinite(measured.value):
            return 0.0
        return self.percent / 100 * abs(measured.value) + self.counts * measured.step


ORDINARY: Final = Accuracy(1.0, 2)
"""An ordinary handheld multimeter, where nothing else is said: 1 % and 2 counts (common practice)."""
EXACT: Final = Accuracy(0.0)

_WRITTEN: Final = re.compile(
    r"(?:\+-|\+/-|\u00b1)?\s*\(?\s*([0-9]{1,2}(?:[.,][0-9]{1,4})?)\s*%\s*(?:(?:of )?(?:reading|rdg))?\s*"
    r"(?:\+\s*([0-9]{1,3})\s*(?:counts?|digits?|dgts?|d)?)?\s*\)?",
    re.IGNORECASE,
)


def parse(text: str) -> Accuracy:
    """`0.5 %`, `0.5 % + 3`, `±(1,0 % + 2 digits)`. Raises BadReading."""
    found = _WRITTEN.fullmatch(text.strip()) if len(text) <= 60 else None
    if not found:
        raise BadReading(f'"{shown(text)}" is not an accuracy; write percent of reading and counts, as in 0.5 % + 3.')
    return Accuracy(float(found[1].replace(",", ".")), float(found[2] or 0))


def band_weights(
    measured: Measured, bands: Sequence[Span], accuracy: Accuracy = EXACT, normal: str = ""
) -> dict[str, float]:
    """Weight of each band that the true value may lie in, scaled so that the largest is 1. Other bands are left out.

    A value exactly on a boundary belongs to the band of the state `normal` when that touches it, else to the lower
    band. `OL` is above every limit, `>40M` anywhere above; a gap between bands goes to the nearest band. Raises
    ValueError without bands.
    """
    if not bands:
        raise ValueError("A reading without bands has no weights.")
    if measured.overload:
        return _over(measured.value, bands)
    half = accuracy.half_width(measured)
    low, high = measured.value - half, measured.value + half
    found: dict[str, float] = {}
    for band in bands:
        share = min(high, _high(band)) - max(low, _low(band))
        if share > 0:
            found[band.state] = found.get(band.state, 0.0) + share
    if not found:
        return {_place(measured.value, bands, normal): 1.0}
    best = max(found.values())
    return {state: w / best for state, w in found.items() if w / best > 1e-9}


def near_limit(weights: dict[str, float]) -> str:
    """One line for the screen when a reading is not sure of its band; empty when it is."""
    if len(weights) < 2:
        return ""
    total = sum(weights.values())
    ranked = sorted(weights.items(), key=lambda pair: -pair[1])
    parts = ", ".join(f"{state} {100 * w / total:.0f} %" for state, w in ranked)
    return f"Near a limit for this meter: {parts}."


def _low(band: Span) -> float:
    return -math.inf if band.low is None else band.low


def _high(band: Span) -> float:
    return math.inf if band.high is None else band.high


def _place(value: float, bands: Sequence[Span], normal: str) -> str:
    holding = [b.state for b in bands if _low(b) <= value <= _high(b)]
    if normal in holding:
        return normal
    if holding:
        return holding[0]
    return min(bands, key=lambda b: min(abs(value - _low(b)), abs(value - _high(b)))).state


def _over(value: float, bands: Sequence[Span]) -> dict[str, float]:
    if value == -math.inf:
        return {min(bands, key=_low).state: 1.0}
    above = [b.state for b in bands if _high(b) > value]
    return dict.fromkeys(above or [max(bands, key=_high).state], 1.0)
