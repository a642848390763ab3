"""The next thing to do, by expected minutes to the end of the case, one step ahead.

R(b) is the expected minutes when from belief b remedies are tried in the best order and a call ends it (`cost`). A
check is worth R(b) less its own minutes, its set-up and the R that its outcomes leave on average. What is prepared for
a check (a cabinet locked out) stays prepared for what comes after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from diag.machine.model import Role
from diag.reason.belief import Belief
from diag.reason.compile import Array, Table
from diag.reason.constants import FINISH
from diag.reason.outlook import Look, Loss, Outlook, Remedies, Stack, looks, one_step, outlook
from diag.reason.situation import Situation


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing that a check may show: a state for each indication told, its chance, and the likeliest cause then."""

    states: tuple[tuple[str, str], ...]
    probability: float
    top: str
    share: float
    """Probability of that cause after it."""


@dataclass(frozen=True, slots=True)
class Choice:
    kind: Literal["check", "remedy", "call"]
    id: str
    minutes: float
    setup: float
    saved: float
    """Expected minutes saved against doing without; for a remedy or a call, 0."""
    outcomes: tuple[Outcome, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    checks: tuple[Choice, ...]
    """Checks worth their minutes, best first."""
    remedies: tuple[Choice, ...]
    """Remedies worth trying before a call, in order."""
    best: Choice
    left: float
    """Expected minutes to the end from here, without a further check."""
    before: Choice | None = None
    """Where looking further ahead put something else first: what was first by one step."""
    sooner: float = 0.0
    """By how many minutes the end then comes sooner."""


def advise(belief: Belief, situation: Situation) -> Plan:
    """The checks worth their minutes, the remedies worth trying, and the one best thing to do next."""
    table, seen = belief.table, outlook(belief, situation)
    loss = Remedies(seen.fixes, table, table.call, len(table.causes))
    left, tried = loss.plan(seen.belief @ loss.cured, situation)
    checks = choices(seen, table, loss, left)
    remedies = tuple(Choice("remedy", seen.fixes[m].id, float(loss.minutes[m]), setup, 0.0) for m, setup in tried)
    if checks:
        best = _unfinished(checks, situation) or checks[0]
    elif remedies:
        best = remedies[0]
    else:
        best = Choice("call", Role.ENGINEER, table.call, 0.0, 0.0)
    return Plan(checks, remedies, best, left)


def _unfinished(checks: tuple[Choice, ...], situation: Situation) -> Choice | None:
    """The rest of a check that the person is in the middle of, while it still saves a minute: whoever goes elsewhere
    first comes back for it, which the minutes of no check know of."""
    begun = {id for id, _ in situation.begun}
    return next((c for c in checks if c.id in begun and c.saved >= FINISH), None)


def rank(belief: Belief, situation: Situation, loss: Loss, left: float) -> tuple[Choice, ...]:
    """Checks that may be done and are worth their minutes under `loss`, best first; ties keep the file's order."""
    table = belief.table
    seen = Outlook(belief.posterior, looks(belief, situation), (), situation, table, table.call)
    return choices(seen, table, loss, left)


def choices(seen: Outlook, table: Table, loss: Loss, left: float, least: float = 0.0) -> tuple[Choice, ...]:
    """Checks that save more than `least` minutes one step ahead, best first; ties keep the file's order."""
    stack = Stack(seen.looks, len(table.causes))
    chance, beliefs = stack.after(seen.belief)
    asked = np.ones(len(seen.looks), dtype=bool)
    saved = left - one_step(stack, chance, beliefs, asked, seen.situation, table, loss, left)
    found = []
    for t in np.argsort(-saved, kind="stable"):
        if saved[t] <= least:
            break
        look, span = seen.looks[t], slice(int(stack.first[t]), int(stack.first[t + 1]))
        outcomes = _outcomes(table, look, chance[span], beliefs[span])
        setup = seen.situation.setup(table, look.place)
        found.append(Choice("check", look.id, look.minutes, setup, float(saved[t]), outcomes))
    return tuple(found)


def _outcomes(table: Table, look: Look, chance: Array, beliefs: Array) -> tuple[Outcome, ...]:
    top = beliefs.argmax(axis=1)
    return tuple(
        Outcome(
            tuple((table.indications[i], table.states[i][k]) for i, k in zip(look.tells, states, strict=True)),
            float(chance[o]),
            table.causes[top[o]],
            float(beliefs[o, top[o]]),
        )
        for o, states in sorted(enumerate(look.states), key=lambda pair: -chance[pair[0]])
    )
