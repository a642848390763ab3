"""Simulated tapping, and how often the pattern is told right from it.

The simulated thumb is not the recogniser's own model: it has a reaction time that differs from person to person, a
lamp whose timer is off, gaps of doubled taps of another shape, and a watch that starts anywhere in the pattern.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from diag.panel.flash import CIA_303_3, FLICKER, Pattern, phase_at
from diag.panel.taps import NEEDED, likelihoods

WITHOUT_FLICKER = tuple(p for p in CIA_303_3 if p is not FLICKER)
"""The set that can be tapped: steady, off, blink, one to four flashes."""
STATIC_WATCH = 6000.0
"""Milliseconds that a person looks at a lamp that does not change before saying so."""


@dataclass(frozen=True, slots=True)
class Tapping:
    """One simulated watch: tap times, its end, and how the lamp looked at the end. Milliseconds."""

    taps: tuple[float, ...]
    until: float
    lit: bool


@dataclass(frozen=True, slots=True)
class Confusion:
    """Rows: what the lamp did. Columns: what was recognised. Counts of trials; ties are shared."""

    names: tuple[str, ...]
    counts: tuple[tuple[float, ...], ...]

    @property
    def right(self) -> tuple[float, ...]:
        """The share told right, for each pattern."""
        return tuple(row[i] / sum(row) for i, row in enumerate(self.counts))

    @property
    def rate(self) -> float:
        """The share told right over all."""
        return sum(row[i] for i, row in enumerate(self.counts)) / sum(map(sum, self.counts))

    def lines(self) -> list[str]:
        """The table as text, in percent of each row."""
        wide = max(len(n) for n in self.names)
        found = [" " * wide + "".join(f"{i + 1:>6}" for i in range(len(self.names)))]
        for i, (name, row) in enumerate(zip(self.names, self.counts, strict=True)):
            shares = "".join(f"{100 * c / sum(row):6.1f}" if c else "     ." for c in row)
            found.append(f"{name:<{wide}}{shares}   {i + 1}")
        return found


def tap_along(
    pattern: Pattern,
    rng: random.Random,
    *,
    periods: int = NEEDED,
    jitter: float = 40.0,
    missed: float = 0.03,
    doubled: float = 0.02,
    timer: float = 0.02,
) -> Tapping:
    """A person tapping along with `pattern` for so many periods, from a random moment. `timer` is the lamp's error."""
    if not pattern.changes:
        return Tapping((), STATIC_WATCH, pattern.phases[0].lit)
    speed = 1 + rng.uniform(-timer, timer)
    start = rng.uniform(0, pattern.period)
    reaction = max(rng.gauss(220, 40), 120)
    taps: list[float] = []
    for n in range(-1, periods + 2):
        for onset in pattern.onsets:
            at = n * pattern.period + onset - start
            if not 0 <= at < periods * pattern.period or rng.random() < missed:
                continue
            tap = at * speed + reaction + rng.gauss(0, jitter)
            taps.append(tap)
            if rng.random() < doubled:
                taps.append(tap + max(rng.gauss(110, 25), 40))
    until = periods * pattern.period * speed + reaction
    taps = sorted(t for t in taps if t >= 0)
    end = max(until, taps[-1] if taps else 0.0)
    return Tapping(tuple(taps), end, phase_at(pattern, start + periods * pattern.period).lit)


def confusion(
    patterns: Sequence[Pattern] = WITHOUT_FLICKER,
    *,
    trials: int = 200,
    seed: int = 1,
    periods: int = NEEDED,
    jitter: float = 40.0,
    missed: float = 0.03,
    doubled: float = 0.02,
) -> Confusion:
    """How simulated taps along each pattern are recognised among the same patterns. Reproducible by its seed."""
    rng = random.Random(seed)
    counts = []
    for pattern in patterns:
        row = [0.0] * len(patterns)
        for _ in range(trials):
            watch = tap_along(pattern, rng, periods=periods, jitter=jitter, missed=missed, doubled=doubled)
            found = likelihoods(watch.taps, patterns, until=watch.until, looks="lit" if watch.lit else "dark")
            best = [i for i, x in enumerate(found) if x == max(found)]
            for i in best:
                row[i] += 1 / len(best)
        counts.append(tuple(row))
    return Confusion(tuple(p.name for p in patterns), tuple(counts))
