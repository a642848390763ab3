"""Rules about authored trees."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.nodes import Do, Go, Look
from diag.machine.scope import circle, round_trip
from diag.vet import words
from diag.vet.table import Finding, Vetted, some
from diag.vet.ways import below, children


def _goes(vetted: Vetted) -> dict[str, list[str]]:
    """For each tree those that it leads to."""
    return {
        id: [node.tree for node in below(tree.root) if isinstance(node, Go)]
        for id, tree in vetted.machine.trees.items()
    }


def loop(vetted: Vetted) -> Iterator[Finding]:
    """Trees that lead back to one another never end."""
    goes = _goes(vetted)
    for names in circle(list(goes), lambda id: goes[id]):
        after = names[1] if len(names) > 1 else names[0]
        tree = vetted.machine.trees[names[0]]
        place = next(node.place for node in below(tree.root) if isinstance(node, Go) and node.tree == after)
        yield Finding(vetted.where(place), f"trees lead back to one another: {round_trip(names)}")


def unreached_tree(vetted: Vetted) -> Iterator[Finding]:
    """A tree that no other leads to, and that is not the one to start with."""
    goes = _goes(vetted)
    reached = {vetted.machine.start}
    waiting = [vetted.machine.start]
    while waiting:
        for id in goes.get(waiting.pop(), []):
            if id not in reached:
                reached.add(id)
                waiting.append(id)
    for id, tree in vetted.machine.trees.items():
        if id not in reached:
            yield Finding(vetted.where(tree.place), f"no way leads to the tree '{id}'")


def no_branch(vetted: Vetted) -> Iterator[Finding]:
    """A state that the tree has no answer to; the computed advice takes over there."""
    for node, possible in _looks(vetted):
        without = [state for state in possible if state not in node.when]
        if without and node.otherwise is None:
            text = f"no branch and no 'otherwise' for {some(without)} of '{node.indication}'"
            yield Finding(vetted.where(node.place), text)


def dead_branch(vetted: Vetted) -> Iterator[Finding]:
    """A branch for states that the looks before rule out, or an `otherwise` when every state has a branch."""
    for node, possible in _looks(vetted):
        for child in children(node):
            states = [state for state, to in node.when.items() if to is child]
            if states and not any(state in possible for state in states):
                text = f"{' and '.join(states)} of '{node.indication}' cannot be met here; it was settled before"
                yield Finding(vetted.where(child.place), text)
        if node.otherwise is not None and all(state in node.when for state in possible):
            text = f"this 'otherwise' cannot be reached; every state of '{node.indication}' has a branch"
            yield Finding(vetted.where(node.otherwise.place), text)


def _looks(vetted: Vetted) -> Iterator[tuple[Look, tuple[str, ...]]]:
    """Each look that can be reached, with the states that it can still meet, in their order."""
    for _, node in vetted.nodes:
        if isinstance(node, Look) and id(node) in vetted.open_states:
            found = vetted.open_states[id(node)]
            states = vetted.machine.indications[node.indication].state_ids
            yield node, tuple(state for state in states if state in found)


def physical(vetted: Vetted) -> Iterator[Finding]:
    """A tree's own instructions are for outside only."""
    for _, node in vetted.nodes:
        word = words.told(node.text) if isinstance(node, Do) else ""
        if word:
            text = f"'{word}' in a tree; physical work belongs in a check or a remedy"
            yield Finding(vetted.where(node.place), text)
