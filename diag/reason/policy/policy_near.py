"""Policies near the optimum: the test of most information per cost, rollout, and dynamic programming over a few.

Each gives a test for every set that it can reach, and the cost of the set, its share of the expected cost. Information
per cost is the rule of Johnson (Proc. 6th National Symposium on Reliability and Quality Control, 1960); of a shared
set-up it counts what is still to pay. Rollout tries the best few by that rule and goes on by it (Bertsekas, Tsitsiklis
and Wu, J. Heuristics 3 (1997) 245-262; for tests, Tu and Pattipati, IEEE Trans. SMC-A 33 (2003) 86-99). Dynamic
programming over the best few at each set is exact in all but that choice.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from diag.reason.policy import policy_bound as bound
from diag.reason.policy.policy_model import Model, OutOfTime

Key = tuple[int, int]
"""States, open groups."""
CostOf = Callable[[Key], float]
Choices = tuple[float, dict[Key, int]]
"""The cost of the whole, and the test at each set met."""
Known = Callable[[Key], tuple[float, int | None] | None]
"""The cost and the best test of a set that is solved already, or None."""


WIDEST = 12
"""Tests kept for each set; more than a few at each are beyond what dynamic programming can go through."""


class Near:
    """Near-optimal policies for one model. Methods share what they work out."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.entropy = bound.entropy_mass(model.mass)
        self.ranked: dict[Key, list[int]] = {}
        self.greedy_cost: dict[Key, float] = {}

    def greedy(self, states: int, opened: int = 0) -> float:
        """The cost of the set under information per cost alone."""
        key = self._key(states, opened)
        if key not in self.greedy_cost:
            best = self.by_information(key)
            self.greedy_cost[key] = 0.0 if best is None else self._through(key, best)
        return self.greedy_cost[key]

    def _through(self, key: Key, test: int) -> float:
        """The cost of the set when this test comes first and `greedy` goes on."""
        return self.model.own_cost(*key, test) + sum(self.greedy(*k) for k in self._next(key, test))

    def by_information(self, key: Key) -> int | None:
        """The choice of `greedy`; None where nothing splits the set."""
        return next(iter(self.rank(self._key(*key))), None)

    def rollout(self, width: int, time_is_up: Callable[[], bool] = bool) -> Choices:
        """The cost, and the test of each set met: of the best `width` tests the one that is best when `greedy` goes on.

        Raises OutOfTime."""

        def best(key: Key, cost_of: CostOf, choice: dict[Key, int]) -> float:
            tests = self.rank(key)[:width]
            if not tests:
                return 0.0
            choice[key] = test = min(tests, key=lambda t: self._through(key, t))
            return self.model.own_cost(*key, test) + sum(cost_of(k) for k in self._next(key, test))

        return self._each(best, time_is_up)

    def restricted(self, width: int, known: Known | None = None, time_is_up: Callable[[], bool] = bool) -> Choices:
        """The cost and the choices of dynamic programming over the best `width` tests at each set.

        Sets that are `known` are not gone into. Raises OutOfTime."""

        def best(key: Key, cost_of: CostOf, choice: dict[Key, int]) -> float:
            found = known(key) if known else None
            if found is not None:
                cost, test = found
                if test is not None:
                    choice[key] = test
                return cost
            cost = 0.0 if not self.rank(key) else np.inf
            for test in self.rank(key)[:width]:
                value = self.model.own_cost(*key, test)
                for child in sorted(self._next(key, test)):
                    value += cost_of(child)
                    if value >= cost:
                        break
                else:
                    cost, choice[key] = value, test
            return cost

        return self._each(best, time_is_up)

    def _each(self, best: Callable[[Key, CostOf, dict[Key, int]], float], time_is_up: Callable[[], bool]) -> Choices:
        """Each set that is met is worked out once, by `best`."""
        choice: dict[Key, int] = {}
        costs: dict[Key, float] = {}

        def cost_of(key: Key) -> float:
            if key not in costs:
                if time_is_up():
                    raise OutOfTime
                costs[key] = best(key, cost_of, choice)
            return costs[key]

        return cost_of(self._key(self.model.everything, 0)), choice

    def rank(self, key: Key) -> list[int]:
        """Tests that split the set, by information over cost with what is still to set up, the best `WIDEST`."""
        if key in self.ranked:
            return self.ranked[key]
        states, opened = key
        model = self.model
        members = model.bits(states)
        inside = model.rows[:, members]
        tests = np.empty(0, dtype=np.intp)
        if len(members) > 1:
            largest = np.maximum.reduceat(inside.sum(axis=1), model.first[:-1])
            tests = np.flatnonzero(largest < len(members))
        if tests.size:
            mass = model.mass[members]
            bits = np.add.reduceat(bound.entropy_mass(inside @ mass), model.first[:-1])[tests]
            bits = np.maximum(bits - float(bound.entropy_mass(mass.sum())), 0.0)
            cost = model.cost[tests]
            if model.setup:
                cost = cost + np.array([model.setup_of(int(t), opened) for t in tests])
            # By cost alone where the states have no mass, and where the information ties.
            tests = tests[np.lexsort((cost, -bits / cost))]
        self.ranked[key] = self._different(states, tests.tolist())
        return self.ranked[key]

    def _different(self, states: int, tests: list[int]) -> list[int]:
        """The first few of these tests, without those that split the set as an earlier one of the same group does."""
        split: dict[object, int] = {}
        for test in tests:
            split.setdefault((self.model.group[test], tuple(sorted(self.model.children(states, test)))), test)
            if len(split) == WIDEST:
                break
        return list(split.values())

    def _key(self, states: int, opened: int) -> Key:
        return states, self.model.relevant(states, opened)

    def _next(self, key: Key, test: int) -> list[Key]:
        states, opened = key
        after = self.model.after(test, opened)
        return [self._key(part, after) for part in self.model.children(states, test)]
