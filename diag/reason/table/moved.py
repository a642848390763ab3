"""Which indications each cause affects, so that predicting what a machine shows next costs only those.

A cause moves an indication when it changes the chances of the indication's states, or of anything linked with it. Most
causes move few; all others show what they show on a healthy machine. `unlisted` moves nearly all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from diag.reason.table.compile import HEALTHY, Array, Index, Table


@dataclass(frozen=True, eq=False)
class Moved:
    """W entries: one for each cause, each indication that the cause moves, and each state of that indication. The
    entries are sorted by indication and then by cause."""

    table: Table
    movers: tuple[Index, ...]
    """For each indication the causes that move it, ascending."""
    row: Index
    """[W]: the cause."""
    column: Index
    """[W]: the column of the table."""
    first: Index
    """[I + 1]: where the entries of each indication begin."""
    by_check: tuple[Index, ...]
    """For each check the causes that move anything that it gives, ascending."""


@lru_cache(maxsize=16)
def moved(table: Table, rounds: bool) -> Moved:
    """The entries of a table, made once. With several `rounds` an intermittent cause counts as moving everything: it is
    foreseen from this round alone and a lasting cause from all rounds, which differ even where neither moves any."""
    moves = table.touches[:HEALTHY].copy()
    for joint in table.joints:
        members = list(joint.members)
        moves[:, members] = np.logical_or.reduce(moves[:, members], axis=1)[:, None]
    if rounds:
        moves[table.rest_probability > 0.0] = True
    indication, cause = np.nonzero(moves.T)
    width = np.diff(table.start)
    k = width[indication]
    within = np.arange(int(k.sum())) - np.repeat(np.cumsum(k) - k, k)
    begin = np.concatenate([[0], np.cumsum(moves.sum(axis=0) * width)])
    return Moved(
        table,
        tuple(np.split(cause, np.cumsum(moves.sum(axis=0))[:-1])),
        np.repeat(cause, k),
        np.repeat(table.start[indication], k) + within,
        begin,
        tuple(np.flatnonzero(np.logical_or.reduce(moves[:, list(check.gives)], axis=1)) for check in table.checks),
    )


@dataclass(frozen=True, eq=False)
class Foreseen:
    """What would be seen next under each cause."""

    moved: Moved
    entries: Array
    """[W]: P(state | cause, seen)."""
    healthy: Array
    """[S]: the same for a healthy machine, which also holds under every cause that does not move the indication."""

    def shown(self, i: int, causes: Index) -> Array:
        """[causes + 1, k]: P(state of one indication | cause, seen), the healthy machine last.

        `causes` must hold all that move the indication, ascending."""
        span, movers = self.moved.table.columns(i), self.moved.movers[i]
        out = np.empty((len(causes) + 1, span.stop - span.start))
        out[:] = self.healthy[span]
        own = self.entries[self.moved.first[i] : self.moved.first[i + 1]]
        out[np.searchsorted(causes, movers)] = own.reshape(len(movers), -1)
        return out

    def whole(self) -> Array:
        """[C + 1, S]: P(state | row, seen)."""
        out = np.empty(self.moved.table.p.shape)
        out[:] = self.healthy
        out[self.moved.row, self.moved.column] = self.entries
        return out

    def expected(self, belief: Array) -> Array:
        """[S]: P(state | seen), by the belief [C] in the causes."""
        size = len(self.healthy)
        own = belief[self.moved.row]
        mass = np.bincount(self.moved.column, own, size)
        return np.asarray(self.healthy * (1.0 - mass) + np.bincount(self.moved.column, own * self.entries, size))
