"""A flat table from dense ones, read once.

Where causes share a row, neighbours mostly share it too. So one comparison of each table with itself, moved on by a
row, tells where the rows change, at the pace of memory; all else, checks included, is done on one row of each run of
equal ones, over all tables at once. A row that is no row of numbers differs from itself and stands alone.

    table = from_tables([0.01, 0.99], [[[0.208, 0.792], [0.904, 0.096]]])
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .flat import ROUNDING, Array, BadTable, Flat, Index, from_deviations, listed, numbers, ranges


def from_tables(
    prior: npt.ArrayLike, tables: Sequence[npt.ArrayLike], default: Sequence[npt.ArrayLike] | None = None
) -> Flat:
    """The table of a prior [C] and for each indication P(state | cause), shape [C, k_i], its rows summing to 1.

    `default` [k_i] for each indication; when left out, the row that most causes share. Rows that equal it exactly are
    dropped. All is copied. Raises `BadTable` as `from_deviations` does.
    """
    prior = numbers(prior, "prior")
    runs = _Runs.of(listed(tables, "tables"), prior.size)
    runs.check()
    usual = runs.commonest() if default is None else runs.given(listed(default, "default"))
    own = np.flatnonzero(~runs.equal(usual))
    many = runs.length[own]
    rows = runs.values[ranges(np.repeat(runs.at[own], many), np.repeat(runs.k[runs.where[own]], many))]
    return from_deviations(prior, usual, ranges(runs.cause[own], many), np.repeat(runs.where[own], many), rows)


@dataclass(frozen=True, eq=False)
class _Runs:
    """R runs of causes, one after another, that have the same row at an indication."""

    k: Index
    """[I]: states."""
    first: Index
    """[I]: each indication's first run."""
    where: Index
    """[R]: the indication."""
    cause: Index
    """[R]: the first cause."""
    length: Index
    """[R]: the number of causes."""
    at: Index
    """[R]: where in `values` the row begins."""
    values: Array
    """The rows, one after another."""

    @staticmethod
    def of(tables: Sequence[npt.ArrayLike], causes: int) -> _Runs:
        k, begins, rows = [], [], []
        for i, given in enumerate(tables):
            table = numbers(given, f"table of indication {i}", copy=False)
            if table.ndim != 2 or len(table) != causes or not table.size:
                raise BadTable(f"table of indication {i}: shape {table.shape}, wanted ({causes}, number of states)")
            begin = _changes(table)
            k.append(table.shape[1])
            begins.append(begin)
            rows.append(table[begin].ravel())
        if not k:
            raise BadTable("tables: no indications")
        states, count = np.array(k, dtype=np.intp), np.array([len(begin) for begin in begins], dtype=np.intp)
        first = np.cumsum(count) - count
        where, cause = np.repeat(np.arange(len(k)), count), np.concatenate(begins)
        after = np.append(cause[1:], causes)
        after[first[1:] - 1] = causes
        width = states[where]
        return _Runs(states, first, where, cause, after - cause, np.cumsum(width) - width, np.concatenate(rows))

    def check(self) -> None:
        """Raise `BadTable` for what is no probability."""
        bad = ~((self.values >= 0.0) & (self.values <= 1.0 + ROUNDING))
        if bad.any():
            at = int(bad.argmax())
            r = int(np.searchsorted(self.at, at, side="right")) - 1
            said = f"{self.values[at]:g} as probability of state {at - self.at[r]} for cause {self.cause[r]}"
            raise BadTable(f"table of indication {self.where[r]}: {said}")

    def equal(self, rows: Sequence[Array]) -> npt.NDArray[np.bool_]:
        """[R]: whether the run's row is the one given for its indication; `rows` [k] for each indication."""
        flat, k = np.concatenate(rows), self.k[self.where]
        other = flat[ranges((np.cumsum(self.k) - self.k)[self.where], k)]
        return np.logical_and.reduceat(self.values == other, self.at)

    def given(self, default: Sequence[npt.ArrayLike]) -> list[Array]:
        """Defaults that fit the tables."""
        if len(default) != len(self.k):
            raise BadTable(f"default: {len(default)} rows for {len(self.k)} tables")
        rows = [numbers(row, f"default of indication {i}") for i, row in enumerate(default)]
        for i, row in enumerate(rows):
            if row.shape != (self.k[i],):
                raise BadTable(f"default of indication {i}: shape {row.shape}, wanted ({self.k[i]},)")
        return rows

    def commonest(self) -> list[Array]:
        """For each indication the row that most causes share, [k]; of several such, the first in order of size."""
        longest = np.flatnonzero(self.length == np.maximum.reduceat(self.length, self.first)[self.where])
        likely = longest[np.searchsorted(self.where[longest], np.arange(len(self.k)))]
        rows = [self.values[at : at + k] for at, k in zip(self.at[likely].tolist(), self.k.tolist(), strict=True)]
        share = np.add.reduceat(np.where(self.equal(rows), self.length, 0), self.first)
        causes = int(self.length.sum()) // len(self.k)
        for i in np.flatnonzero(2 * share <= causes):
            span = slice(self.first[i], self.first[i + 1] if i + 1 < len(self.first) else None)
            begin, k = self.at[span], int(self.k[i])
            each, which = np.unique(self.values[begin[0] : begin[-1] + k].reshape(-1, k), axis=0, return_inverse=True)
            rows[i] = each[np.bincount(which.ravel(), self.length[span]).argmax()]
        return rows


def _changes(table: Array) -> Index:
    """The rows of [C, k] that are not the same as the row before, ascending; the first is one."""
    k, flat = table.shape[1], np.ascontiguousarray(table).ravel()
    (at,) = (flat[k:] != flat[:-k]).nonzero()
    row = at // k + 1
    new = np.ones(len(row) + 1, dtype=np.bool_)
    np.not_equal(row[1:], row[:-1], out=new[2:])
    return np.concatenate([[0], row])[new]
