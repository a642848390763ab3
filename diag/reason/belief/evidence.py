"""What was seen, as reasoning takes it: observations by round, what cleared latched states, remedies that failed.

Rounds count from 1. Between rounds the machine may have changed, so:

* a *lasting* cause keeps its states over all rounds. The observations of one indication multiply, a repeat of the very
  same one counts once, and those that disagree are each softened by the slip. Once a latched state was cleared, what is
  seen of that indication has no weight;
* an *intermittent* cause shows itself or nothing at all, anew in each round.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from diag.reason.constants import SLIP
from diag.reason.table.compile import Array, Table


@dataclass(frozen=True, slots=True)
class Observed:
    """One indication as seen in one round: P(seen | state) by state; a state not named has none."""

    indication: str
    seen: Mapping[str, float]
    round: int = 1


@dataclass(frozen=True, slots=True)
class Evidence:
    observed: tuple[Observed, ...] = ()
    """In the order they were found; within a round the latest of an indication counts."""
    cleared: tuple[tuple[int, str], ...] = ()
    """A round, and what began it: a reset by id, or `power`."""
    failed: tuple[str, ...] = ()
    """Remedies that were carried out and did not cure."""


@dataclass(frozen=True)
class Gathered:
    """Evidence as vectors over the table's states. 1 everywhere where nothing was seen."""

    lasting: Array
    """[S]: all rounds together, for lasting causes."""
    rounds: tuple[Array, ...]
    """Each [S]: one round alone, for intermittent causes; the last is the present one."""


def vector(table: Table, observation: Observed) -> Array:
    """P(seen | state) over the indication's own states, shape [k].

    Raises KeyError on an unknown name and ValueError when no state could be seen so."""
    states = table.states[table.index[observation.indication]]
    unknown = set(observation.seen) - set(states)
    if unknown:
        raise KeyError(f"{observation.indication} has no state {sorted(unknown)[0]}")
    v = np.array([observation.seen.get(s, 0.0) for s in states])
    if not v.any():
        raise ValueError(f"{observation.indication}: an observation that no state could give")
    return v


def gather(table: Table, evidence: Evidence) -> Gathered:
    """The evidence as vectors. Raises KeyError and ValueError as `vector` does."""
    last: dict[tuple[int, int], Array] = {}
    for observation in evidence.observed:
        last[table.index[observation.indication], observation.round] = vector(table, observation)
    size = int(table.start[-1])
    numbers = sorted({r for _, r in last} | {r for r, _ in evidence.cleared} | {1})
    rounds = {r: np.ones(size) for r in numbers}
    lasting = np.ones(size)
    for (i, r), v in last.items():
        rounds[r][table.columns(i)] = v
    for i in {i for i, _ in last}:
        looks = [(r, last[i, r]) for r in numbers if (i, r) in last]
        lasting[table.columns(i)] = _together(table, i, looks, evidence.cleared)
    return Gathered(lasting, tuple(rounds.values()))


def _together(table: Table, i: int, looks: list[tuple[int, Array]], cleared: Iterable[tuple[int, str]]) -> Array:
    """The looks at one indication over the rounds, for a cause that lasts."""
    kept: list[Array] = []
    since, by = 0, frozenset[str]()  # the round from which a latched state stands, and what clears it
    for r, v in looks:
        if any(since < at <= r and what in by for at, what in cleared):
            continue
        if not any(np.array_equal(v, other) for other in kept):
            kept.append(v)
        latched = table.latched.get((i, int(v.argmax())))
        since, by = (since, by) if latched is None else (r, latched)
    if len(kept) == 1:
        return kept[0]
    softened = [(1.0 - SLIP) * v + SLIP * v.sum() / len(v) for v in kept]
    return np.asarray(np.prod(softened, axis=0))
