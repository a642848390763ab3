"""Rules about authored trees, node by node: does each lead somewhere, and can it be reached?"""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.circles import circle, round_trip
from diag.machine.nodes import Do, Go, Look
from diag.tree.ways import below, children
from diag.vet.vetted.rule import Finding, Vetted, rule, some


def _goes(vetted: Vetted) -> dict[str, list[str]]:
    """For each tree those that it leads to."""
    trees = vetted.machine.trees
    return {id: [node.tree for node in below(tree.root) if isinstance(node, Go)] for id, tree in trees.items()}


@rule(
    "tree-loop",
    "error",
    "A walk that comes round again ends without a conclusion, although the person did all that it asked.",
    bad="""
trees:
  - {tree: first-look, title: First look, look: air, when: {weak: {go: second}, strong: {call: engineer}}}
  - {tree: second, title: Second look, look: smell, when: {none: {go: first-look}, burning: {call: engineer}}}
""",
    mend=("go: first-look", "conclude: filter-full"),
)
def loop(vetted: Vetted) -> Iterator[Finding]:
    """Trees that lead back to one another never end. Let one of them conclude or call instead."""
    goes = _goes(vetted)
    for names in circle(list(goes), lambda id: goes[id]):
        after = names[1] if len(names) > 1 else names[0]
        tree = vetted.machine.trees[names[0]]
        back = next(node for node in below(tree.root) if isinstance(node, Go) and node.tree == after)
        yield vetted.finding(back, f"trees lead back to one another: {round_trip(names)}")


@rule(
    "unreached-tree",
    "warning",
    "It does no harm; it is only never walked.",
    bad="""
trees:
  - {tree: first-look, title: First look, look: air, when: {weak: {conclude: filter-full}, strong: {call: engineer}}}
  - {tree: spare, title: Weak air, look: smell, when: {burning: {call: engineer}, none: {conclude: filter-full}}}
""",
    mend=("weak: {conclude: filter-full}", "weak: {go: spare}"),
)
def unreached_tree(vetted: Vetted) -> Iterator[Finding]:
    """A tree that no other leads to, and that is not the first one, is never walked. Lead to it with `go`, or take it
    out."""
    goes = _goes(vetted)
    head, start = vetted.written.head, vetted.machine.start
    reached = [start]
    for id in reached:
        reached.extend(set(goes.get(id, ())).difference(reached))
    unsaid = head is not None and "start" not in head.keys
    started = f"; without 'start:' it is '{start}' that comes first" if unsaid else ""
    for id, tree in vetted.machine.trees.items():
        if id not in reached:
            text = f"no way leads to the tree '{id}'; lead to it with 'go', or take it out{started}"
            yield vetted.finding(tree, text)


@rule(
    "no-branch",
    "warning",
    "The computed advice takes over there, so only the trainer's word is missing.",
    bad="""
trees:
  - {tree: first-look, title: First look, look: air, when: {weak: {conclude: filter-full}}}
""",
    mend=("{weak: {conclude: filter-full}}", "{weak: {conclude: filter-full}}, otherwise: {call: engineer}"),
)
def no_branch(vetted: Vetted) -> Iterator[Finding]:
    """In a state that has no branch, the tree leaves people without an answer. Write a branch for it, or an
    `otherwise`."""
    for node, possible in looks(vetted):
        without = [state for state in possible if state not in node.when]
        if without and node.otherwise is None:
            text = f"no branch and no 'otherwise' for {some(without)} of '{node.indication}'"
            yield vetted.finding(node, text)


@rule(
    "dead-branch",
    "warning",
    "It does no harm, but it is never walked, and it suggests that something else was meant.",
    bad="""
trees:
  - tree: first-look
    title: First look
    look: air
    when:
      strong: {call: engineer}
      weak: {look: air, when: {strong: {conclude: motor-hot}, weak: {conclude: filter-full}}}
""",
    mend=("look: air, when: {strong: {conclude: motor-hot}, weak: {conclude: filter-full}}", "conclude: filter-full"),
)
def dead_branch(vetted: Vetted) -> Iterator[Finding]:
    """A branch for states that earlier looks rule out can never be taken; nor can an `otherwise` where every state has
    a branch. Take it out, or correct the look that settles it."""
    for node, possible in looks(vetted):
        for child in children(node):
            states = [state for state, to in node.when.items() if to is child]
            if states and not any(state in possible for state in states):
                text = f"{' and '.join(states)} of '{node.indication}' cannot be met here; it was settled earlier"
                yield vetted.finding(child, text)
        if node.otherwise is not None and all(state in node.when for state in possible):
            text = f"this 'otherwise' cannot be reached; every state of '{node.indication}' has a branch"
            yield vetted.finding(node.otherwise, text)


@rule(
    "dead-end",
    "warning",
    "The computed advice goes on from there, but the tree does not say what the instruction was for.",
    bad="""
trees:
  - tree: first-look
    title: First look
    look: air
    when: {weak: {do: Listen at the grille}, strong: {call: engineer}}
""",
    mend=("grille", "grille, then: {conclude: filter-full}"),
)
def dead_end(vetted: Vetted) -> Iterator[Finding]:
    """An instruction with nothing after it ends the way without a conclusion and without a call. Write under `then`
    what comes next."""
    for node in vetted.nodes:
        if isinstance(node, Do) and node.then is None:
            yield vetted.finding(node, "the way ends with this instruction; write under 'then' what follows")


def looks(vetted: Vetted) -> Iterator[tuple[Look, tuple[str, ...]]]:
    """Each look that can be reached, with the states that it can still meet, in their order."""
    for node in vetted.nodes:
        if isinstance(node, Look) and id(node) in vetted.open_states:
            found = vetted.open_states[id(node)]
            states = vetted.machine.indications[node.indication].state_ids
            yield node, tuple(state for state in states if state in found)
