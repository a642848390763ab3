"""How well the segment decoder does: exactly, on independent flips, and on the faults a display has.

The first has an outside figure: the LED display domain of Breiman, Friedman, Olshen and Stone (Classification and
Regression Trees, 1984, pp. 43-49), ten digits with each segment inverted with chance 0.1, where 74 % is the best.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from diag.panel import segments
from diag.panel.decode import READING, UNKNOWN, Reading, Seen, flipped, likelihoods, shapes
from diag.panel.display_faults import faults


def bayes_rate(glyphs: Sequence[int], dark: Fraction, stuck: Fraction) -> Fraction:
    """The best rate at which equally likely glyphs can be told apart when segments flip on their own.

    By enumeration of the 128 sights, exactly: a tie counts by fractions, which comes to the same as one winner.
    """
    total = Fraction(0)
    for seen in range(128):
        chances = [flipped(seen, g, dark, stuck) for g in glyphs]
        best = max(chances)
        winners = [c for c in chances if c == best]
        total += sum(winners, Fraction(0)) / len(winners)
    return total / len(glyphs)


def tied_sights(glyphs: Sequence[int], dark: Fraction, stuck: Fraction) -> int:
    """How many of the 128 sights have more than one likeliest glyph."""
    found = 0
    for seen in range(128):
        chances = [flipped(seen, g, dark, stuck) for g in glyphs]
        found += chances.count(max(chances)) > 1
    return found


def confusion(codes: Sequence[str], reading: Reading = READING) -> Iterator[tuple[str, dict[str, float]]]:
    """For each code: how often what a reader types for it is decoded as each code, over one display fault or none.

    A row sums to 1; ties are shared. Typed are the characters nearest to what is lit.
    """
    states = [(c, c) for c in codes]
    for true in codes:
        row = dict.fromkeys((*codes, UNKNOWN), 0.0)
        for fault, p in faults(len(true)):
            lit = [fault.shows(i, shapes(c)[0][0]) for i, c in enumerate(true)]
            found = likelihoods([_nearest(x) for x in lit], states, reading)
            best = [s for s, w in found.items() if w == max(found.values())]
            for s in best:
                row[s] += p / len(best)
        yield true, row


def _nearest(lit: int) -> Seen:
    """What a careful reader types for these segments: a character of that shape, or the segments themselves."""
    same = segments.characters(lit)
    return same[0] if same else lit
