"""What was seen, as reasoning takes it: sights in rounds, what cleared latched states, remedies that did not cure.

Rounds count from 1. Between rounds the machine may have changed, so:

* a *lasting* cause keeps its states over all rounds: the sights of one indication multiply, a repeat of the very same
  sight counts once, and sights that disagree are each softened by the slip. A state that latches and was cleared leaves
  what is seen of that indication afterwards without weight;
* an *intermittent* cause draws in each round anew whether it shows itself or nothing at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from diag.reason.compile import Array, Table
from diag.reason.constants import SLIP


@dataclass(frozen=True, slots=True)
class Sight:
    """One indication as seen in one round: P(seen | state) by state; a state not named has none."""

    indication: str
    seen: Mapping[str, float]
    round: int = 1


@dataclass(frozen=True, slots=True)
class Evidence:
    sights: tuple[Sight, ...] = ()
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


def vector(table: Table, sight: Sight) -> Array:
    """P(seen | state) over the indication's own states, shape [k].

    Raises KeyError on an unknown name and ValueError when no state could be seen so."""
    states = table.states[table.index[sight.indication]]
    unknown = set(sight.seen) - set(states)
    if unknown:
        raise KeyError(f"{sight.indication} has no state {sorted(unknown)[0]}")
    v = np.array([sight.seen.get(s, 0.0) for s in states])
    if not v.any():
        raise ValueError(f"{sight.indication}: a sight that no state could give")
    return v


def gather(table: Table, evidence: Evidence) -> Gathered:
    """The evidence as vectors. Raises KeyError and ValueError as `vector` does."""
    last: dict[tuple[int, int], Array] = {}
    for sight in evidence.sights:
        last[table.index[sight.indication], sight.round] = vector(table, sight)
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
    kept: list[Array] = [looks[0][1]]
    latch = _latch(table, i, looks[0])
    for r, v in looks[1:]:
        if latch is not None and any(latch[0] < at <= r and by in latch[1] for at, by in cleared):
            continue
        if not any(np.array_equal(v, other) for other in kept):
            kept.append(v)
        latch = _latch(table, i, (r, v)) or latch
    if len(kept) == 1:
        return kept[0]
    softened = [(1.0 - SLIP) * v + SLIP * v.sum() / len(v) for v in kept]
    return np.asarray(np.prod(softened, axis=0))


def _latch(table: Table, i: int, look: tuple[int, Array]) -> tuple[int, frozenset[str]] | None:
    """The round from which a latched state stands, and what clears it."""
    r, v = look
    by = table.latched.get((i, int(v.argmax())))
    return None if by is None else (r, by)
