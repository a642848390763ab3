"""The ways through a machine's trees: which states each look can still meet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diag.machine.model import Machine
from diag.machine.nodes import Go, Look, TreeNode

Open = dict[str, frozenset[str]]
"""For the indications that were looked at on every way here, the states that those ways leave open."""


def below(node: TreeNode) -> Iterator[TreeNode]:
    """The node and all below it in its tree, from the top."""
    waiting = [node]
    while waiting:
        node = waiting.pop()
        yield node
        waiting.extend(reversed(children(node)))


def children(node: TreeNode) -> list[TreeNode]:
    """The nodes one step below. A branch for several states is one node."""
    if isinstance(node, Look):
        branches = list({id(child): child for child in node.when.values()}.values())
        return branches + ([node.otherwise] if node.otherwise is not None else [])
    then = getattr(node, "then", None)
    return [then] if then is not None else []


def branches(look: Look, states: frozenset[str]) -> Iterator[tuple[TreeNode, frozenset[str]]]:
    """The branches that one of these states leads to, each with those that do."""
    for child in children(look):
        leading = frozenset(state for state in states if look.when.get(state, look.otherwise) is child)
        if leading:
            yield child, leading


def open_states(machine: Machine) -> Mapping[int, frozenset[str]]:
    """For each look (by the `id()` of its node) the states that the looks before it leave open, over all the ways
    from the tree to start with. A tree that no way leads to is taken as entered with nothing known.
    """
    entered: dict[str, Open] = {}
    found: dict[int, frozenset[str]] = {}
    for first in (machine.start, *machine.trees):
        if first in entered or first not in machine.trees:
            continue
        entered[first] = {}
        waiting = [first]
        while waiting:
            tree = waiting.pop()
            for other, known in _through(machine, machine.trees[tree].root, entered[tree], found):
                before = entered.get(other)
                both = known if before is None else _join(before, known)
                if both != before:
                    entered[other] = both
                    waiting.append(other)
    return found


def _join(one: Open, other: Open) -> Open:
    return {id: states | other[id] for id, states in one.items() if id in other}


def _through(
    machine: Machine, root: TreeNode, known: Open, found: dict[int, frozenset[str]]
) -> Iterator[tuple[str, Open]]:
    """Every `go` of a tree that the ways in lead to, with what is known there. Fills `found` on the way."""
    waiting: list[tuple[TreeNode, Open]] = [(root, known)]
    while waiting:
        node, known = waiting.pop()
        if isinstance(node, Go):
            yield node.tree, known
        elif isinstance(node, Look):
            states = known.get(node.indication, frozenset(machine.indications[node.indication].state_ids))
            found[id(node)] = found.get(id(node), frozenset()) | states
            waiting.extend((child, {**known, node.indication: left}) for child, left in branches(node, states))
        else:
            waiting.extend((child, known) for child in children(node))
