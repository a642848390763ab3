"""How much each indication of a flat table would tell of the cause, all at once.

With b the belief, d the default of an indication and p_c the row of a cause that deviates, the indication shows state s
with chance q_s = d_s + sum of b_c (p_cs - d_s), and it tells

    I = H(q) - [ H(d) + sum of b_c (H(p_c) - H(d)) ]

which is what the entropy of the belief falls by on average (Shannon 1948; Lindley 1956). Both sums run over the
deviations alone. They are linear in b, so after a fact only the causes that deviate at its indication move them. With
weights w that add up to T instead of b, and Q = T q, it holds that T H(q) = T log T - sum of Q log Q; T log T falls out
of what entropy is left, H(b) - I.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
import numpy.typing as npt

from .flat import BIT, Array, Flat, ranges
from .flat_belief import FlatBelief

TINY = 1e-300
"""Stands in for 0 under a logarithm: TINY log TINY is nothing beside any rounding."""
DRIFT = 1e3
"""By how much the weight of all causes may grow or shrink before the running sums are made anew. What is left of a
larger sum carries its rounding, 1e-16 of it: 1e-10 at worst, from one end to the other."""


def information(belief: FlatBelief) -> Array:
    """Bits that each indication would tell of the cause, shape [I]; 0 for those told already. Exact, from the start."""
    return Sums.of(belief).information


def expected_entropy(belief: FlatBelief) -> Array:
    """Bits of entropy of the causes to expect after each indication, shape [I]."""
    return Sums.of(belief).expected_entropy


@dataclass(frozen=True, eq=False)
class Sums:
    """The sums over a belief, and how to have them after a fact more at the price of the causes that it touches.

    `Sums.of(belief)` adds over all deviations; `tell` goes on from there, and starts anew in a small table or when the
    total weight has moved by `DRIFT`, so that both ways agree within 1e-9 bits. A fact taken back: `Sums.of` the belief
    without it, or the sums that were kept from before it.
    """

    belief: FlatBelief
    sums: Array
    """[S + I]: over causes, weight times what each column holds under the cause."""
    anew: float
    """The total weight when they were last added over all deviations."""

    @staticmethod
    def of(belief: FlatBelief) -> Sums:
        """The sums over all deviations."""
        return Sums(belief, add(belief.flat, belief.weight, belief.total), belief.total)

    def tell(self, i: int, seen: npt.ArrayLike) -> Sums:
        """The sums after one fact more. Raises `BadTable` as `FlatBelief.tell` does."""
        before, after = self.belief, self.belief.tell(i, seen)
        flat = before.flat
        if flat.whole is not None or after.before is not before or not after.kept:
            return Sums.of(after)  # quicker so, or a second look, or weights that moved all together
        if not 1.0 / DRIFT < after.total / self.anew < DRIFT:
            return Sums.of(after)
        causes, _ = flat.rows(i)
        moved = after.weight[causes] - before.weight[causes]
        begin = flat.cause_first[causes]
        count = flat.cause_first[causes + 1] - begin
        at = ranges(begin, count)
        sums = flat.default * (after.total - before.total)
        sums += self.sums
        np.add.at(sums, flat.cause_column[at], flat.cause_entry[at] * moved.repeat(count))
        return Sums(after, sums, self.anew)

    @property
    def information(self) -> Array:
        """[I]: bits that each indication would tell; 0 for those told already."""
        total = self.belief.total
        bits = self._told_by()
        bits *= 1.0 / total
        bits += log(total) / BIT
        np.maximum(bits, 0.0, out=bits)
        for i in self.belief.told:
            bits[i] = 0.0
        return bits

    @property
    def expected_entropy(self) -> Array:
        """[I]: bits of entropy to expect after each indication."""
        total, now = self.belief.total, self.belief.entropy
        left = self._told_by()
        left += total * (log(total) / BIT - now)
        left *= -1.0 / total
        for i in self.belief.told:
            left[i] = now
        return left

    def _told_by(self) -> Array:
        flat = self.belief.flat
        shown, own = self.sums[: flat.states], self.sums[flat.states :]
        if flat.whole is None or not flat.mild:  # or all that was added up is well above 0
            shown = np.maximum(shown, TINY)
        return told_by(flat, shown, own)


def add(flat: Flat, weight: Array, total: float) -> Array:
    """Over causes, weight [C] times what each column holds under the cause, shape [S + I]; `total` is the sum of the
    weights."""
    sums: Array
    if flat.whole is not None:
        sums = flat.whole.dot(weight)
        return sums
    sums = flat.default * total
    parts = weight.take(flat.entry_cause)
    parts *= flat.entry
    if len(flat.head) == len(sums):
        sums += np.add.reduceat(parts, flat.head)
    elif len(flat.head):
        sums[flat.filled] += np.add.reduceat(parts, flat.head)
    return sums


def told_by(flat: Flat, shown: Array, own: Array) -> Array:
    """Bits that each indication would tell, from the two parts of the sums: what it shows, [S] or [n, S] and above 0,
    and the entropies of rows, [I] or [n, I]. Rounding may leave less than 0.

    Where weights add up to T and not to 1, it is T times what the bits are more than log2 T.
    """
    terms = np.log(shown)
    terms *= shown
    if flat.width:
        bits: Array = terms.reshape(-1, flat.width).dot(flat.over).reshape(own.shape)
    else:
        bits = np.add.reduceat(terms, flat.start[:-1], axis=-1)
        bits *= -1.0 / BIT
    bits += own
    return bits
