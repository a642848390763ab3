"""Something that is not in the file, and what it may show.

A cause that nobody wrote down is like one of the listed ones in most of what it shows, or like none. Each is a *guise*
of it. Which one it has is not known, so that its likelihood is the sum over them, each with its share:

* like none, with the weight of `UNLISTED_COUNTS` listed causes: the row of `unlisted` in the table;
* like a listed cause that lasts, as often as that one comes: at each indication by itself it shows what that cause
  shows, or, with chance `UNLIKE`, what the row of `unlisted` does.

What others follow stays as under that cause. Were it blurred as well, every guise would leave every joint state of it
possible, and the sums over them (`joint`) would no longer be short; like none, it may be in any state still.

An intermittent cause gives no guise: taken to last, it would explain what is seen again and again better than the cause
itself does.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from diag.reason.compile import Array, Index, Table
from diag.reason.constants import UNLIKE, UNLISTED_COUNTS


@dataclass(frozen=True)
class Guises:
    """The rows of a table with those of G guises more."""

    rows: Array
    """[C + 1 + G, S]: `Table.p`, then one row for each listed cause that lasts."""
    at: Index
    """[1 + G]: the rows of `unlisted`: like none, then like each of these causes."""
    log_share: Array
    """[1 + G]: log P(guise | unlisted)."""

    def of_unlisted(self, each: Array) -> Array:
        """[1 + G]: log P(guise, seen | unlisted), of the log likelihood [C + 1 + G] of each row."""
        return np.asarray(self.log_share + each[self.at])

    def collected(self, each: Array) -> Array:
        """[C + 1]: log P(seen | row of the table), of the log likelihood [C + 1 + G] of each row."""
        out = each[: self.at[0] + 2].copy()
        out[self.at[0]] = np.logaddexp.reduce(self.of_unlisted(each))
        return np.asarray(out)


@lru_cache(maxsize=8)
def guises(table: Table) -> Guises:
    """The guises of `unlisted`, made once for a table."""
    n = len(table.causes)
    lasting = np.flatnonzero(table.quiet[:-1] == 0.0)
    drives = np.zeros(len(table.indications), dtype=bool)
    drives[[i for joint in table.joints for i, member in joint.members.items() if member.drives]] = True
    listed, none = table.p[lasting], table.p[n - 1]
    like = np.where(drives[table.owner], listed, (1.0 - UNLIKE) * listed + UNLIKE * none)
    often = np.exp(table.log_prior[lasting])
    weight = np.append(UNLISTED_COUNTS, often / often.sum() * len(lasting))
    at = np.append(n - 1, np.arange(n + 1, n + 1 + len(lasting)))
    return Guises(np.concatenate([table.p, like]), at, np.log(weight / weight.sum()))
