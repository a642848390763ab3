"""The bands of a reading: `< 5`, `5 .. 20.4`, `> 28.8`, without gap and without overlap."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

from diag.machine.model import Band

_N: Final = r"([+-]?(?:0|[1-9][0-9]{0,8})(?:\.[0-9]{1,9})?)"
_BELOW: Final = re.compile(rf"<=?\s*{_N}")
_ABOVE: Final = re.compile(rf">=?\s*{_N}")
_BETWEEN: Final = re.compile(rf"{_N}\s*\.\.\s*{_N}")


class BadBand(ValueError):
    """What is wrong with one band; `state` says which."""

    def __init__(self, state: str, text: str) -> None:
        super().__init__(text)
        self.state = state


def parse(state: str, text: str) -> Band:
    """One band. Raises BadBand. A value on a limit is settled by `place`, so `<` and `<=` mean the same."""
    text = text.strip()
    if found := _BELOW.fullmatch(text):
        return Band(state, None, float(found[1]))
    if found := _ABOVE.fullmatch(text):
        return Band(state, float(found[1]), None)
    if found := _BETWEEN.fullmatch(text):
        low, high = float(found[1]), float(found[2])
        if low >= high:
            raise BadBand(state, f"'{text}' has its limits the wrong way round")
        return Band(state, low, high)
    raise BadBand(state, "should be a band such as '< 5', '5 .. 20.4' or '> 28.8'" + _with_points(text))


def _with_points(text: str) -> str:
    """What to write for a band with decimal commas; empty for anything else."""
    points = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    right = points != text and any(band.fullmatch(points) for band in (_BELOW, _ABOVE, _BETWEEN))
    return f'; write "{points}"' if right else ""


def parse_all(written: Mapping[str, str]) -> tuple[Band, ...]:
    """All bands of a reading from low to high, the outer ones without limit. Raises BadBand.

    A lowest band that starts at 0 also takes what lies below: a meter may show -0.1.
    """
    bands = [parse(state, text) for state, text in written.items()]
    bands.sort(key=lambda band: (band.low is not None, band.low or 0.0))
    for band, after in pairwise(bands):
        if band.high is None or after.low is None or band.high > after.low:
            raise BadBand(after.state, f"overlaps the band '{band.state}'")
        if band.high < after.low:
            raise BadBand(after.state, f"leaves a gap from {band.high:g} to {after.low:g} after '{band.state}'")
    first, last = bands[0], bands[-1]
    if first.low is not None:
        if first.low != 0.0:
            raise BadBand(first.state, f"no band covers values below {first.low:g}")
        bands[0] = Band(first.state, None, first.high)
    if last.high is not None:
        raise BadBand(last.state, f"no band covers values above {last.high:g}")
    return tuple(bands)


def place(bands: Sequence[Band], normal: str, value: float) -> str:
    """The state of the band that `value` lies in.

    A value on the limit between two bands belongs to the normal one, else to the one nearer the normal band.
    `bands` run from low to high without gap, the outer ones without limit; `value` may be infinite, never NaN.
    """
    at = next(i for i, band in enumerate(bands) if band.high is None or value <= band.high)
    if value == bands[at].high:
        home = next((i for i, band in enumerate(bands) if band.state == normal), at)
        if home > at:
            at += 1
    return bands[at].state
