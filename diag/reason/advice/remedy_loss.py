"""R(b): the expected minutes when remedies are tried in the best order known, as many as pay, and then a call."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from diag.reason.advice import remedy_order as cost
from diag.reason.advice.check_stack import Outcomes
from diag.reason.advice.decision_model import RemedyOption
from diag.reason.table.compile import Array, Index
from diag.reason.table.situation import Minutes, Situation

LEAST = 0.1
"""Minutes that any remedy takes, so that probability over cost is always a number."""

Loss = Callable[[Array, Sequence[Situation], Index], Array]
"""Expected minutes left, [N], for N beliefs [N, C]: the situations that occur, and the number of each belief's."""


@dataclass(frozen=True, eq=False)
class RemedyLoss:
    """R of the M remedies that may be tried, for beliefs over C causes. A `Loss`."""

    remedies: tuple[RemedyOption, ...]
    times: Minutes
    call: float
    causes: int
    _setups: dict[Situation, Array] = field(init=False, default_factory=dict)

    @cached_property
    def cured(self) -> Array:
        """[C, M]: chance that a remedy ends the case, given the cause."""
        return np.ascontiguousarray(np.array([x.cures for x in self.remedies]).reshape(-1, self.causes).T)

    @cached_property
    def minutes(self) -> Array:
        """[M]."""
        return np.array([max(x.minutes, LEAST) for x in self.remedies])

    @cached_property
    def _cures(self) -> tuple[Index, Index, Array]:
        """Each pair of a cause and a remedy that may cure it, by cause, with the chance that it does."""
        found = [np.flatnonzero(x.cures) for x in self.remedies]
        cause = np.concatenate([*found, np.zeros(0, dtype=np.intp)])
        remedy = np.repeat(np.arange(len(found)), [len(c) for c in found])
        chance = np.concatenate([*(x.cures[c] for x, c in zip(self.remedies, found, strict=True)), np.zeros(0)])
        by_cause = np.argsort(cause, kind="stable")
        return cause[by_cause], remedy[by_cause], chance[by_cause]

    @cached_property
    def block(self) -> Index:
        """[M]: remedies with the same number share a set-up."""
        return cost.blocks([(x.place.access, x.place.zone) for x in self.remedies])

    def __call__(self, beliefs: Array, situations: Sequence[Situation], which: Index) -> Array:
        return self.left(beliefs @ self.cured, situations, which, np.arange(len(self.remedies)))

    def left(self, chances: Array, situations: Sequence[Situation], which: Index, columns: Index) -> Array:
        """R, [N], from the chance [N, m] that each of the remedies in `columns` [m] ends the case."""
        setup = np.array([self.setup(s) for s in situations])[which]
        return cost.expected(chances, self.minutes[columns], self.block[columns], setup, self.call)

    def chances(self, belief: Array) -> Array:
        """[M]: the chance that each remedy ends the case."""
        cause, remedy, chance = self._cures
        return np.bincount(remedy, belief[cause] * chance, len(self.remedies)).astype(np.float64)

    def plan(self, chances: Array, situation: Situation) -> tuple[float, tuple[tuple[int, float], ...]]:
        """R, and the remedies worth trying before a call, best first, each with the minutes of its set-up.

        `chances` [M]: chance that each remedy ends the case; 0 for one that was tried."""
        some = np.flatnonzero(chances > 0.0)
        if not some.size:
            return self.call, ()
        own = self.minutes[some]
        first, minutes = cost.order(chances[None, some], own, self.block[some], self.setup(situation))
        ordered = first[0]
        spent = cost.sequence(chances[None, some[ordered]], minutes, self.call)[0]
        tried = ordered[: int(spent.argmin())]
        return float(spent.min()), tuple((int(some[m]), float(minutes[0, n] - own[m])) for n, m in enumerate(tried))

    def after(
        self, outcomes: Outcomes, belief: Array, rows: Index, situations: Sequence[Situation], which: Index
    ) -> Array:
        """R, [n], after some of the outcomes of checks, `rows` [n]; `situations` and `which` [n] as for a `Loss`.

        It is what `left` says of the belief after each, but only what can pay is written out (`cost.expected`). Of the
        remedies for causes that a check leaves alone, that is the first few by chance over minutes, the same for all
        outcomes but for a factor. The others are those of the causes that the outcome moves."""
        remedies, n = len(self.remedies), len(rows)
        alone, sure, chance = self.chances(belief), outcomes.sure[rows], outcomes.chance[rows]
        row, remedy, gains = self._gains(outcomes, rows)
        left = np.maximum(chance - sure * alone.sum() - np.bincount(row, gains, n), 0.0)
        pays = self.call / self.minutes
        best = np.argsort(-alone * pays, kind="stable")
        place = np.empty(remedies, dtype=np.intp)
        place[best] = np.arange(remedies)
        least = np.divide(left, sure, out=np.full(n, np.inf), where=sure > 0.0)
        count = np.searchsorted(-(alone * pays)[best], -least)
        first = np.cumsum(count) - count
        few_row = np.repeat(np.arange(n), count)
        few = best[np.arange(len(few_row)) - first[few_row]]
        p = sure[few_row] * alone[few]
        key, of = np.unique(row * remedies + remedy, return_inverse=True)
        gain = np.bincount(of, gains, len(key)).astype(np.float64)
        row, remedy = np.divmod(key, max(remedies, 1))
        among = place[remedy] < count[row]
        p[first[row[among]] + place[remedy[among]]] += gain[among]
        row, remedy, gain = row[~among], remedy[~among], gain[~among]
        more = sure[row] * alone[remedy] + gain
        kept = more * pays[remedy] > left[row]
        few_row, few = np.append(few_row, row[kept]), np.append(few, remedy[kept])
        p = np.maximum(np.append(p, more[kept]), 0.0) / chance[few_row]
        setup = np.array([self.setup(s) for s in situations])[which]
        return cost.expected_of_few(few_row, p, self.minutes[few], self.block[few], setup, self.call)

    def _gains(self, outcomes: Outcomes, rows: Index) -> tuple[Index, Index, Array]:
        """By how much the outcomes raise the chance, times that of the outcome, of the remedies for the causes that
        they move: the number of the outcome among `rows`, the remedy, and the gain."""
        cause, remedy, chance = self._cures
        many = np.bincount(cause, minlength=self.causes)
        number = np.full(len(outcomes.chance), -1)
        number[rows] = np.arange(len(rows))
        row = number[outcomes.row]
        count = np.where(row >= 0, many[outcomes.cause], 0)
        pair = np.repeat(np.arange(len(count)), count)
        first = (np.cumsum(many) - many)[outcomes.cause] - (np.cumsum(count) - count)
        at = np.arange(len(pair)) + first[pair]
        return row[pair], remedy[at], outcomes.gain[pair] * chance[at]

    def setup(self, situation: Situation) -> Array:
        """[blocks]: minutes from there to where each set-up is made."""
        if situation not in self._setups:
            # Blocks are numbered as they first come, so this holds them in the order of their numbers.
            places = {b: remedy.place for b, remedy in zip(self.block.tolist(), self.remedies, strict=True)}
            self._setups[situation] = np.array([situation.setup(self.times, place) for place in places.values()])
        return self._setups[situation]
