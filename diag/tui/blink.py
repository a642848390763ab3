"""The phases of flashing lamps, by the pattern that the machine file gives."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache

from diag.panel import flash


class Blink:
    """Knows which patterns are on the screen, and when a repaint would show something new."""

    def __init__(self, seconds: Callable[[], float]) -> None:
        """`seconds`: a clock that only ever goes forward."""
        self._seconds = seconds
        self._watched: tuple[str, ...] = ()
        self._last: tuple[bool, ...] = ()

    def watch(self, patterns: Iterable[str]) -> None:
        """Only these flash now."""
        self._watched = tuple(sorted({p for p in patterns if _pattern(p).changes}))

    def lit(self, pattern: str) -> bool:
        """Whether a lamp of that pattern is in a lit phase now."""
        found = _pattern(pattern)
        if not found.period:
            return found.phases[0].lit
        at = int(self._seconds() * 1000) % found.period
        for phase in found.phases:
            if at < phase.ms:
                return phase.lit
            at -= phase.ms
        return found.phases[-1].lit

    @property
    def phases(self) -> tuple[bool, ...]:
        """Lit or dark, each pattern that flashes now."""
        return tuple(self.lit(p) for p in self._watched)

    def changed(self) -> bool:
        """Whether any watched lamp is in another phase than at the last call."""
        now = self.phases
        changed, self._last = now != self._last, now
        return changed


@lru_cache(256)
def _pattern(words: str) -> flash.Pattern:
    try:
        return flash.parse(words) if words else flash.STEADY
    except flash.BadPattern:
        return flash.STEADY
