"""The next thing to do, by expected minutes to the end of the case, one step ahead.

R(b) is the expected minutes when from belief b remedies are tried in the best order and a call ends it (`cost`). A
check is worth R(b) less its own minutes, its set-up and the R that its outcomes leave on average. What is prepared for
a check (a cabinet locked out) stays prepared for what comes after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from diag.reason.advice.check_stack import TINY, CheckStack
from diag.reason.advice.decision_model import CheckOption, DecisionModel, check_options, decision_model
from diag.reason.advice.remedy_loss import Loss, RemedyLoss
from diag.reason.belief.belief import Belief
from diag.reason.constants import FINISH, NEGLIGIBLE
from diag.reason.table.compile import Array, Index, Table
from diag.reason.table.situation import Role, Situation

TIES = 9
"""Decimals of a minute that rank a check: what rounding tells apart ties, and keeps the order of the file."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing that a check may show: a state for each indication told, its chance, and the likeliest cause then."""

    states: tuple[tuple[str, str], ...]
    probability: float
    top: str
    share: float
    """Probability of that cause after it."""


@dataclass(frozen=True, slots=True)
class PlannedAction:
    kind: Literal["check", "remedy", "call"]
    id: str
    minutes: float
    setup: float
    saved: float
    """Expected minutes saved against doing without; for a remedy or a call, 0."""
    outcomes: tuple[Outcome, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    checks: tuple[PlannedAction, ...]
    """Checks worth their minutes, best first."""
    remedies: tuple[PlannedAction, ...]
    """Remedies worth trying before a call, in order."""
    best: PlannedAction
    left: float
    """Expected minutes to the end from here, without a further check."""
    before: PlannedAction | None = None
    """Where looking further ahead put something else first: what was first by one step."""
    sooner: float = 0.0
    """By how many minutes the end then comes sooner."""


def advise(belief: Belief, situation: Situation) -> Plan:
    """The checks worth their minutes, the remedies worth trying, and the one best thing to do next."""
    table, seen = belief.table, decision_model(belief, situation)
    loss = RemedyLoss(seen.remedies, table.times, table.times.call, len(table.causes))
    left, tried = loss.plan(loss.chances(seen.belief), situation)
    checks = planned_checks(seen, table, loss, left)
    remedies = tuple(
        PlannedAction("remedy", seen.remedies[m].id, float(loss.minutes[m]), setup, 0.0) for m, setup in tried
    )
    if checks:
        best = _unfinished(checks, situation) or checks[0]
    elif remedies:
        best = remedies[0]
    else:
        best = PlannedAction("call", Role.ENGINEER, table.times.call, 0.0, 0.0)
    return Plan(checks, remedies, best, left)


def _unfinished(checks: tuple[PlannedAction, ...], situation: Situation) -> PlannedAction | None:
    """The rest of a check that was begun, while it still saves a minute: whoever goes elsewhere first has to come back
    for it, and the minutes of no check count that."""
    return next((c for c in checks if c.id in dict(situation.partially_done) and c.saved >= FINISH), None)


def rank(belief: Belief, situation: Situation, loss: Loss, left: float) -> tuple[PlannedAction, ...]:
    """Checks that may be done and are worth their minutes under `loss`, best first; ties keep the file's order."""
    table = belief.table
    seen = DecisionModel(
        belief.posterior, check_options(belief, situation), (), situation, table.times, table.times.call
    )
    return planned_checks(seen, table, loss, left)


def planned_checks(
    seen: DecisionModel, table: Table, loss: Loss, left: float, least: float = 0.0
) -> tuple[PlannedAction, ...]:
    """Checks that save more than `least` minutes one step ahead, best first; ties keep the file's order."""
    if not seen.checks:
        return ()
    stack = CheckStack(seen.checks, len(table.causes))
    outcomes = stack.outcomes(seen.belief)
    likely = np.flatnonzero(outcomes.chance > NEGLIGIBLE)
    situations, which = stack.reached(seen.situation)
    minutes = np.full(len(outcomes.chance), left)
    if isinstance(loss, RemedyLoss):
        minutes[likely] = loss.after(outcomes, seen.belief, likely, situations, which[likely])
    else:
        minutes[likely] = loss(stack.after(seen.belief)[1][likely], situations, which[likely])
    saved = left - stack.paid(seen.situation, table.times) - stack.summed(minutes * outcomes.chance)
    order = np.argsort(-seen.belief, kind="stable")
    found = []
    for t in np.argsort(-np.round(saved, TIES), kind="stable"):
        if saved[t] <= least:
            break
        option, chance = seen.checks[t], outcomes.chance[stack.first[t] : stack.first[t + 1]]
        top, joint = stack.likeliest(t, outcomes, seen.belief, order)
        shown = _outcomes(table, option, chance, top, joint / np.maximum(chance, TINY))
        setup = seen.situation.setup(table.times, option.place)
        found.append(PlannedAction("check", option.id, option.minutes, setup, float(saved[t]), shown))
    return tuple(found)


def _outcomes(table: Table, option: CheckOption, chance: Array, top: Index, share: Array) -> tuple[Outcome, ...]:
    """The outcomes of a check, the likeliest first, with the likeliest cause after each and its share."""
    found = []
    for o in np.argsort(-chance, kind="stable"):
        told = zip(option.tells, option.states[o], strict=True)
        states = tuple((table.indications[i], table.states[i][k]) for i, k in told)
        found.append(Outcome(states, float(chance[o]), table.causes[top[o]], float(share[o])))
    return tuple(found)
