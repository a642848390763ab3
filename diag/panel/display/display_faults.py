"""Faults of a segment display itself, and how likely each is beforehand.

On a multiplexed display one line drives a segment in every digit, and another a whole digit (common practice): what
is dark says which part failed. Dark is likelier than stuck lit.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from diag.panel.display import segments

DRIVER: Final = 0.008
"""The chance that some segment is dark in every digit. These four are ours; only their order matters much."""
DIGIT: Final = 0.008
"""The chance that some digit is dark."""
SINGLE: Final = 0.008
"""The chance that one segment of one digit is dark."""
STUCK: Final = 0.002
"""The chance that one segment of one digit is stuck lit."""

FaultKind = Literal["healthy", "segment driver", "digit driver", "one segment", "stuck segment"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a display, or none. `segment` 0-6 is a-g; `digit` counts from 0 at the left; -1 is not meant."""

    kind: FaultKind
    segment: int = -1
    digit: int = -1

    def shows(self, digit: int, lit: int) -> int:
        """The segments lit at `digit` with this fault, when `lit` should be."""
        if self.kind == "digit driver":
            return 0 if digit == self.digit else lit
        if self.kind == "segment driver" or (self.kind == "one segment" and digit == self.digit):
            return lit & ~(1 << self.segment)
        if self.kind == "stuck segment" and digit == self.digit:
            return lit | 1 << self.segment
        return lit

    @property
    def says(self) -> str:
        """In words, with the part that fails on a multiplexed display (common practice)."""
        letter = segments.SEGMENTS[self.segment] if self.segment >= 0 else ""
        return {
            "healthy": "display healthy",
            "segment driver": f"segment {letter} dark in every digit: its driver or line",
            "digit driver": f"digit {self.digit + 1} dark: its driver or line",
            "one segment": f"segment {letter} of digit {self.digit + 1} dark: that element",
            "stuck segment": f"segment {letter} of digit {self.digit + 1} always lit",
        }[self.kind]


@lru_cache(maxsize=32)
def faults(digits: int) -> tuple[tuple[Fault, float], ...]:
    """Every fault that a display of so many digits may have, with its prior; healthy is first. Sums to 1."""
    found: list[tuple[Fault, float]] = []
    if digits > 1:
        found += [(Fault("segment driver", s), DRIVER / 7) for s in range(7)]
    found += [(Fault("digit driver", -1, d), DIGIT / digits) for d in range(digits)]
    for s, d in itertools.product(range(7), range(digits)):
        found.append((Fault("one segment", s, d), SINGLE / (7 * digits)))
        found.append((Fault("stuck segment", s, d), STUCK / (7 * digits)))
    return ((Fault("healthy"), 1 - sum(p for _, p in found)), *found)
