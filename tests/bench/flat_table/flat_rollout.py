"""The next check of a flat table by rollout: what each would cost in the end, were the greedy rule followed after it.

The greedy rule takes the check that tells the most bits a minute. Rollout looks at what it costs to the end after each
of the best few first checks, and takes the cheapest: one step of policy improvement, so never worse than the rule
itself where the costs are exact (Bertsekas, Tsitsiklis and Wu 1997, J. Heuristics 3:245-262; for sequential tests, Tu
and Pattipati 2003, IEEE Trans. SMC A 33:491-499). Of each first check the likeliest outcomes are followed
side by side; for the others stands an estimate, by what the open checks still tell. Nothing is drawn at random.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, log2

import numpy as np
import numpy.typing as npt

from diag.reason.constants import WRONG_MINUTES

from .flat import BIT, Array, BadTable, Flat, Index, ranges
from .flat_belief import FlatBelief
from .flat_scores import TINY, add, told_by

NOTHING = 1e-9
"""Bits below which a check tells nothing."""
BLUR = 1e6
"""By how much the rounding in a sum may have grown before it is added anew."""
MARGIN = 0.1
"""A check goes before the rule's own when it is cheaper by this share of what of it is estimated. Estimates err by 3 %
from check to check (12 models of 16 causes and 24 indications); the cheapest of twenty would else be the luckiest."""
TOGETHER = 100_000
"""Numbers of beliefs and sums worked on between two looks at `stop`, one way at least: some milliseconds."""


@dataclass(frozen=True)
class Rollout:
    """The first checks that were looked at, cheapest first. But the rule's own, with the most bits a minute, stands in
    front of all unless the cheapest is clearly cheaper; where nothing is estimated, cheaper is clear."""

    indication: Index
    """[n]."""
    minutes: Array
    """[n]: expected minutes to the end with this check first, what being wrong costs in it."""
    estimated: Array
    """[n]: probability of the outcomes that were not followed to their end, and stand in it as an estimate."""


def rollout(
    belief: FlatBelief,
    minutes: npt.ArrayLike,
    *,
    share: float = 0.95,
    loss: float = WRONG_MINUTES,
    best: int = 20,
    width: int = 8,
    nodes: int = 1500,
    stop: Callable[[], bool] = lambda: False,
) -> Rollout | None:
    """Expected minutes to the end for the `best` first checks; None when `stop` said so.

    `stop` is asked before each step, one of some milliseconds where indications have a few states each.

    `minutes` [I] is what it takes to look at each indication, above 0, infinite for one not to be looked at. A case
    ends when one cause has `share` of the belief, or when no check tells anything. Then each part of the belief that
    the likeliest cause does not have costs `loss` minutes; `loss=0` gives the minutes of the checks alone. Nothing is
    left to do where the end is reached already: then the arrays are empty.

    Of each first check `width` beliefs are followed at a time, and `nodes` in all; enough of both make it exact. Time
    and memory are linear in causes, states and deviations. Raises `BadTable` for minutes that are no such numbers, a
    share outside (0, 1], a loss below 0, and counts below 1.
    """
    goal = _Goal.of(belief.flat, minutes, share, loss)
    if min(best, width, nodes) < 1:
        raise BadTable("rollout: best, width and nodes are at least 1")
    root = _Front.of(belief, goal)
    rate = root.rate(belief.flat, goal)[0]
    order = np.argsort(-rate, kind="stable")[: best if root.b.max() < share else 0]
    order = order[rate[order] > 0]
    n = len(order)
    ways = _Ways(belief.flat, goal, width, max(nodes // max(n, 1), 1), np.zeros(n), np.zeros(n))
    step = max(TOGETHER // (width * (belief.flat.causes + len(belief.flat.default))), 1)
    for at in range(0, n, step):
        some = np.arange(at, min(at + step, n))
        if not ways.follow(some, root.take(np.zeros_like(some)), order[some], stop):
            return None
    cost, estimated = ways.minutes, ways.estimated
    by_cost = np.argsort(cost, kind="stable")
    if len(by_cost) and cost[by_cost[0]] > cost[0] * (1.0 - MARGIN * estimated[by_cost[0]]):
        by_cost = np.concatenate([[0], by_cost[by_cost != 0]])
    return Rollout(order[by_cost], cost[by_cost], estimated[by_cost])


@dataclass(frozen=True)
class _Goal:
    """When a case ends, and what it costs until then."""

    minutes: Array
    """[I]."""
    share: float
    loss: float
    entropy: float
    """Bits left about when a belief comes up to the share: those of a coin that falls so."""

    @staticmethod
    def of(flat: Flat, minutes: npt.ArrayLike, share: float, loss: float) -> _Goal:
        try:
            each = np.array(minutes, dtype=np.float64)
        except (TypeError, ValueError):
            raise BadTable("minutes: wanted one number for each indication") from None
        if each.shape != (flat.indications,):
            raise BadTable(f"minutes: shape {each.shape}, wanted one number for each of {flat.indications} indications")
        if not (each > 0).all():
            i = int((~(each > 0)).argmax())
            raise BadTable(f"minutes: {each[i]:g} for indication {i}, wanted a number above 0")
        if not 0.0 < share <= 1.0 or not 0.0 <= loss < inf:
            raise BadTable(f"rollout: a share of {share:g} and a loss of {loss:g}; wanted above 0 to 1, and from 0")
        coin = 0.0 if share in (0.0, 1.0) else -share * log2(share) - (1.0 - share) * log2(1.0 - share)
        return _Goal(each, share, loss, coin)


@dataclass(frozen=True)
class _Front:
    """Beliefs side by side, n of them."""

    mass: Array
    """[n]: probability of coming to it."""
    b: Array
    """[n, C]: posteriors."""
    sums: Array
    """[n, S + I]: as `flat_scores.add` gives them, less the default."""
    blur: Array
    """[n]: rounding in the sums, as a multiple of that in fresh ones."""
    open: npt.NDArray[np.bool_]
    """[n, I]: what may still be looked at."""

    @staticmethod
    def of(belief: FlatBelief, goal: _Goal) -> _Front:
        open = np.isfinite(goal.minutes)
        open[list(belief.told)] = False
        b = belief.posterior
        sums = add(belief.flat, b, 1.0) - belief.flat.default
        return _Front(np.ones(1), b[None], sums[None], np.ones(1), open[None])

    def rate(self, flat: Flat, goal: _Goal) -> Array:
        """[n, I]: bits a minute; 0 for what tells nothing or may not be looked at."""
        sums = self.sums + flat.default
        shown, own = sums[:, : flat.states], sums[:, flat.states :]
        np.maximum(shown, TINY, out=shown)
        bits = told_by(flat, shown, own)
        bits[bits <= NOTHING] = 0.0
        bits *= self.open
        bits /= goal.minutes
        return bits

    def take(self, kept: Index) -> _Front:
        return _Front(self.mass[kept], self.b[kept], self.sums[kept], self.blur[kept], self.open[kept])


@dataclass(frozen=True)
class _Split:
    """What comes of a front once each belief looked at one indication: K outcomes that can be."""

    parent: Index
    """[K]: row of the front."""
    looked: Index
    """[K]: the indication."""
    mass: Array
    """[K]."""
    b: Array
    """[K, C]."""
    usual: Array
    """[K]: chance of the outcome under the default, over its chance."""
    child: Index
    """[Z]: outcome, for each cause that deviates there."""
    cause: Index
    """[Z]."""
    moved: Array
    """[Z]: weight of the cause, less what it would be had it the default there."""

    @staticmethod
    def of(flat: Flat, front: _Front, chosen: Index) -> _Split:
        k = flat.start[chosen + 1] - flat.start[chosen]
        parent = np.repeat(np.arange(len(chosen)), k)
        state = ranges(np.zeros_like(k), k)
        looked = chosen[parent]
        default = flat.default[flat.start[looked] + state]
        m = flat.first[looked + 1] - flat.first[looked]
        child = np.repeat(np.arange(len(parent)), m)
        cause = flat.cause[ranges(flat.first[looked], m)]
        p = flat.p[ranges(flat.base[looked] + state * m, m)]
        old = front.b[parent[child], cause]
        b = front.b[parent]
        b *= default[:, None]
        b[child, cause] = old * p
        chance = b.sum(axis=1)
        can = chance > 0.0
        b /= np.where(can, chance, 1.0)[:, None]
        moved = old * (p - default[child]) / np.where(can, chance, 1.0)[child]
        whole = _Split(
            parent, looked, front.mass[parent] * chance, b, default / np.where(can, chance, 1.0), child, cause, moved
        )
        return whole if can.all() else whole.take(np.flatnonzero(can))

    def take(self, kept: Index) -> _Split:
        """These outcomes alone."""
        number = np.full(len(self.parent), -1)
        number[kept] = np.arange(len(kept))
        child = number[self.child]
        stays = child >= 0
        return _Split(
            self.parent[kept],
            self.looked[kept],
            self.mass[kept],
            self.b[kept],
            self.usual[kept],
            child[stays],
            self.cause[stays],
            self.moved[stays],
        )

    def front(self, flat: Flat, before: _Front) -> _Front:
        """The outcomes as beliefs to look on from; sums follow the causes that deviated, as `Sums.tell` does."""
        sums = before.sums[self.parent]
        sums *= self.usual[:, None]
        begin = flat.cause_first[self.cause]
        count = flat.cause_first[self.cause + 1] - begin
        at = ranges(begin, count)
        cell = np.repeat(self.child * sums.shape[1], count) + flat.cause_column[at]
        np.add.at(sums.reshape(-1), cell, flat.cause_entry[at] * np.repeat(self.moved, count))
        blur = np.maximum(before.blur[self.parent] * self.usual, 1.0)
        for n in np.flatnonzero(blur > BLUR):
            sums[n] = add(flat, self.b[n], 1.0) - flat.default
            blur[n] = 1.0
        open = before.open[self.parent]
        open[np.arange(len(self.parent)), self.looked] = False
        return _Front(self.mass, self.b, sums, blur, open)


@dataclass(frozen=True)
class _Ways:
    """The costs of n first checks, added up as their outcomes are followed."""

    flat: Flat
    goal: _Goal
    width: int
    nodes: int
    """For each."""
    minutes: Array
    """[n]."""
    estimated: Array
    """[n]."""

    def follow(self, way: Index, front: _Front, chosen: Index, stop: Callable[[], bool]) -> bool:
        """Add up checks and all that comes after them; False when told to stop.

        `way` holds for each belief of the front the number of the first check that it belongs to."""
        rates = front.rate(self.flat, self.goal)
        left = np.full(len(self.minutes), self.nodes)
        while len(chosen):
            if stop():
                return False
            np.add.at(self.minutes, way, front.mass * self.goal.minutes[chosen])
            split = _Split.of(self.flat, front, chosen)
            whose = way[split.parent]
            top = split.b.max(axis=1)
            self._end(whose, split.mass, top, top >= self.goal.share)
            going = np.flatnonzero(top < self.goal.share)
            going = going[np.lexsort((-split.mass[going], whose[going]))]
            begin = np.searchsorted(whose[going], whose[going])
            follows = np.arange(len(going)) - begin < np.minimum(left, self.width)[whose[going]]
            self._estimate(whose, split, going[~follows], rates, chosen)
            kept = going[follows]
            way = whose[kept]
            left -= np.bincount(way, minlength=len(left))
            front = split.take(kept).front(self.flat, front)
            rates = front.rate(self.flat, self.goal)
            goes = rates.max(axis=1) > 0.0
            self._end(way, front.mass, front.b.max(axis=1), ~goes)
            on = np.flatnonzero(goes)
            front, rates, way = front.take(on), rates[on], way[on]
            chosen = rates.argmax(axis=1)
        return True

    def _end(self, way: Index, mass: Array, top: Array, ended: npt.NDArray[np.bool_]) -> None:
        """What being wrong costs at the beliefs that are an end."""
        np.add.at(self.minutes, way[ended], self.goal.loss * mass[ended] * (1.0 - top[ended]))

    def _estimate(self, whose: Index, split: _Split, left: Index, rates: Array, chosen: Index) -> None:
        """The rest for outcomes that are not followed, from what the open checks told before the last one.

        Checks tell at most the sum of what each tells alone. So they are taken, quickest bits first, until the sum is
        as much as is missing. What none can tell leaves a chance of being wrong of half its bits at most (Hellman and
        Raviv 1970, IEEE Trans. IT 16:368-372), and that chance is taken.
        """
        if not len(left):
            return
        b, mass = split.b[left], split.mass[left]
        missing = -(b * np.log(np.maximum(b, TINY))).sum(axis=1) / BIT - self.goal.entropy
        parents, row = np.unique(split.parent[left], return_inverse=True)
        rate = rates[parents]
        rate[np.arange(len(parents)), chosen[parents]] = 0.0
        order = np.argsort(-rate, axis=1)
        rate = np.take_along_axis(rate, order, axis=1)
        minutes = np.where(rate > 0.0, self.goal.minutes[order], 0.0)
        bits = rate * minutes
        sums = np.cumsum(bits, axis=1)
        part = np.clip((missing[:, None] - (sums - bits)[row]) / np.maximum(bits, TINY)[row], 0.0, 1.0)
        wrong = 1.0 - self.goal.share + np.maximum(missing - sums[row, -1], 0.0) / 2.0
        rest = (minutes[row] * part).sum(axis=1) + self.goal.loss * np.minimum(wrong, 1.0 - b.max(axis=1))
        np.add.at(self.minutes, whose[left], mass * rest)
        np.add.at(self.estimated, whose[left], mass)
