"""The rule about what depends on a danger sign: a case goes no further once one stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import PurePath
from typing import Final

from diag.machine.model import Danger
from diag.machine.nodes import Call, Do, TreeNode
from diag.machine.place import Place
from diag.tree.ways import branches
from diag.vet.vetted.rule import Finding, Vetted, rule, some

MOSTLY: Final = 0.5
"""A cause that shows the sign in more than half of its stops ends there more often than it is found. Below that the
sign may come with the cause, as smoke comes with a short, and earlier facts may find it."""


@rule(
    "beyond-danger",
    "warning",
    "It endangers nobody; but what is never reached was written in vain, and an example promises too much.",
    bad="""
causes:
  belt-torn: {title: Belt torn, part: belt, often: rare, shows: {smell: burning}, remedy: let-cool}
""",
    mend=("smell: burning", "air: weak, smell: {burning: seldom}"),
)
def beyond_danger(vetted: Vetted) -> Iterator[Finding]:
    """While a danger sign stands, the case shows it, offers no further check and no remedy, and sends everybody away.
    So a cause that usually shows the sign is never found, a branch for it leads only to a call, and an example that
    says it would end there. If the danger is real, take the sign out of those; if people go on working when they see
    it, take it out of the danger signs."""
    from diag.reason.table.compile import CannotCompile

    for danger, item in zip(vetted.machine.dangers, vetted.written.lists["dangers"], strict=True):
        leaning = [*_branches(vetted, danger)]
        with suppress(CannotCompile):
            ended = [replayed.example for replayed in vetted.replayed if replayed.danger is danger]
            examples = (f"example {example.id} ({_line(vetted.place(example))})" for example in ended)
            leaning = [*_causes(vetted, danger), *leaning, *examples]
        if leaning:
            sign = " and ".join(f"'{id}' {' or '.join(states)}" for id, states in danger.when)
            text = (
                f"a case ends at the danger sign {sign}; never reached: {some(leaning)}; "
                "take the state out there, or the sign out of 'dangers'"
            )
            yield Finding(item.place("when"), text)


def stands(danger: Danger, known: Mapping[str, frozenset[str]]) -> bool:
    """Whether the sign is there in all that is known."""
    return all(id in known and known[id] <= frozenset(states) for id, states in danger.when)


def _causes(vetted: Vetted, danger: Danger) -> Iterator[str]:
    facts = {id: frozenset(states) for id, states in danger.when}
    for cause in vetted.machine.causes.values():
        if vetted.numbers.chance(cause.id, facts) > MOSTLY:
            named = next((("shows", id) for id in facts if id in cause.shows), ())
            yield f"cause {cause.id} ({_line(vetted.key(cause, *named))})"


def _branches(vetted: Vetted, danger: Danger) -> Iterator[str]:
    """Branches at which the sign comes to stand on every way that takes them, and that do more than call."""
    behind: dict[Place, bool] = {}
    for route in vetted.routes.ways:
        known: dict[str, frozenset[str]] = {}
        for step in route.passed:
            before = stands(danger, known)
            known[step.look.indication] = step.states
            node = next((child for child, states in branches(step.look, step.states) if states == step.states), None)
            if node is not None and node.place is not None and not _only_calls(node):
                behind[node.place] = behind.get(node.place, True) and not before and stands(danger, known)
    for place in sorted((p for p, there in behind.items() if there), key=lambda p: (p.file, p.line, p.column)):
        yield f"a branch ({_line(place)})"


def _only_calls(node: TreeNode) -> bool:
    """A call, or words and then a call or nothing."""
    while isinstance(node, Do) and node.then is not None:
        node = node.then
    return isinstance(node, Call | Do)


def _line(place: Place) -> str:
    return f"{PurePath(place.file).name}, line {place.line}"
