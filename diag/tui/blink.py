"""The phases of flashing lamps, by the pattern that the machine file gives."""
from __future__ import annotations

from collections.abc import Callable, Iterable


class Blink:
    def __init__(self, seconds: Callable[[], float]) -> None:
        self._seconds = seconds
        self._watched: frozenset[str] = frozenset()
        self._last: tuple[bool, ...] = ()

    def watch(self, patterns: Iterable[str]) -> None:
        self._watched = frozenset(patterns)

    def lit(self, pattern: str) -> bool:
        return True

    def changed(self) -> bool:
        return False
