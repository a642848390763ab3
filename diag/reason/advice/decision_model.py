"""What can be done from here on, as bare arrays: checks with their outcomes, remedies with their chances, and a call.

It is made from a machine's table and a belief (`decision_model`), or from a table out of a paper, or at random. The
answers of all checks are taken as independent given the cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from diag.reason.belief.belief import Belief
from diag.reason.constants import OUTCOME_LIMIT
from diag.reason.table.compile import Array, Index, Table, TableCheck
from diag.reason.table.situation import Minutes, Place, Role, Situation

KNOWN = 1.0 - 1e-9
"""An answer as likely as this tells nothing."""
LIKELY = 0.5
"""A check that needs some state is offered while that state is at least this likely."""
SAME = 1e-15
"""A cause under which every outcome is as likely as on the healthy machine, but for rounding, is not moved."""
TIES = 12
"""Decimals by which one answer is more uncertain than another; what only rounding tells apart ties."""
TINY = 1e-12
"""Stands in for a chance of 0 under a logarithm."""


@dataclass(frozen=True, eq=False)
class CheckOption:
    """A check that can still tell something, with O joint outcomes."""

    id: str
    given: Array
    """[O, C], or [O, c] for the causes in `moved`: P(outcome | cause); each cause's column sums to 1."""
    minutes: float
    place: Place
    tells: tuple[int, ...] = ()
    """The indications told, by number."""
    states: tuple[tuple[int, ...], ...] = ()
    """Of each outcome: the state of each indication told."""
    moved: Index | None = None
    """[c]: the causes that `given` is about, ascending; None: all of them."""
    sure: Array | None = None
    """[O]: P(outcome) under each of the other causes."""


@dataclass(frozen=True, eq=False)
class RemedyOption:
    """A remedy; `minutes` holds its own and its proof's."""

    id: str
    cures: Array
    """[C]: chance that it ends the case, given the cause."""
    minutes: float
    place: Place


@dataclass(frozen=True, slots=True)
class ActionRef:
    """An action by its number among the checks or the remedies, or the call (0)."""

    kind: Literal["check", "remedy", "call"]
    number: int


CALL = ActionRef("call", 0)


@dataclass(frozen=True, eq=False)
class DecisionModel:
    """Where one stands, and all that may be done; C causes."""

    belief: Array
    """[C], summing to 1."""
    checks: tuple[CheckOption, ...]
    remedies: tuple[RemedyOption, ...]
    situation: Situation
    times: Minutes
    call: float
    """Minutes of calling engineering, which ends the case."""

    def option(self, action: ActionRef) -> CheckOption | RemedyOption | None:
        """The check or the remedy; None for the call."""
        options: dict[str, Sequence[CheckOption | RemedyOption]] = {"check": self.checks, "remedy": self.remedies}
        return options[action.kind][action.number] if action.kind in options else None


def decision_model(belief: Belief, situation: Situation) -> DecisionModel:
    """What this person may still do about it, by what was seen so far."""
    table = belief.table
    return DecisionModel(
        belief.posterior,
        check_options(belief, situation),
        remedy_options(table, situation.role, situation.excluded),
        situation,
        table.times,
        table.times.call,
    )


def remedy_options(table: Table, role: Role | None, excluded: frozenset[str]) -> tuple[RemedyOption, ...]:
    """The remedies that this role may try; None: every role."""
    return tuple(
        RemedyOption(remedy.id, table.cured[m], remedy.minutes, remedy.place)
        for m, remedy in enumerate(table.remedies)
        if remedy.id not in excluded and (role is None or role in remedy.who)
    )


def check_options(belief: Belief, situation: Situation) -> tuple[CheckOption, ...]:
    """The checks that may be done now and may tell something new, in the file's order."""
    offered = (
        _check_option(belief, check, moved, situation.left(check.id))
        for check, moved in zip(belief.table.checks, belief.foreseen.moved.by_check, strict=True)
        if _offered(belief, check, situation)
    )
    return tuple(option for option in offered if option is not None)


def _offered(belief: Belief, check: TableCheck, situation: Situation) -> bool:
    if check.id in situation.excluded or (situation.role is not None and situation.role not in check.who):
        return False
    return all(belief.expected[list(columns)].sum() >= LIKELY for columns in check.needs)


def _check_option(belief: Belief, check: TableCheck, moved: Index, share: float) -> CheckOption | None:
    """The outcomes still open, or None when the check can tell nothing new; `share` of its minutes are left.

    Several answers of one check are taken as independent given the cause and what was seen; where they would make more
    than `OUTCOME_LIMIT` combinations, the least uncertain answers are left out."""
    uncertain = {}
    for i in check.gives:
        chances = belief.expected[belief.table.columns(i)]
        if chances.max() < KNOWN:
            uncertain[i] = round(-float(chances @ np.log(np.maximum(chances, TINY))), TIES)
    kept, given = [], np.ones((1, len(moved) + 1))
    for i in sorted(uncertain, key=lambda i: (uncertain[i], i), reverse=True):
        if len(given) * len(belief.table.states[i]) <= OUTCOME_LIMIT:
            kept.append(i)
            given = (given[:, None, :] * belief.foreseen.shown(i, moved).T[None, :, :]).reshape(-1, len(moved) + 1)
    if not kept:
        return None
    outcomes = tuple(product(*(range(len(belief.table.states[i])) for i in kept)))
    given, sure = given[:, :-1], given[:, -1]
    really = np.flatnonzero(np.abs(given - sure[:, None]).max(axis=0) > SAME)
    minutes = check.minutes * share
    return CheckOption(check.id, given[:, really], minutes, check.place, tuple(kept), outcomes, moved[really], sure)
