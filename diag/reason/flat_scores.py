"""How much each indication of a flat table would tell of the cause, all at once.

With b the belief, d the default of an indication and p_c the row of a cause that deviates, the indication shows state s
with chance q_s = d_s + sum of b_c (p_cs - d_s), and it tells

    I = H(q) - [ H(d) + sum of b_c (H(p_c) - H(d)) ]

which is what the entropy of the belief falls by on average (Shannon 1948; Lindley 1956). Both sums run over the
deviations alone. They are linear in b, so after a fact only the causes that deviate at its indication move them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from diag.reason.flat import BIT, Array, Flat, ranges
from diag.reason.flat_belief import FlatBelief

TINY = 1e-300
"""Stands in for 0 under a logarithm: TINY log TINY is nothing beside any rounding."""
DRIFT = 1e3
"""By how much the weight of all causes may grow or shrink before the running sums are made anew. What is left of a
larger sum carries its rounding, 1e-16 of it: 1e-10 at worst, from one end to the other."""
SMALL = 3000
"""Entries below which adding up all of them is quicker than finding those that moved (300 causes have some 10,000)."""


def information(belief: FlatBelief) -> Array:
    """Bits that each indication would tell of the cause, shape [I]; 0 for those told already. Exact, from the start."""
    return Sums.of(belief).information


def expected_entropy(belief: FlatBelief) -> Array:
    """Bits of entropy of the causes to expect after each indication, shape [I]."""
    return Sums.of(belief).expected_entropy


@dataclass(frozen=True, eq=False)
class Sums:
    """The sums over a belief, and how to have them after a fact more at the price of the causes that it touches.

    `Sums.of(belief)` adds over all deviations; `tell` goes on from there, and starts anew when the total weight has
    moved by `DRIFT`, so that both ways agree within 1e-9 bits. A fact taken back: `Sums.of` the belief without it, or
    the sums that were kept from before it.
    """

    belief: FlatBelief
    reference: float
    """The log weight that counts as 1."""
    total: float
    """The sum of all weights."""
    sums: Array
    """[S + I]: over causes, weight times entry."""

    @staticmethod
    def of(belief: FlatBelief) -> Sums:
        """The sums over all deviations, with a total of 1."""
        return Sums(belief, belief.log_evidence - belief.log_scale, 1.0, add(belief.flat, belief.posterior))

    def tell(self, i: int, seen: npt.ArrayLike) -> Sums:
        """The sums after one fact more. Raises `BadTable` as `FlatBelief.tell` does."""
        before, after = self.belief, self.belief.tell(i, seen)
        flat = before.flat
        if len(flat.entry) < SMALL or after.before is not before or after.seen is None:
            return Sums.of(after)  # quicker so, or a second look
        if not flat.usually(i, after.seen):
            return Sums.of(after)  # a sight that rules out whatever does not deviate
        causes, _ = flat.rows(i)
        with np.errstate(over="ignore"):  # then the total is out of bounds
            moved = np.exp(after.log_weight[causes] - self.reference)
            moved -= np.exp(before.log_weight[causes] - self.reference)
        total = self.total + float(np.add.reduce(moved))
        if not 1.0 / DRIFT < total < DRIFT:
            return Sums.of(after)
        begin = flat.cause_first[causes]
        count = flat.cause_first[causes + 1] - begin
        at = ranges(begin, count)
        sums = self.sums.copy()
        np.add.at(sums, flat.cause_column[at], flat.cause_entry[at] * moved.repeat(count))
        return Sums(after, self.reference, total, sums)

    @cached_property
    def entropy(self) -> float:
        """Bits of entropy of the causes now."""
        b = self.belief.posterior
        return max(-float(b @ np.log(np.maximum(b, TINY))) / BIT, 0.0)

    @cached_property
    def information(self) -> Array:
        """[I]: bits that each indication would tell; 0 for those told already."""
        bits = told_by(self.belief.flat, self.sums / self.total)
        for i in self.belief.told:
            bits[i] = 0.0
        return bits

    @property
    def expected_entropy(self) -> Array:
        """[I]: bits of entropy to expect after each indication."""
        return self.entropy - self.information


def add(flat: Flat, b: Array) -> Array:
    """Over causes, b [C] times entry, for each column, shape [S + I]."""
    parts = b.take(flat.entry_cause)
    parts *= flat.entry
    if len(flat.head) == len(flat.default):
        return np.add.reduceat(parts, flat.head)
    out = np.zeros(len(flat.default))
    if len(flat.head):
        out[flat.filled] = np.add.reduceat(parts, flat.head)
    return out


def told_by(flat: Flat, sums: Array) -> Array:
    """Bits that each indication would tell, from sums of one belief [S + I] or of several [n, S + I]: [I] or [n, I]."""
    shown = sums + flat.default
    q = shown[..., : flat.states]
    np.maximum(q, TINY, out=q)
    terms = np.log(q)
    terms *= q
    if flat.width:
        bits: Array = terms.reshape(*terms.shape[:-1], flat.indications, flat.width) @ flat.over
    else:
        bits = np.add.reduceat(terms, flat.start[:-1], axis=-1)
        bits *= -1.0 / BIT
    bits += shown[..., flat.states :]
    np.maximum(bits, 0.0, out=bits)
    return bits
