"""Why an example came out wrong: what its facts say about the expected cause and about the one that came first."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from diag.case.case import Case
from diag.case.phrases import answered
from diag.machine.language.fields.field_types import SURELY
from diag.machine.model import Example, Indication, Kind, Machine, Role
from diag.reason.table.compile import table_of
from diag.safety.types import Person

SPEAKS: Final = 1.5
"""A fact is told only when it is this many times likelier under one cause than under the other: smaller differences
come from slips and from a question's usual answers."""
UNLIKELY: Final = 0.2
"""A fact that is less likely than this under the expected cause gets a hint why."""
BY: Final = "the example"
"""The facts were found before the case, by this, so that a reading from inside needs no lockout."""


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
    """Probabilities of two causes, taken apart: before any fact, then fact by fact. The products of the two have the
    same ratio as the probabilities at the end."""

    expected: str
    first: str
    before: tuple[float, float]
    facts: tuple[Told, ...]
    hint: str
    """Why the fact that speaks most against the expected cause is so unlikely under it; empty where none does."""


def compare(machine: Machine, example: Example, first: str) -> Compared:
    """The example's facts in order, the last word on each indication; `first`: the cause that ranks first.

    Raises as `Case.say` does."""
    case = Case.open(machine, Person(BY, Role.ENGINEER))
    table = table_of(machine)
    before = [float(math.exp(table.log_prior[table.cause_index[id]])) for id in (example.cause, first)]
    last = {indication: n for n, (indication, _) in enumerate(example.facts)}
    told, so_far = [], [0.0, 0.0]
    for n, (indication, text) in enumerate(example.facts):
        if last[indication] != n:
            continue
        state = case.say(indication, text, before=BY).current[indication]
        now = [case.log_likelihood(id) for id in (example.cause, first)]
        chances = [math.exp(new - old) for new, old in zip(now, so_far, strict=True)]
        told.append(Told(indication, state, answered(machine.indications[indication].title, state), *chances))
        so_far = now
    against = min(told, key=lambda t: t.weight, default=None)
    hint = ""
    if against is not None and against.weight < 0.0 and against.speaks and against.expected < UNLIKELY:
        hint = _why(machine, example.cause, against)
    return Compared(example.cause, first, (before[0], before[1]), tuple(told), hint)


def _why(machine: Machine, id: str, told: Told) -> str:
    """Why the file makes this fact unlikely under the cause, and what to write if that is wrong."""
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
        return f"{id} shows {ind.id}: {state}, which alone means always; write {{{state}: usually}} if that is wrong"
    return f"by the file {id} shows {ind.id}: {' or '.join(row)}, and not {told.state}"


def _unnamed(ind: Indication) -> str:
    follows = ", or what it follows" if ind.follows else ""
    if ind.kind is Kind.QUESTION:
        return f"is answered as usual{follows}"
    return f"is taken to show its normal state, {ind.normal}{follows}"
