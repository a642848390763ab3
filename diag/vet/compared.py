"""Why an example came out wrong: what its facts say of the cause that was expected and of the one that came first."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from diag.case.case import Case
from diag.case.words import answered
from diag.machine.model import Example, Indication, Kind, Machine, Role
from diag.machine.words import SURELY
from diag.safety.types import Person

SPEAKS: Final = 1.5
"""By so much a fact must be likelier under one cause than under the other to be told: less is the spread of the slip
and of a question's usual answers."""
UNLIKELY: Final = 0.2
"""A fact that is less likely than that under the expected cause is asked why."""
BY: Final = "the example"
"""By whom the facts were found: before, so that a reading from inside needs no lockout to be told."""


@dataclass(frozen=True, slots=True)
class Told:
    """One fact, and how likely it is under each of the two, the facts before it being known."""

    indication: str
    state: str
    text: str
    expected: float
    first: float

    @property
    def weight(self) -> float:
        """Natural log of the ratio; below 0 it speaks against the expected cause."""
        return math.log(self.expected / self.first)

    @property
    def speaks(self) -> bool:
        return abs(self.weight) > math.log(SPEAKS)


@dataclass(frozen=True, slots=True)
class Compared:
    """Probabilities of two causes, taken apart: before any fact, then fact by fact. The product of all of a cause's
    stands to the other's as their probabilities at the end."""

    expected: str
    first: str
    before: tuple[float, float]
    facts: tuple[Told, ...]
    hint: str
    """Why the fact that speaks most against the expected cause is so unlikely under it; empty where none is."""


def compare(machine: Machine, example: Example, first: str) -> Compared:
    """The example's facts in order, the last word on each indication; `first`: the cause that ranks first.

    Raises as `Case.say` does."""
    case = Case.open(machine, Person(BY, Role.ENGINEER))
    table = case.weigh().table
    at = [table.cause_index[id] for id in (example.cause, first)]
    before = [float(math.exp(table.log_prior[c])) for c in at]
    last = {indication: n for n, (indication, _) in enumerate(example.facts)}
    told, so_far = [], [0.0, 0.0]
    for n, (indication, text) in enumerate(example.facts):
        if last[indication] != n:
            continue
        state = case.say(indication, text, before=BY).standing[indication]
        now = [float(case.weigh().belief(case.folded).log_likelihood[c]) for c in at]
        chances = [math.exp(new - old) for new, old in zip(now, so_far, strict=True)]
        told.append(Told(indication, state, answered(machine.indications[indication].title, state), *chances))
        so_far = now
    against = min(told, key=lambda t: t.weight, default=None)
    hint = ""
    if against is not None and against.weight < 0.0 and against.speaks and against.expected < UNLIKELY:
        hint = _why(machine, example.cause, against)
    return Compared(example.cause, first, (before[0], before[1]), tuple(told), hint)


def _why(machine: Machine, id: str, told: Told) -> str:
    """How the file comes to call this fact unlikely under the cause, and what to write where that is not so."""
    cause, ind = machine.causes.get(id), machine.indications[told.indication]
    if cause is None:
        return ""
    row = {state: chance for state, chance in cause.shows.get(ind.id, {}).items() if chance > 0.0}
    if not row:
        return f"{id} does not name {ind.id} under 'shows', so it {_unnamed(ind)}"
    if told.state in row:
        rarely = row[told.state] < UNLIKELY
        return f"by the file {id} shows {ind.id}: {told.state} in {row[told.state]:.0%} of its stops" if rarely else ""
    if len(row) == 1 and next(iter(row.values())) >= SURELY["always"]:
        (state,) = row
        return f"{id} shows {ind.id}: {state}, which alone means always; write {{{state}: usually}} where it is not so"
    return f"by the file {id} shows {ind.id}: {' or '.join(row)}, and not {told.state}"


def _unnamed(ind: Indication) -> str:
    follows = ", or what it follows" if ind.follows else ""
    if ind.kind is Kind.QUESTION:
        return f"is answered as usual{follows}"
    return f"is taken to show its normal state, {ind.normal}{follows}"
