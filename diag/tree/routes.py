"""Every way through a machine's trees, from the tree to start with to each end, with what is known on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from diag.machine.model import Machine
from diag.machine.nodes import Do, Go, Look, TreeNode
from diag.tree.ways import branches

MOST_STEPS: Final = 5_000
"""Nodes passed over all the ways: several times what a machine of a hundred causes has. Trees that lead into one
another at every step have ways without number; what is beyond is not looked at, and that is told."""


@dataclass(frozen=True, slots=True)
class Passed:
    """A look on a way."""

    look: Look
    before: frozenset[str] | None
    """The states that the way had left open of it, None where it had not looked there yet."""
    states: frozenset[str]
    """The states that lead on along this way."""


@dataclass(frozen=True, slots=True)
class Route:
    """One way, from a root to an end."""

    passed: tuple[Passed, ...]
    end: TreeNode
    """The last node: a conclusion, a call, a `go` that leads back, a look or an instruction with nothing after it."""

    @property
    def facts(self) -> Mapping[str, frozenset[str]]:
        """What is known at its end."""
        return {step.look.indication: step.states for step in self.passed}


@dataclass(frozen=True, slots=True)
class Routes:
    ways: tuple[Route, ...]
    whole: bool
    """False when there were too many."""


def routes(machine: Machine) -> Routes:
    """The ways from the tree to start with, then from those trees that no way has led to, with nothing known there."""
    ways: list[Route] = []
    entered: set[str] = set()
    left = MOST_STEPS
    for first in (machine.start, *machine.trees):
        if first in machine.trees and first not in entered:
            for steps, route in _from(machine, first, entered):
                left -= steps
                if left < 0:
                    return Routes(tuple(ways), False)
                if route is not None:
                    ways.append(route)
    return Routes(tuple(ways), True)


def _from(machine: Machine, first: str, entered: set[str]) -> Iterator[tuple[int, Route | None]]:
    """The ways from one tree, each node with the cost of passing it; a tree is entered once on one way."""
    entered.add(first)
    waiting: list[tuple[TreeNode, tuple[Passed, ...], frozenset[str]]] = [
        (machine.trees[first].root, (), frozenset((first,)))
    ]
    while waiting:
        node, passed, trees = waiting.pop()
        after: list[tuple[TreeNode, tuple[Passed, ...], frozenset[str]]] = []
        if isinstance(node, Go) and node.tree not in trees:
            entered.add(node.tree)
            after = [(machine.trees[node.tree].root, passed, trees | {node.tree})]
        elif isinstance(node, Do) and node.then is not None:
            after = [(node.then, passed, trees)]
        elif isinstance(node, Look):
            looked = (step.states for step in reversed(passed) if step.look.indication == node.indication)
            before = next(looked, None)
            states = frozenset(machine.indications[node.indication].state_ids) if before is None else before
            ways = ((child, Passed(node, before, leading)) for child, leading in branches(node, states))
            after = [(child, (*passed, step), trees) for child, step in ways]
        waiting.extend(reversed(after))
        yield 1 + len(passed) // 8, None if after else Route(passed, node)
