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

from diag.reason.flat import Array, Flat, ranges
from diag.reason.flat_belief import FlatBelief

BIT = float(np.log(2.0))
TINY = 1e-300
"""Stands in for 0 under a logarithm: TINY log TINY is nothing beside any rounding."""
DRIFT = 1e3
"""By how much the weight of all causes may grow or shrink before the running sums are made anew. What is left of a
larger sum carries its rounding, 1e-16 of it: 1e-10 at worst, from one end to the other."""
BOTTOM = -800.0
"""exp(BOTTOM) is 0. It stands in for the log of 0, as 0 times minus infinity must not be NaN."""


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
    logs: float
    """The sum of each weight times its log."""
    sums: Array
    """[S + I]: over causes, weight times entry."""

    @staticmethod
    def of(belief: FlatBelief) -> Sums:
        """The sums over all deviations, with a total of 1."""
        flat, b = belief.flat, belief.posterior
        logs = float(b @ np.log(np.maximum(b, TINY)))
        reference = belief.log_evidence - belief.log_scale
        return Sums(belief, reference, 1.0, logs, add(flat, b))

    def tell(self, i: int, seen: npt.ArrayLike) -> Sums:
        """The sums after one fact more. Raises `BadTable` as `FlatBelief.tell` does."""
        before, after = self.belief, self.belief.tell(i, seen)
        flat = before.flat
        if after.before is not before or after.seen is None or not flat.usually(i, after.seen):
            return Sums.of(after)  # a second look, or a sight that rules out whatever does not deviate
        causes = flat.cause[flat.first[i] : flat.first[i + 1]]
        old, new = before.log_weight[causes] - self.reference, after.log_weight[causes] - self.reference
        with np.errstate(over="ignore"):  # then the total is out of bounds
            old_weight, new_weight = np.exp(old), np.exp(new)
        moved = new_weight - old_weight
        total = self.total + float(moved.sum())
        if not 1.0 / DRIFT < total < DRIFT:
            return Sums.of(after)
        logs = self.logs + float(new_weight @ np.maximum(new, BOTTOM) - old_weight @ np.maximum(old, BOTTOM))
        begin = flat.cause_first[causes]
        count = flat.cause_first[causes + 1] - begin
        at = ranges(begin, count)
        sums = self.sums.copy()
        np.add.at(sums, flat.cause_column[at], flat.cause_entry[at] * np.repeat(moved, count))
        return Sums(after, self.reference, total, logs, sums)

    @cached_property
    def entropy(self) -> float:
        """Bits of entropy of the causes now."""
        return max(float(np.log(self.total)) - self.logs / self.total, 0.0) / BIT

    @cached_property
    def information(self) -> Array:
        """[I]: bits that each indication would tell; 0 for those told already."""
        bits = told_by(self.belief.flat, self.sums / self.total)
        bits[list(self.belief.told)] = 0.0
        return bits

    @property
    def expected_entropy(self) -> Array:
        """[I]: bits of entropy to expect after each indication."""
        return self.entropy - self.information


def add(flat: Flat, b: Array) -> Array:
    """Over causes, b [C] times entry, for each column, shape [S + I]."""
    out = np.zeros(len(flat.default))
    if len(flat.head):
        out[flat.filled] = np.add.reduceat(b.take(flat.entry_cause) * flat.entry, flat.head)
    return out


def told_by(flat: Flat, sums: Array) -> Array:
    """Bits that each indication would tell, from sums of one belief [S + I] or of several [n, S + I]: [I] or [n, I]."""
    shown = sums + flat.default
    q = shown[..., : flat.states]
    np.maximum(q, TINY, out=q)
    terms = np.log(q)
    terms *= q
    if flat.width:
        inside = terms.reshape(*terms.shape[:-1], flat.indications, flat.width) @ np.ones(flat.width)
    else:
        inside = np.add.reduceat(terms, flat.start[:-1], axis=-1)
    inside += shown[..., flat.states :]
    inside *= -1.0 / BIT
    return np.maximum(inside, 0.0, out=inside)
