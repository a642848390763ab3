"""The rule about what leans on a danger sign: past one the case goes no further."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import PurePath
from typing import Final

from diag.machine.model import Danger
from diag.machine.nodes import Call, Do, Node
from diag.machine.place import Place
from diag.vet.table import Finding, Vetted, rule, some
from diag.vet.ways import branches

MOSTLY: Final = 0.5
"""A cause that shows the sign in more than half of its stops ends there more often than it is found. Below that the
sign is what may come with it, as smoke with a short, and the facts before it may find it."""


@rule(
    "beyond-danger",
    "warning",
    "Nobody is endangered by it; the work on what is never reached is only lost, and an example promises too much.",
    bad="""
causes:
  belt-torn: {title: Belt torn, part: belt, often: rare, shows: {smell: burning}, remedy: let-cool}
""",
    good="""
causes:
  belt-torn: {title: Belt torn, part: belt, often: rare, shows: {air: weak, smell: {burning: seldom}}, remedy: let-cool}
""",
)
def beyond_danger(vetted: Vetted) -> Iterator[Finding]:
    """Where a danger sign stands, the case shows it, offers no look and no remedy more, and sends everybody away. So a
    cause that usually shows it is never found, a branch for it leads nowhere but to a call, and an example that says it
    would end there. If it is a true danger, take it out of those; if people go on working at it, take it out of the
    danger signs."""
    for danger, item in zip(vetted.machine.dangers, vetted.written.lists["dangers"], strict=True):
        leaning = [*_causes(vetted, danger), *_branches(vetted, danger), *_examples(vetted, danger)]
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
    numbers, facts = vetted.numbers, {id: frozenset(states) for id, states in danger.when}
    for cause in vetted.machine.causes.values() if numbers is not None else ():
        if numbers is not None and numbers.chance(cause.id, facts) > MOSTLY:
            named = next((id for id in facts if id in cause.shows), "")
            path = ("shows", named) if named else ()
            yield f"cause {cause.id} ({_line(vetted.key('causes', cause.id, *path, otherwise=cause.place))})"


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


def _only_calls(node: Node) -> bool:
    """A call, or words and then a call or nothing."""
    while isinstance(node, Do) and node.then is not None:
        node = node.then
    return isinstance(node, Call | Do)


def _examples(vetted: Vetted, danger: Danger) -> Iterator[str]:
    for replayed in vetted.replayed:
        example = replayed.example
        if replayed.danger is danger:
            yield f"example {example.id} ({_line(vetted.where(example.place))})"


def _line(place: Place) -> str:
    return f"{PurePath(place.file).name}, line {place.line}"
