"""A machine in numbers, as far as rules need them: what each cause shows, and what some facts make likely."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from diag.machine.model import Machine
from diag.reason.belief.belief import believe, log_likelihood, predict
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.table.compile import Array, Table, table_of

SAME: Final = 1e-6
"""Probabilities that differ by less are alike: the words for how surely differ by a tenth, rounding by 1e-12."""

Facts = Mapping[str, frozenset[str]]
"""Indications, and the states that each was found in one of."""


@dataclass(frozen=True, eq=False)
class Numbers:
    """The compiled table, and what it says before anything is seen."""

    table: Table

    @cached_property
    def shows(self) -> Array:
        """P(observation | cause) for each state of each indication, [C + 1, S]; the last row is the healthy machine.

        Two causes with equal rows look the same in everything that can be found, in several facts together too: what
        an indication shows depends only on what it follows and on its own row, so equal shares of what is followed and
        equal shares of what follows leave only equal own rows."""
        return predict(self.table, np.ones(int(self.table.start[-1])))

    def alike(self) -> list[list[str]]:
        """Causes that nothing tells apart, in groups of two and more, in file order."""
        comes = np.where(self._off < SAME, 0.0, self.table.rest_probability[:-1])
        marks = np.column_stack([self.shows[:-2], comes])
        groups: dict[bytes, list[str]] = {}
        for id, mark in zip(self.table.causes[:-1], np.round(marks / SAME).astype(np.int64), strict=True):
            groups.setdefault(mark.tobytes(), []).append(id)
        return [group for group in groups.values() if len(group) > 1]

    def unseen(self) -> list[str]:
        """Causes that show what the healthy machine shows."""
        return [id for id, far in zip(self.table.causes[:-1], self._off, strict=True) if far < SAME]

    @cached_property
    def _off(self) -> Array:
        """[C - 1]: how far each listed cause is off what the healthy machine shows, at most."""
        return np.asarray(np.abs(self.shows[:-2] - self.shows[-1]).max(axis=1, initial=0.0))

    @cached_property
    def idle(self) -> frozenset[str]:
        """Indications that show the same under every cause."""
        listed = self.shows[:-2]
        spread = np.maximum.reduceat(np.ptp(listed, axis=0), self.table.start[:-1])
        return frozenset(id for id, far in zip(self.table.indications, spread, strict=True) if far < SAME)

    def chance(self, cause: str, facts: Facts) -> float:
        """P(all these facts | this cause, which shows itself)."""
        ll = log_likelihood(self.table, self._vector(facts))
        return float(np.exp(ll[self.table.cause_index[cause]]))

    def joint(self, facts: Facts) -> Array:
        """P(cause and all these facts), [C]."""
        observed = tuple(Observed(id, dict.fromkeys(sorted(states), 1.0)) for id, states in facts.items())
        return np.asarray(np.exp(self.table.log_prior + believe(self.table, Evidence(observed)).log_likelihood))

    def _vector(self, facts: Facts) -> Array:
        seen = np.ones(int(self.table.start[-1]))
        for id, states in facts.items():
            i = self.table.index[id]
            seen[self.table.columns(i)] = [float(s in states) for s in self.table.states[i]]
        return seen


def numbers(machine: Machine) -> Numbers:
    """The machine in numbers. Raises `CannotCompile`."""
    return Numbers(table_of(machine))
