"""A table of states and tests made ready for the search: what is alike is merged, and what never helps is left out.

States that no test tells apart become one (an ambiguity group). A set of states is an integer with one bit for each
state; so is a set of groups whose set-up is paid, which are called open. Masses are probabilities that are not
conditional on the set, so the cost of a set is its share of the expected cost, and shares add up.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

FREE = -1
"""The group of a test without a set-up, or with one that costs nothing."""


class OutOfTime(Exception):
    """Time was up before the work was done."""


@dataclass(frozen=True)
class Model:
    """n merged states, T tests in rising order of cost, K rows: the outcomes of all tests one after another."""

    members: tuple[tuple[int, ...], ...]
    """For each merged state the states of the table, ascending."""
    mass: Array
    """[n]."""
    cost: Array
    """[T]."""
    group: tuple[int, ...]
    """[T]: a bit number, or `FREE`."""
    setup: tuple[float, ...]
    """For each group."""
    test: tuple[int, ...]
    """[T]: its number in the table."""
    parts: tuple[tuple[int, ...], ...]
    """[T]: the sets of states by outcome, none empty, disjoint, together everything."""
    rows: Array
    """[K, n]: 1 where the state gives that outcome."""
    first: Index
    """[T + 1]: where the rows of each test begin."""
    pair: Array
    """[n, n]: the cost of the cheapest test that tells the two apart, set-ups left out."""
    reach: dict[int, int] = field(default_factory=dict)
    """For each set met so far the groups that have a test for it."""

    @property
    def everything(self) -> int:
        return (1 << len(self.members)) - 1

    @property
    def ways(self) -> int:
        """The largest number of outcomes of a test."""
        return max(map(len, self.parts), default=2)

    def bits(self, states: int) -> list[int]:
        """The states of a set, ascending."""
        out = []
        while states:
            low = states & -states
            out.append(low.bit_length() - 1)
            states ^= low
        return out

    def setup_of(self, test: int, opened: int) -> float:
        """What the test costs beside its own cost, 0 when its group is open."""
        group = self.group[test]
        return 0.0 if group == FREE or opened >> group & 1 else self.setup[group]

    def own_cost(self, states: int, opened: int, test: int) -> float:
        """What the test costs the states of a set, by their mass, with its set-up where that is still to pay."""
        mass = float(self.mass[self.bits(states)].sum())
        return mass * float(self.cost[test] + self.setup_of(test, opened))

    def after(self, test: int, opened: int) -> int:
        """The open groups once the test was carried out."""
        group = self.group[test]
        return opened if group == FREE else opened | 1 << group

    def children(self, states: int, test: int) -> list[int]:
        """The parts into which the test splits the set, none empty."""
        return [part & states for part in self.parts[test] if part & states]

    def relevant(self, states: int, opened: int) -> int:
        """Of the open groups those that still matter: a group without a test for the set counts as closed."""
        if not opened:
            return 0
        if states not in self.reach:
            reach = 0
            for test, group in enumerate(self.group):
                if group != FREE and not reach >> group & 1 and len(self.children(states, test)) > 1:
                    reach |= 1 << group
            self.reach[states] = reach
        return opened & self.reach[states]

    def useful(self, states: int, opened: int) -> list[int]:
        """Tests that split the set, in rising order of cost, without those that split it as a cheaper one does."""
        low = states & -states
        seen: set[Hashable] = set()
        kept = []
        for test in range(len(self.parts)):
            inside = self.children(states, test)
            if len(inside) < 2:
                continue
            key = (inside[0] if inside[0] & low else inside[1]) if len(inside) == 2 else tuple(sorted(inside))
            group = self.group[test] if self.setup_of(test, opened) else FREE
            # A test without a set-up to pay is as good as a dearer one of any group: the set-up can be paid later.
            if (key, FREE) in seen or (key, group) in seen:
                continue
            seen.add((key, group))
            kept.append(test)
        return kept

    def ambiguous(self, states: int) -> tuple[int, ...]:
        """The states of the table in the set, ascending."""
        return tuple(sorted(s for n in self.bits(states) for s in self.members[n]))


def build(
    probabilities: Sequence[float],
    outcomes: Sequence[Sequence[Hashable]],
    costs: Sequence[float],
    groups: Sequence[Hashable | None],
    setups: Mapping[Hashable, float],
) -> Model:
    """The model of a table that was found sound: `outcomes` [tests][states], one cost and group for each test."""
    alike: dict[tuple[Hashable, ...], list[int]] = {}
    for state in range(len(probabilities)):
        alike.setdefault(tuple(row[state] for row in outcomes), []).append(state)
    members = tuple(map(tuple, alike.values()))
    mass = np.array([sum(probabilities[s] for s in m) for m in members])
    partitions = [_partition([row[m[0]] for m in members]) for row in outcomes]
    names = [g for g in dict.fromkeys(groups) if g is not None and setups.get(g, 0.0) > 0]
    group = [names.index(g) if g in names else FREE for g in groups]
    setup = tuple(setups[g] for g in names)
    order = sorted(range(len(costs)), key=lambda t: costs[t])
    kept = _undominated(order, partitions, costs, group, setup)
    parts = tuple(partitions[t] for t in kept)
    n = len(members)
    rows = np.array([[part >> s & 1 for s in range(n)] for ps in parts for part in ps], dtype=float).reshape(-1, n)
    first = np.concatenate([[0], np.cumsum([len(ps) for ps in parts])]).astype(np.intp)
    return Model(
        members=members,
        mass=mass,
        cost=np.array([costs[t] for t in kept], dtype=float),
        group=tuple(group[t] for t in kept),
        setup=setup,
        test=tuple(kept),
        parts=parts,
        rows=rows,
        first=first,
        pair=_cheapest_apart(rows, first, [costs[t] for t in kept]),
    )


def _cheapest_apart(rows: Array, first: Index, costs: Sequence[float]) -> Array:
    """`Model.pair` from `Model.rows`, `Model.first` and the cost of each test."""
    n = rows.shape[1]
    pair = np.full((n, n), np.inf)
    np.fill_diagonal(pair, 0.0)
    for number, cost in enumerate(costs):
        own = rows[first[number] : first[number + 1]].argmax(axis=0)
        apart = own[:, None] != own
        pair[apart] = np.minimum(pair[apart], cost)
    return pair


def _partition(labels: Iterable[Hashable]) -> tuple[int, ...]:
    """The sets of states with the same outcome, in order of their first state."""
    parts: dict[Hashable, int] = {}
    for state, label in enumerate(labels):
        parts[label] = parts.get(label, 0) | 1 << state
    return tuple(parts.values())


def _undominated(
    order: Sequence[int],
    partitions: Sequence[tuple[int, ...]],
    costs: Sequence[float],
    group: Sequence[int],
    setup: Sequence[float],
) -> list[int]:
    """Tests of some use, without those for which another one that tells at least as much is never dearer.

    That holds where the other costs no more and is of the same group or needs no set-up, and where it costs no more
    with its set-up counted in; a policy then never gets worse by taking it instead."""

    def covers(better: int, test: int) -> bool:
        extra = 0.0 if group[better] in (FREE, group[test]) else setup[group[better]]
        return costs[better] + extra <= costs[test] and _refines(partitions[better], partitions[test])

    kept: list[int] = []
    for test in order:
        if len(partitions[test]) > 1 and not any(covers(other, test) for other in kept):
            kept.append(test)
    return kept


def _refines(fine: tuple[int, ...], coarse: tuple[int, ...]) -> bool:
    """Whether each part of the one lies within a part of the other."""
    if len(fine) < len(coarse):
        return False
    if len(fine) == len(coarse):
        return fine == coarse  # both in order of their first state
    return all(any(part & ~whole == 0 for whole in coarse) for part in fine)
