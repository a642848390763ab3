"""The policy of least expected cost, by best-first search over sets of states (AO*), with a bound that always holds.

A node is a set of states still possible, with the groups that are open. Its bound is the least, over the tests, of a
test's cost and the bounds of its children; the search raises it until it is the cost itself. As in the AO* of Martelli
and Montanari (CACM 21 (1978) 1025-1039), only what looks best is opened. As in recursive best-first search (Korf,
Artificial Intelligence 62 (1993) 41-78), one goes down depth first with a limit: as far as the next best alternative,
and a little further so as not to go to and fro. A set that is reached on several ways is one node.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from diag.reason.policy import policy_bound as bound
from diag.reason.policy.policy_model import Array, Index, Model, OutOfTime

PRICES = (0.5, 0.7, 0.85, 1.0, 1.2, 1.6, 2.5)
"""Prices of a bit that are tried for the subsets of a set, as multiples of its own best one."""
SLACK = 0.005
"""How far the search goes on beyond the next best alternative, as a share of the node's bound."""
SMALL = 4
"""Sets of so few states are solved at once: they have few different tests, and their bounds are the loosest."""
STEP = 1e-10
"""The least rise of a bound worth going down for, as a share of the root's, so that rounding cannot stop the search."""

TestEntry = tuple[float, int, float, tuple["SetNode", ...]]
"""A test with its bound, its number, its own share of the cost and its children."""


@dataclass(eq=False, slots=True)
class SetNode:
    states: int
    opened: int
    bound: float
    price: float
    """Of a bit, where the information bound was best."""
    best: int | None = None
    """The best test once the node is solved; None for a single state."""
    solved: bool = False
    order: Index | None = None
    """Tests, best bound first; None until the node is opened, and again once it is solved."""
    bounds: Array | None = None
    """Their bounds when the node was opened."""
    children: tuple[tuple[Array, Array], ...] = ()
    """Their children's bounds and prices, by test in that order."""
    taken: int = 0
    """How many of them have children among the nodes."""
    entries: list[TestEntry] | None = None
    """Those, as a heap."""


