"""Belief over the causes of a flat table: Bayes' rule in logs, one short vector added for each fact.

A fact is P(seen | state) for the states of one indication (virtual evidence: Pearl, Probabilistic Reasoning in
Intelligent Systems (1988), 2.2.2); a state seen for sure is 1 there and 0 elsewhere. With d the chance of that sight
under the default and p_c under a cause that deviates, the log weight of such a cause grows by log(p_c / d), that of
every cause by log d, which is kept apart as one number. In a table that is kept whole each grows by its own log p_c.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf, log

import numpy as np
import numpy.typing as npt

from .flat import BIT, Array, BadTable, Flat
from .flat_tables import from_tables

FEW, MANY = 1e-100, 1e100
"""How far the sum of all weights may move from 1 before the largest of them counts as 1 again."""
FAINT, GLARING = 1e-200, 1e200
"""Between these the greatest weight in a fact leaves products with a mild table in the range of numbers."""
NEVER = -750.0
"""Stands in for the log of a weight of 0: no number is as small as its exponential."""


@dataclass(frozen=True, eq=False)
class FlatBelief:
    """What is believed after some facts. It never changes; a fact gives the next one, which remembers this one.

    One fact stands for an indication: a second look takes the place of the first, as it is no second witness.
    Beliefs over the same facts given in the same order are equal to the last bit, however they were come by: a fact
    taken back is never subtracted, which would leave rounding behind. The last one gives the belief before it; from
    further back, the facts after it are told again. Order itself matters to rounding alone.
    """

    flat: Flat
    log_weight: Array
    """[C]: log P(cause, facts) less `log_scale`; minus infinity for what is ruled out."""
    log_scale: float
    weight: Array
    """[C]: the same, not as logs."""
    total: float
    """Their sum, between `FEW` and `MANY`."""
    kept: bool
    """Whether the weights of causes that do not deviate at the last fact's indication are still those of before."""
    told: tuple[int, ...]
    """Indications, in the order of their facts."""
    before: FlatBelief | None
    seen: Array | None
    """[k]: the last fact."""

    @cached_property
    def posterior(self) -> Array:
        """[C], summing to 1."""
        return self.weight / self.total

    @property
    def log_evidence(self) -> float:
        """log P(facts), natural."""
        return self.log_scale + log(self.total)

    @property
    def entropy(self) -> float:
        """Bits of entropy of the causes."""
        each = self.log_weight if self.flat.mild else np.maximum(self.log_weight, NEVER)
        return max(log(self.total) - float(self.weight.dot(each)) / self.total, 0.0) / BIT

    def tell(self, i: int, seen: npt.ArrayLike) -> FlatBelief:
        """The belief with a fact more: `seen` [k_i] holds P(seen | state) of indication `i`.

        Only ratios within `seen` matter to the posterior. Raises `BadTable` for an unknown indication, a wrong number
        of weights, a weight that is negative or not finite, and a fact that leaves no cause possible.
        """
        weights = self._fact(i, seen)
        before = self.take_back(i) if i in self.told else self
        return before._with(i, weights)

    def see(self, i: int, state: int) -> FlatBelief:
        """The belief once indication `i` was seen in one state for sure. Raises `BadTable` as `tell` does."""
        self._known(i)
        k = self.flat.states_of(i)
        if not 0 <= state < k:
            raise BadTable(f"indication {i}: no state {state}, wanted 0 to {k - 1}")
        weights = np.zeros(k)
        weights[state] = 1.0
        return self.tell(i, weights)

    def take_back(self, i: int) -> FlatBelief:
        """The belief as if nothing had been told of indication `i`. Raises `BadTable` when nothing was."""
        later: list[tuple[int, Array]] = []
        here = self
        while here.before is not None and here.seen is not None:
            if here.told[-1] == i:
                belief = here.before
                for other, seen in reversed(later):
                    belief = belief._with(other, seen)
                return belief
            later.append((here.told[-1], here.seen))
            here = here.before
        raise BadTable(f"indication {i}: nothing was told of it")

    def _with(self, i: int, seen: Array) -> FlatBelief:
        if self.flat.mild and FAINT < max(seen.tolist()) < GLARING:
            return self._weigh(i, seen)
        with np.errstate(divide="ignore", over="ignore"):
            return self._weigh(i, seen)

    def _weigh(self, i: int, seen: Array) -> FlatBelief:
        flat, scale, kept = self.flat, self.log_scale, False
        likely = flat.likely(i, seen)
        if likely is not None:
            log_weight = np.log(likely)
            log_weight += self.log_weight
        else:
            causes, rows = flat.rows(i)
            own = np.log(seen.dot(rows))
            default = flat.usually(i, seen)
            kept = default > 0.0
            if kept:
                usual = log(default)
                scale += usual
                own -= usual
                log_weight = self.log_weight.copy()
            else:  # only a cause that deviates can show this
                log_weight = np.full(flat.causes, -np.inf)
            log_weight[causes] = self.log_weight[causes] + own
        weight = np.exp(log_weight)
        total = float(weight.dot(flat.ones))
        if not FEW < total < MANY:
            kept = False
            top = float(log_weight.max())
            if top == -inf:
                raise BadTable(f"indication {i}: no cause can show this together with what was told before")
            log_weight -= top
            weight = np.exp(log_weight)
            total = float(weight.dot(flat.ones))
            scale += top
        return FlatBelief(flat, log_weight, scale, weight, total, kept, (*self.told, i), self, seen)

    def _known(self, i: int) -> None:
        if not 0 <= i < self.flat.indications:
            raise BadTable(f"no indication {i}, wanted 0 to {self.flat.indications - 1}")

    def _fact(self, i: int, seen: npt.ArrayLike) -> Array:
        self._known(i)
        try:
            weights = np.array(seen, dtype=np.float64)
        except (TypeError, ValueError):
            raise BadTable(f"indication {i}: a fact is one number for each state") from None
        k = self.flat.states_of(i)
        if weights.shape != (k,):
            raise BadTable(f"indication {i}: a fact of shape {weights.shape}, wanted one number for each of {k} states")
        for w in weights.tolist():
            if not 0.0 <= w < inf:
                raise BadTable(f"indication {i}: a fact of {weights.tolist()}, wanted numbers from 0 to 1")
        return weights


def start(flat: Flat) -> FlatBelief:
    """The prior, before any fact."""
    return FlatBelief(flat, flat.log_prior, 0.0, flat.prior, float(flat.prior.dot(flat.ones)), False, (), None, None)


def posterior(prior: npt.ArrayLike, tables: Sequence[npt.ArrayLike], facts: Mapping[int, int | npt.ArrayLike]) -> Array:
    """P(cause | facts), shape [C], straight from the tables of a paper.

    `prior` [C]: of the causes. `tables`: for each of I indications P(state | cause), shape [C, k_i]. `facts`: by the
    number of the indication either the number of the state that was seen, or P(seen | state), shape [k_i]; an
    indication that is not named was not seen. Raises `BadTable` as `from_tables` and `FlatBelief.tell` do.
    """
    belief = start(from_tables(prior, tables))
    for i, fact in facts.items():
        belief = belief.see(i, int(fact)) if isinstance(fact, int | np.integer) else belief.tell(i, fact)
    return belief.posterior
