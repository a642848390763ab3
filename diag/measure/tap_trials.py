"""Simulated tapping and holding, and how often the pattern is told right from it.

The simulated thumb is not the recogniser's own model: it has a reaction time that differs from person to person, a
lamp whose timer is off, gaps of doubled taps of another shape, and a watch that starts anywhere in the pattern. One
that holds lets go a little sooner or later than it presses, may join in at a lamp that is lit already, and may let
go for a moment where it should hold on.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from diag.panel.lamps.flash import CIA_303_3, FLICKER, Pattern, phase_at
from diag.panel.lamps.taps import NEEDED, Looks, held, likelihoods

WITHOUT_FLICKER = tuple(p for p in CIA_303_3 if p is not FLICKER)
"""The set that can be tapped: steady, off, blink, one to four flashes."""
JITTER = 40.0
"""Milliseconds, standard deviation of each tap; `diag.panel.lamps.beats.TAP_JITTER` says where it is from."""
MISSED = 0.03
DOUBLED = 0.02
TARGET = 0.97
"""The share that is to be told right, with these and after `NEEDED` periods."""
STATIC_WATCH = 6000.0
"""Milliseconds that a person looks at a lamp that does not change before saying so."""
SHORTEST_PRESS = 25.0
"""Milliseconds between any two edges of a key that a thumb makes."""


@dataclass(frozen=True, slots=True)
class Tapping:
    """One simulated watch: tap times, its end, and how the lamp looked at the end. Milliseconds."""

    taps: tuple[float, ...]
    until: float
    lit: bool


@dataclass(frozen=True, slots=True)
class Pressing:
    """One simulated watch with a key held while the lamp was lit: (down, up) times, its end, how the lamp looked."""

    presses: tuple[tuple[float, float], ...]
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


def _begun(pattern: Pattern, rng: random.Random, timer: float) -> tuple[float, float, float]:
    """The lamp's own speed, at which millisecond of its round the watch begins, and the person's reaction."""
    return 1 + rng.uniform(-timer, timer), rng.uniform(0, pattern.period), max(rng.gauss(220, 40), 120)


def tap_along(
    pattern: Pattern,
    rng: random.Random,
    *,
    periods: int = NEEDED,
    jitter: float = JITTER,
    missed: float = MISSED,
    doubled: float = DOUBLED,
    timer: float = 0.02,
) -> Tapping:
    """A person tapping along with `pattern` for so many periods, from a random moment. `timer` is the lamp's error."""
    if not pattern.changes:
        return Tapping((), STATIC_WATCH, pattern.phases[0].lit)
    speed, start, reaction = _begun(pattern, rng, timer)
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


def press_along(
    pattern: Pattern,
    rng: random.Random,
    *,
    periods: int = NEEDED,
    jitter: float = JITTER,
    missed: float = MISSED,
    doubled: float = DOUBLED,
    timer: float = 0.02,
) -> Pressing:
    """A person holding a key while `pattern` is lit, for so many periods, from a random moment.

    `jitter` is that of each press and of each letting go; `missed` and `doubled` are the chances for each press. A
    lamp that is lit all the time is held until the end of the watch by half of the people, and by the others not at
    all.
    """
    if not pattern.changes:
        lit = pattern.phases[0].lit
        on = [(max(rng.gauss(400, 100), 120), STATIC_WATCH)] if lit and rng.random() < 0.5 else []
        if on and rng.random() < doubled:
            on = _slipped(*on[0], rng)
        return Pressing(tuple(on), STATIC_WATCH, lit)
    speed, start, reaction = _begun(pattern, rng, timer)
    sooner = rng.gauss(0, 30)
    joins = rng.random() < 0.5
    presses: list[tuple[float, float]] = []
    for at, ends in _lit(pattern, start, periods):
        if ends <= 0 or at >= periods * pattern.period or (at < 0 and not joins) or rng.random() < missed:
            continue
        down = max(at, 0.0) * speed + reaction + rng.gauss(0, jitter)
        down = max(down, presses[-1][1] + SHORTEST_PRESS if presses else 0.0)
        up = max(ends * speed + reaction - sooner + rng.gauss(0, jitter), down + SHORTEST_PRESS)
        presses += _twice(down, up, rng) if rng.random() < doubled else [(down, up)]
    until = periods * pattern.period * speed + reaction
    end = max(until, presses[-1][1] if presses else 0.0)
    return Pressing(tuple(presses), end, phase_at(pattern, start + periods * pattern.period).lit)


def _lit(pattern: Pattern, start: float, periods: int) -> Iterator[tuple[float, float]]:
    """From when to when the lamp is lit, in milliseconds after the watch began, from the period before it on."""
    for n in range(-1, periods + 2):
        at = n * pattern.period - start
        for phase in pattern.phases:
            if phase.lit:
                yield at, at + phase.ms
            at += phase.ms


def _twice(down: float, up: float, rng: random.Random) -> list[tuple[float, float]]:
    """A press that became two: the thumb slips off it for a moment, or presses once more after it."""
    if rng.random() < 0.5 and up - down > 150:
        return _slipped(down, up, rng)
    again = up + max(rng.gauss(70, 20), SHORTEST_PRESS)
    return [(down, up), (again, again + max(rng.gauss(80, 20), SHORTEST_PRESS))]


def _slipped(down: float, up: float, rng: random.Random) -> list[tuple[float, float]]:
    """A press with a moment in it when the key was up."""
    gap = min(max(rng.gauss(70, 20), SHORTEST_PRESS), up - down - 2 * SHORTEST_PRESS)
    at = rng.uniform(down + SHORTEST_PRESS, up - gap - SHORTEST_PRESS)
    return [(down, at), (at + gap, up)]


def confusion(
    patterns: Sequence[Pattern] = WITHOUT_FLICKER,
    *,
    trials: int = 200,
    seed: int = 1,
    periods: int = NEEDED,
    jitter: float = JITTER,
    missed: float = MISSED,
    doubled: float = DOUBLED,
    hold: bool = False,
    done: Callable[[int], None] = lambda trials: None,
) -> Confusion:
    """How simulated taps along each pattern are recognised among the same patterns. Reproducible by its seed.

    With `hold` a key is held while the lamp is lit. `done` hears after each pattern how many trials are over.
    """
    rng = random.Random(seed)
    counts = []
    for pattern in patterns:
        row = [0.0] * len(patterns)
        for _ in range(trials):
            found: tuple[float, ...]
            if hold:
                press = press_along(pattern, rng, periods=periods, jitter=jitter, missed=missed, doubled=doubled)
                looks: Looks = "lit" if press.lit else "dark"
                found = held(press.presses, patterns, until=press.until, looks=looks)
            else:
                watch = tap_along(pattern, rng, periods=periods, jitter=jitter, missed=missed, doubled=doubled)
                found = likelihoods(watch.taps, patterns, until=watch.until, looks="lit" if watch.lit else "dark")
            best = [i for i, x in enumerate(found) if x == max(found)]
            for i in best:
                row[i] += 1 / len(best)
        counts.append(tuple(row))
        done(trials)
    return Confusion(tuple(p.name for p in patterns), tuple(counts))
