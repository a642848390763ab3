"""Worked examples replayed: does the cause rank where the example says, and does the authored tree lead to it?"""

from __future__ import annotations

from dataclasses import dataclass

from diag.case.case import Case
from diag.machine.model import UNLISTED, Danger, Example, Machine, Role
from diag.machine.states.say import CannotRead
from diag.safety import danger
from diag.safety.types import Person
from diag.tree import walk as tree
from diag.vet.examples.compared import BY, Compared, compare


@dataclass(frozen=True, slots=True)
class Replayed:
    """One example after its last fact."""

    machine: str
    example: Example
    place: int
    """Where the cause ranks, from 1; 0 when a fact could not be read."""
    probability: float
    first: str
    """The cause that ranks first."""
    trouble: tuple[str, ...]
    """What does not hold, one line each."""
    danger: Danger | None = None
    """The danger sign at which the case would end before all of this, if any."""
    compared: Compared | None = None
    """What its facts say of its cause and of the one that ranks first, where it ranks too far down."""

    @property
    def fine(self) -> bool:
        return not self.trouble


def replay(machine: Machine, example: Example) -> Replayed:
    """Enters all facts in order into a case that is stored nowhere; then looks at the ranking and the tree."""
    case = Case.open(machine, Person(BY, Role.ENGINEER))
    sign = None
    for indication, text in example.facts:
        try:
            state = case.say(indication, text, before=BY)
        except CannotRead as error:
            return Replayed(machine.id, example, 0, 0.0, "", (f"{indication}: {error}",), sign)
        sign = sign or danger(machine, state.current)
    causes = case.ranking()
    place = next(n for n, cause in enumerate(causes, start=1) if cause.id == example.cause)
    trouble, compared = [], None
    if place > example.within:
        wanted = "first" if example.within == 1 else f"among the first {example.within}"
        trouble.append(f"{example.cause} ranks {place}, not {wanted}; first is {causes[0].id}")
        compared = compare(machine, example, causes[0].id)
    if example.tree:
        trouble.extend(_tree(machine, example, case))
    found = causes[place - 1].probability
    return Replayed(machine.id, example, place, found, causes[0].id, tuple(trouble), sign, compared)


def _tree(machine: Machine, example: Example, case: Case) -> list[str]:
    """Why the tree does not lead to the cause; empty when it does. Its instructions are taken as carried out."""
    did: set[tuple[str, str]] = set()
    while isinstance(position := tree.walk(machine, machine.start, case.state.current, did=did), tree.Instruct):
        did.add((position.tree, position.text))
    at = f"tree {position.tree}"
    match position:
        case tree.Concluded(causes=causes) if example.cause in causes:
            return []
        case tree.Concluded(causes=causes):
            return [f"{at} concludes {', '.join(causes)}, not {example.cause}"]
        case _ if example.cause == UNLISTED:
            return []  # a tree may well end without a conclusion at a cause that no file lists
        case tree.CallFor(role=role):
            return [f"{at} calls the {role} and does not conclude {example.cause}"]
        case tree.Ask(indication=indication):
            return [f"{at} asks for {indication}, which the example does not say"]
        case tree.NoBranch(indication=indication, state=state):
            return [f"{at} has no branch for {indication} {state}"]
        case _:
            return [f"{at} ends without a conclusion"]
