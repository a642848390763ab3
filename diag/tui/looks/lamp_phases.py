"""The phases of flashing lamps, by the pattern that the machine file gives."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache

from diag.panel.lamps import flash


class Blink:
    """Knows which patterns are on the screen, and when a repaint would show something new."""

    def __init__(self, seconds: Callable[[], float]) -> None:
        """`seconds`: a clock that only ever goes forward."""
        self._seconds = seconds
        self._watched: tuple[str, ...] = ()
        self._last: tuple[tuple[bool, str], ...] = ()

    def watch(self, patterns: Iterable[str]) -> None:
        """From now on only these patterns flash."""
        self._watched = tuple(sorted({p for p in patterns if _pattern(p).changes}))

    def lit(self, pattern: str) -> bool:
        """Whether a lamp of that pattern is in a lit phase now."""
        return flash.lit_at(_pattern(pattern), self._ms)

    def colour(self, pattern: str) -> str:
        """The present colour of a lamp of that pattern, where the pattern changes it; otherwise empty."""
        return flash.phase_at(_pattern(pattern), self._ms).colour

    @property
    def _ms(self) -> float:
        return self._seconds() * 1000

    @property
    def phases(self) -> tuple[tuple[bool, str], ...]:
        """For each pattern that flashes now, whether it is lit, and its colour."""
        return tuple((self.lit(p), self.colour(p)) for p in self._watched)

    def changed(self) -> bool:
        """Whether any watched lamp has changed its phase since the last call."""
        now = self.phases
        changed, self._last = now != self._last, now
        return changed


@lru_cache(256)
def _pattern(words: str) -> flash.Pattern:
    try:
        return flash.parse(words) if words else flash.STEADY
    except flash.BadPattern:
        return flash.STEADY
