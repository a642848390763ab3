"""Something that is not in the file, and what it may show.

A cause that nobody wrote down is like one of the listed ones in most of what it shows, or like none. So it is a
mixture, and its likelihood is the sum over these components, each with its share:

* like none, with the weight of `UNLISTED_COUNTS` listed causes: the row of `unlisted` in the table;
* like a listed cause that lasts, as often as that one comes: at each indication by itself it shows what that cause
  shows, or, with chance `UNLIKE`, what the row of `unlisted` does.

What others follow stays as under that cause. Were it blurred as well, every component would leave every joint state of
it possible, and the sums over them (`joint`) would no longer be short; like none, it may be in any state still.

An intermittent cause gives no component: taken to last, it would explain what is seen again and again better than the
cause itself does.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from diag.reason.constants import UNLIKE, UNLISTED_COUNTS
from diag.reason.table.compile import Array, Index, Table, slip
from diag.reason.table.joint import Joint
from diag.reason.table.joint_rows import JointRows

ROWS_KEPT = 256
"""Connected parts for which the rows are kept: those of a whole table, and those of the facts of a case."""


@dataclass(frozen=True, eq=False)
class UnlistedMixture:
    """The rows of a table with those of G components more, and what is known of them before anything is seen."""

    table: Table
    rows: Array
    """[C + 1 + G, S]: `Table.p`, then one row for each listed cause that lasts."""
    at: Index
    """[1 + G]: the rows of `unlisted`: like none, then like each of these causes."""
    log_share: Array
    """[1 + G]: log P(component | unlisted)."""
    _cause: Index
    """[C + 1 + G]: the row of `Table.p` that each row is like."""
    _parts: dict[int, JointRows] = field(default_factory=dict)

    def of_unlisted(self, each: Array) -> Array:
        """[1 + G]: log P(component, seen | unlisted), of the log likelihood [C + 1 + G] of each row."""
        return np.asarray(self.log_share + each[self.at])

    def collected(self, each: Array) -> Array:
        """[C + 1]: log P(seen | row of the table), of the log likelihood [C + 1 + G] of each row."""
        out = each[: self.at[0] + 2].copy()
        out[self.at[0]] = np.logaddexp.reduce(self.of_unlisted(each))
        return np.asarray(out)

    def part(self, part: Joint) -> JointRows:
        """The rows as one connected part of the table sees them."""
        found = self._parts.get(id(part))
        if found is None:
            if len(self._parts) >= ROWS_KEPT:
                del self._parts[next(iter(self._parts))]
            touches = np.logical_or.reduce(self.table.touches[:, list(part.members)], axis=1)[self._cause]
            number = np.arange(len(self.rows))
            untouched = len(number) + (number >= len(self.table.p))  # those of components are blurred
            found = self._parts[id(part)] = JointRows(
                part, self.rows, self.table.start, np.where(touches, number, untouched)
            )
        return found

    @cached_property
    def _unseen(self) -> Array:
        """[C + 1 + G, S]: `unseen`, but for the connected parts that are not in `_filled`."""
        return self.rows / np.add.reduceat(self.rows, self.table.start[:-1], axis=1)[:, self.table.owner]

    @cached_property
    def _filled(self) -> set[int]:
        return set()

    def unseen(self, but: Collection[int]) -> Array:
        """[C + 1 + G, S]: P(observation | row) while nothing is seen, but for the parts of these numbers."""
        table = self.table
        for n, joint in enumerate(table.joints):
            if n not in self._filled and n not in but:
                nothing = np.zeros(len(table.indications), dtype=bool)
                for i, true in self.part(joint).posterior(np.ones(int(table.start[-1])), nothing).items():
                    self._unseen[:, table.columns(i)] = slip(true / true.sum(axis=1, keepdims=True))
                self._filled.add(n)
        return self._unseen


@lru_cache(maxsize=8)
def unlisted_mixture(table: Table) -> UnlistedMixture:
    """The components of `unlisted`, made once for a table."""
    n = len(table.causes)
    lasting = np.flatnonzero(table.rest_probability[:-1] == 0.0)
    drives = np.zeros(len(table.indications), dtype=bool)
    drives[[i for joint in table.joints for i, member in joint.members.items() if member.drives]] = True
    listed, none = table.p[lasting], table.p[n - 1]
    like = np.where(drives[table.owner], listed, (1.0 - UNLIKE) * listed + UNLIKE * none)
    often = np.exp(table.log_prior[lasting])
    weight = np.append(UNLISTED_COUNTS, often / often.sum() * len(lasting))
    at = np.append(n - 1, np.arange(n + 1, n + 1 + len(lasting)))
    return UnlistedMixture(
        table,
        np.concatenate([table.p, like]),
        at,
        np.log(weight / weight.sum()),
        np.append(np.arange(n + 1), lasting),
    )
