"""How well the segment decoder does: exactly, on independent flips, and on the faults a display has.

The first has an outside figure: the LED display domain of Breiman, Friedman, Olshen and Stone (Classification and
Regression Trees, 1984, pp. 43-49), ten digits with each segment inverted with chance 0.1, where 74 % is the best.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from diag.panel.display import segments
from diag.panel.display.decode import (
    ANY,
    LIKELY,
    READING,
    Reading,
    Seen,
    flipped,
    likelihoods,
    shapes,
    step_likelihoods,
)
from diag.panel.display.display_faults import faults

LED_DIGITS: Final = "0123456789"
LED_FLIP: Final = Fraction(1, 10)
LED_PUBLISHED: Final = 0.74
LED_BEST: Final = Fraction(74002248, 10**8)
"""The LED display domain: its characters, the chance of each segment to be inverted, the best rate as the book gives
it, and the same by enumeration, exactly."""


def bayes_rate(glyphs: Sequence[int], dark: Fraction, stuck: Fraction) -> Fraction:
    """The best rate at which equally likely glyphs can be told apart when segments flip on their own.

    By enumeration of the 128 observations, exactly: a tie counts by fractions, which comes to the same as one winner.
    """
    total = Fraction(0)
    for seen in range(128):
        chances = [flipped(seen, g, dark, stuck) for g in glyphs]
        best = max(chances)
        winners = [c for c in chances if c == best]
        total += sum(winners, Fraction(0)) / len(winners)
    return total / len(glyphs)


def tied_observations(glyphs: Sequence[int], dark: Fraction, stuck: Fraction) -> int:
    """How many of the 128 observations have more than one likeliest glyph."""
    found = 0
    for seen in range(128):
        chances = [flipped(seen, g, dark, stuck) for g in glyphs]
        found += chances.count(max(chances)) > 1
    return found


def decoder_rate(glyphs: Sequence[str], dark: Fraction, stuck: Fraction, reading: Reading = READING) -> Fraction:
    """The rate that the decoder itself reaches where `bayes_rate` is the best: equally likely characters, one digit,
    segments that flip on their own, toggled in as they are seen. Exactly; ties are shared.
    """
    states = [(c, c) for c in glyphs]
    total = Fraction(0)
    for seen in range(128):
        found = likelihoods((seen,), states, reading)
        ours = {c: found[c] for c in glyphs}
        winners = [c for c, p in ours.items() if math.isclose(p, max(ours.values()), rel_tol=1e-9)]
        total += sum((flipped(seen, segments.glyph(c), dark, stuck) for c in winners), Fraction(0)) / len(winners)
    return total / len(glyphs)


@dataclass(frozen=True, slots=True)
class Taken:
    """What one declared code is decoded as: the share of each state, on a healthy display and on one with a fault."""

    pattern: str
    state: str
    fault: float
    """The chance that the display has a fault."""
    healthy: dict[str, float]
    faulty: dict[str, float]
    """Over the faults of the display, each as likely as `display_faults` says. Both sum to 1."""

    @property
    def overall(self) -> dict[str, float]:
        """Over displays with a fault and without."""
        states = (*self.healthy, *(s for s in self.faulty if s not in self.healthy))
        return {s: (1 - self.fault) * self.healthy.get(s, 0.0) + self.fault * self.faulty.get(s, 0.0) for s in states}

    @property
    def right(self) -> float:
        """How often it is taken for its own state."""
        return self.overall.get(self.state, 0.0)


def confusion(codes: Sequence[tuple[str, str]], reading: Reading = READING, *, digits: int = 0) -> Iterator[Taken]:
    """For each code (pattern, state): how often what a reader types for it is decoded as each state; ties are shared.

    The reader types the characters nearest to what is lit. A `?` is drawn as each of a sample of characters in turn,
    but never so that another declared code comes out. `digits` is the width of the display, 0 for that of the longest
    code. Raises NoGlyph on a code without a shape.
    """
    plain = [(c.replace(".", "").replace(",", ""), s) for c, s in codes]
    width = digits or max((len(c) for c, _ in plain), default=1)
    declared = [(c.ljust(width), s) for c, s in plain]
    exact = {c for c, _ in declared if ANY not in c}
    decoded: dict[tuple[Seen, ...], dict[str, float]] = {}

    def shares(seen: tuple[Seen, ...]) -> dict[str, float]:
        if seen not in decoded:
            found = likelihoods(seen, declared, reading, digits=width)
            decoded[seen] = _winners(found)
        return decoded[seen]

    (_, healthy), *rest = faults(width)
    for (pattern, state), (full, _) in zip(codes, declared, strict=True):
        drawn = [(c, w) for c, w in _drawn(full) if c == full or c not in exact]
        whole = sum(w for _, w in drawn)
        fine: dict[str, float] = {}
        ill: dict[str, float] = {}
        for shown, weight in drawn:
            lit = [shapes(c)[0][0] for c in shown]
            _add(fine, shares(tuple(_nearest(x) for x in lit)), weight / whole)
            for fault, p in rest:
                seen = tuple(_nearest(fault.shows(i, x)) for i, x in enumerate(lit))
                _add(ill, shares(seen), p / (1 - healthy) * weight / whole)
        yield Taken(pattern, state, 1 - healthy, fine, ill)


def step_confusion(codes: Sequence[tuple[str, str]], reading: Reading = READING, *, gap: str = " ") -> Iterator[Taken]:
    """The same for a display of one digit that shows its codes in steps, with a gap after each round.

    Two rounds are read, begun at each step in turn, all of it or with one step overlooked (a twentieth, as
    `step_likelihoods` takes it). `?` is drawn as in `confusion`.
    """
    exact = {c for c, _ in codes if ANY not in c}
    (_, healthy), *rest = faults(1)
    for pattern, state in codes:
        drawn = [(c, w) for c, w in _drawn(pattern) if c == pattern or c not in exact]
        whole = sum(w for _, w in drawn)
        fine: dict[str, float] = {}
        ill: dict[str, float] = {}
        for shown, weight in drawn:
            lit = [shapes(c)[0][0] for c in shown + gap]
            for seen, share in _read_in_steps([_nearest(x) for x in lit]):
                _add(fine, _winners(step_likelihoods(seen, codes, reading, gap=gap)), share * weight / whole)
            for fault, p in rest:
                for seen, share in _read_in_steps([_nearest(fault.shows(0, x)) for x in lit]):
                    found = _winners(step_likelihoods(seen, codes, reading, gap=gap))
                    _add(ill, found, share * p / (1 - healthy) * weight / whole)
        yield Taken(pattern, state, 1 - healthy, fine, ill)


OVERLOOKED: Final = 0.05
"""How often one of the steps of two rounds is overlooked."""


def _read_in_steps(round_: Sequence[Seen]) -> Iterator[tuple[tuple[Seen, ...], float]]:
    """Two rounds begun at each step, whole or with one step left out, with their shares; they sum to 1."""
    size = len(round_)
    for start in range(size):
        whole = tuple(round_[(start + n) % size] for n in range(2 * size))
        yield whole, (1 - OVERLOOKED) / size
        for out in range(1, 2 * size - 1):
            yield whole[:out] + whole[out + 1 :], OVERLOOKED / size / (2 * size - 2)


def _winners(found: Mapping[str, float]) -> dict[str, float]:
    best = [s for s, w in found.items() if w == max(found.values())]
    return {s: 1 / len(best) for s in best}


def _add(row: dict[str, float], shares: Mapping[str, float], weight: float) -> None:
    for state, share in shares.items():
        row[state] = row.get(state, 0.0) + share * weight


def _drawn(pattern: str) -> Iterator[tuple[str, float]]:
    """Codes that a pattern stands for, with their weights: itself, or one for each character that `?` may be."""
    if ANY not in pattern:
        yield pattern, 1.0
        return
    for start in range(len(LIKELY)):
        shown, weight, step = "", 1.0, 0
        for c in pattern:
            if c == ANY:
                step += 1
                c, share = LIKELY[start * step % len(LIKELY)]
                weight *= share
            shown += c
        yield shown, weight


def _nearest(lit: int) -> Seen:
    """What a careful reader types for these segments: a character of that shape, or the segments themselves."""
    same = segments.characters(lit)
    return same[0] if same else lit