class Search:
    """The search over one model; `run` may be called again to go on."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.nodes: dict[tuple[int, int], SetNode] = {}
        self.root = self._root()

    def run(self, time_is_up: Callable[[], bool]) -> bool:
        """Search until the root is solved (True) or time is up (False)."""
        self._time_is_up = time_is_up
        try:
            if not self.root.solved:
                self._raise(self.root, np.inf)
        except OutOfTime:
            self._settle(self.root)
        return self.root.solved

    def _root(self) -> SetNode:
        model = self.model
        if len(model.members) == 1:
            return SetNode(1, 0, 0.0, 1.0, solved=True)
        share = (model.rows @ model.mass)[None, :]
        mass = np.array([model.mass.sum()])
        cost = self._spread(np.arange(len(model.cost)), 0)
        prices = np.geomspace(cost.min() / np.log2(model.ways) / 2.0, cost.max() * 50.0, 100)
        blocks, drops = self._refined(model.everything, range(len(model.cost)))
        drop = bound.entropy_mass(blocks @ model.mass)[None, :] @ drops
        value, price = bound.information(mass, drop, share, model.first[:-1], cost, prices.tolist())
        root = self._node(model.everything, 0, float(value[0]), float(price[0]))
        self._step = STEP * max(root.bound, 1e-3 * float(cost.min()))
        return root

    def _spread(self, tests: Index, opened: int) -> Array:
        """Costs of these tests, each with its part of the set-up of its group where that is still to pay."""
        model = self.model
        cost = model.cost[tests]
        if model.setup:
            group = np.array(model.group)[tests]
            for g, setup in enumerate(model.setup):
                of = group == g
                if not opened >> g & 1 and of.any():
                    cost[of] += setup / of.sum()
        return cost

    def _node(self, states: int, opened: int, value: float, price: float) -> SetNode:
        """The node of a set, made with every bound that is worth its time."""
        model = self.model
        opened = model.relevant(states, opened)
        node = self.nodes.get((states, opened))
        if node is not None:
            return node
        node = SetNode(states, opened, value, price)
        self.nodes[states, opened] = node
        members = model.bits(states)
        if len(members) == 1:
            node.bound, node.solved = 0.0, True
            return node
        useful = model.useful(states, opened)
        mass = model.mass[members]
        if len(members) <= SMALL:
            node.bound, node.best = min((self._by(node, t), t) for t in useful)
            node.solved = True
            return node
        cheapest = np.sort(self._spread(np.array(useful), opened)).tolist()
        node.bound = max(
            value,
            bound.number_of_tests(mass.tolist(), cheapest, model.ways),
            bound.pairs(mass, model.pair[np.ix_(members, members)]),
        )
        return node

    def _refined(self, states: int, tests: Iterable[int]) -> tuple[Array, Array]:
        """How these tests, one after another, split the set down to single states.

        The blocks that arise, [B, n], 1 where they hold a state; and [B, T]: 1 where a test makes a block, -1 where it
        splits one, so that entropy masses of blocks times this is by how much each test lowers what entropy is left."""
        model = self.model
        blocks, changes, whole = [states], [], [0]
        for number, test in enumerate(tests):
            left = []
            for at in whole:
                parts = model.children(blocks[at], test)
                if len(parts) == 1:
                    left.append(at)
                    continue
                changes.append((at, number, -1.0))
                for part in parts:
                    changes.append((len(blocks), number, 1.0))
                    if part & (part - 1):
                        left.append(len(blocks))
                    blocks.append(part)
            whole = left
        number += 1
        drops = np.zeros((len(blocks), number))
        for at, test, sign in changes:
            drops[at, test] = sign
        n = len(model.members)
        return np.array([[block >> s & 1 for s in range(n)] for block in blocks], dtype=float), drops

    def _by(self, node: SetNode, test: int) -> float:
        """The cost of a small set if it begins with that test."""
        model = self.model
        opened = model.after(test, node.opened)
        parts = (self._node(part, opened, 0.0, node.price) for part in model.children(node.states, test))
        return self.model.own_cost(node.states, node.opened, test) + sum(part.bound for part in parts)

    def _open(self, node: SetNode) -> None:
        """Bound every test of the node by the information bounds of its children, all at once."""
        model, states = self.model, node.states
        members = np.array(model.bits(states))
        tests = np.array(model.useful(states, node.opened))
        rows = np.concatenate([np.arange(model.first[t], model.first[t + 1]) for t in tests])
        inside = model.rows[np.ix_(rows, members)]
        size = inside.sum(axis=1)
        present = size > 0
        rows, inside, size = rows[present], inside[present], size[present]
        owner = np.searchsorted(model.first, rows, side="right") - 1
        first = np.flatnonzero(np.diff(owner, prepend=-1))
        share = (inside * model.mass[members]) @ inside.T
        mass = inside @ model.mass[members]
        blocks, drops = self._refined(states, tests.tolist())
        drop = bound.entropy_mass((inside * model.mass[members]) @ blocks[:, members].T) @ drops
        prices = [node.price * p for p in PRICES]
        after = [model.after(int(t), node.opened) for t in tests]
        value, price = np.zeros(len(rows)), np.zeros(len(rows))
        of_row = np.repeat(after, np.diff(np.append(first, len(rows))))
        for opened in set(after):
            these = np.flatnonzero(of_row == opened)
            cost = self._spread(tests, opened)
            value[these], price[these] = bound.information(mass[these], drop[these], share[these], first, cost, prices)
        value[size == 1] = 0.0
        setup = np.array([model.setup_of(int(t), node.opened) for t in tests])
        whole = float(model.mass[members].sum())
        bounds = whole * (model.cost[tests] + setup) + np.add.reduceat(value, first)
        order = np.argsort(bounds, kind="stable")
        last = np.append(first[1:], len(rows))
        node.children = tuple((value[first[i] : last[i]], price[first[i] : last[i]]) for i in order)
        node.order, node.bounds = tests[order], bounds[order]
        node.entries, node.taken = [], 0

    def _raise(self, node: SetNode, limit: float) -> None:
        """Raise the bound of the node until it is solved or the bound is above the limit."""
        if self._time_is_up():
            raise OutOfTime
        if node.entries is None:
            self._open(node)
        entries = node.entries
        assert entries is not None
        while True:
            entry, second = self._best(node)
            node.bound = max(node.bound, entry[0])
            waiting = [child for child in entry[3] if not child.solved]
            if not waiting:
                node.best, node.bound, node.solved = entry[1], entry[0], True
                node.order = node.bounds = node.entries = None
                node.children = ()
                return
            if node.bound > limit:
                return
            room = max(min(limit, second + SLACK * node.bound) - entry[0], self._step)
            child = max(waiting, key=lambda n: n.bound)
            self._raise(child, child.bound + room)

    def _best(self, node: SetNode) -> tuple[TestEntry, float]:
        """The entry of least bound as things stand, at the head of the heap, and a bound on all others."""
        entries, bounds = node.entries, node.bounds
        assert entries is not None
        assert bounds is not None
        while True:
            fresh = float(bounds[node.taken]) if node.taken < len(bounds) else np.inf
            if not entries or fresh < entries[0][0]:
                heapq.heappush(entries, self._take(node))
                continue
            _, test, own, children = entry = entries[0]
            value = own + sum(child.bound for child in children)
            if value > entry[0]:
                heapq.heapreplace(entries, (value, test, own, children))
                continue
            return entry, min([fresh, *(other[0] for other in entries[1:3])])

    def _take(self, node: SetNode) -> TestEntry:
        """The next test of the node, its children now nodes."""
        assert node.order is not None
        model = self.model
        test = int(node.order[node.taken])
        values, prices = node.children[node.taken]
        node.taken += 1
        parts = model.children(node.states, test)
        opened = model.after(test, node.opened)
        own = self.model.own_cost(node.states, node.opened, test)
        children = tuple(
            self._node(part, opened, float(v), float(p)) for part, v, p in zip(parts, values, prices, strict=True)
        )
        return own + sum(child.bound for child in children), test, own, children

    def _settle(self, node: SetNode) -> None:
        """Carry up, along the best entries, what was learnt below before time was up."""
        if node.solved or not node.entries:
            return
        for child in node.entries[0][3]:
            self._settle(child)
        node.bound = max(node.bound, self._best(node)[0][0])
