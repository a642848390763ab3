"""Surprise: by how many bits the facts are less likely under the model than its own typical facts.

Typical facts of the same indications are drawn from the model with a fixed seed, so the figure is the same each time.
Above 0 the facts are odder than usual; several bits mean that something is misread or missing from the file.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from diag.reason.belief import Belief, log_likelihood
from diag.reason.compile import Array, Index, Table
from diag.reason.constants import TYPICAL_DRAWS
from diag.reason.draw import draw


def surprise(belief: Belief) -> float | None:
    """Bits; None without facts."""
    if not belief.evidence.sights:
        return None
    table = belief.table
    seen = belief.gathered.lasting
    told = np.logical_or.reduceat(seen != 1.0, table.start[:-1])
    here = _log_evidence(table, seen)
    typical = np.mean([_log_evidence(table, _sight(table, states, told, seen)) for states in _typical(table)])
    return float((typical - here) / np.log(2.0))


@lru_cache(maxsize=8)
def _typical(table: Table) -> tuple[Index, ...]:
    """Stops drawn once from the model, all indications of each."""
    rng = np.random.default_rng(0)
    causes = rng.choice(len(table.causes), size=TYPICAL_DRAWS, p=np.exp(table.log_prior))
    return tuple(draw(table, int(c), rng) for c in causes)


def _sight(
    table: Table,
    states: np.ndarray[tuple[int], np.dtype[np.intp]],
    told: np.ndarray[tuple[int], np.dtype[np.bool_]],
    seen: Array,
) -> Array:
    """The drawn states of the same indications, seen plainly."""
    out = np.ones_like(seen)
    for i in np.flatnonzero(told):
        span = table.columns(int(i))
        out[span] = 0.0
        out[span.start + states[i]] = 1.0
    return out


def _log_evidence(table: Table, seen: Array) -> float:
    return float(np.logaddexp.reduce(table.log_prior + log_likelihood(table, seen)[:-1]))
