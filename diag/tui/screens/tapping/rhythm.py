"""What a person taps along with a lamp: the times of it, without what a key that is held down adds to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from diag.case.observe.from_lamp import Tapped
from diag.panel.lamps.flash import Pattern

Claim = Literal["", "lit", "dark", "fast"]
"""What a person may say instead of tapping: it stays lit, it stays dark, or it is too fast to tap."""

REPEAT = 45.0
"""Milliseconds. A key that is held down repeats about every 33 ms; no thumb is as quick."""
RUN = 3
"""This many taps as close as that come from a key that is held down; two may come from a key that bounced."""


@dataclass
class Rhythm:
    """All times are milliseconds on one clock that only ever goes forward."""

    hold: bool = False
    """The key is held while the lamp is lit, instead of a tap each time it lights."""
    claim: Claim = ""
    down: float | None = None
    """When the present press began; None while nothing is pressed."""
    repeats: bool = False
    """The key was held down where it should have been tapped."""
    _times: list[float] = field(default_factory=list)
    _presses: list[tuple[float, float]] = field(default_factory=list)
    _lit: float | None = None
    """When it was last said that it lights, a key's repeats included."""

    def tap(self, at: float) -> None:
        self._go_on()
        self._times.append(at)
        self.repeats = len(_runs(self._times)[-1]) >= RUN

    def lights(self, at: float) -> None:
        """A press begins. One that is still unfinished is left out."""
        self._go_on()
        self.repeats = self._lit is not None and at - self._lit <= REPEAT
        self.down = None if self.repeats else at
        self._lit = at

    def goes_dark(self, at: float) -> bool:
        """The press ends; False when none had begun."""
        if self.down is None:
            return False
        self._presses.append((self.down, max(at, self.down)))
        self.down = None
        return True

    def say(self, claim: Claim) -> None:
        self.clear()
        self.claim = claim

    def switch(self) -> None:
        """To the other way of tapping, from the beginning."""
        self.clear()
        self.hold = not self.hold

    def clear(self) -> None:
        self.claim, self.down, self.repeats, self._lit = "", None, False, None
        self._times, self._presses = [], []

    def _go_on(self) -> None:
        if self.claim:
            self.clear()

    @property
    def taps(self) -> tuple[float, ...]:
        """The taps that a thumb made. A key waits before it repeats, so the first of its repeats is not one of them."""
        kept: list[float] = []
        for run in _runs(self._times):
            if len(run) < RUN or not kept:
                kept.append(run[0])
        return tuple(kept)

    @property
    def count(self) -> int:
        """Taps, or presses that were finished."""
        return len(self._presses) if self.hold else len(self.taps)

    @property
    def tapped(self) -> Tapped | None:
        """What was tapped, in the form that the recogniser takes; None while there is nothing."""
        if self.claim == "fast":
            return Tapped(too_fast=True)
        if self.claim:
            return Tapped(looks=self.claim)
        if not self.count:
            return None
        return Tapped(held=tuple(self._presses)) if self.hold else Tapped(taps=self.taps)

    @property
    def marks(self) -> tuple[tuple[float, float], ...]:
        """From when to when something was pressed, for the time line; a tap has no length."""
        return tuple(self._presses) if self.hold else tuple((t, t) for t in self.taps)

    def rounds(self, pattern: Pattern) -> float:
        """How many whole periods of the pattern were tapped along, whichever flash it began with."""
        began = [start for start, _ in self.marks]
        if not began or not pattern.period:
            return 0.0
        onsets = pattern.onsets
        gaps = [b - a for a, b in pairwise((*onsets, onsets[0] + pattern.period))]
        return (began[-1] - began[0] + max(gaps)) / pattern.period


def _runs(times: Sequence[float]) -> list[list[float]]:
    """The times grouped into runs in which they are closer together than any thumb could tap."""
    runs: list[list[float]] = []
    for at in times:
        if runs and at - runs[-1][-1] <= REPEAT:
            runs[-1].append(at)
        else:
            runs.append([at])
    return runs
