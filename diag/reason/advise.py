"""The next thing to do, by expected minutes to the end of the case, one step ahead.

R(b) is the expected minutes when from belief b remedies are tried in the best order and a call ends it (`cost`). A
check is worth R(b) less its own minutes, its set-up and the R that its outcomes leave on average. What is prepared for
a check (a cabinet locked out) stays prepared for what comes after it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import product
from typing import Literal

import numpy as np

from diag.machine.model import Access, Energy, Role
from diag.reason import cost
from diag.reason.belief import Belief
from diag.reason.compile import Array, Index, Place, Table, Test
from diag.reason.constants import NEGLIGIBLE, OUTCOME_LIMIT

KNOWN = 1.0 - 1e-9


@dataclass(frozen=True, slots=True)
class Situation:
    """What may be done now, and from where one starts."""

    role: Role | None = None
    """None: everything allowed, for measuring the knowledge."""
    energised: bool = True
    dead: frozenset[str] = frozenset()
    """Zones now proved dead."""
    live: frozenset[str] = frozenset()
    """Zones now open and energised under an acknowledgement."""
    barred: frozenset[str] = frozenset()
    """Checks and remedies not to offer: set aside, or nobody could tell."""

    def setup(self, table: Table, place: Place) -> float:
        """Minutes from here to the state of access and energy that an action needs."""
        back = 0.0 if self.energised else table.restore
        match place.access:
            case Access.DEAD:
                return 0.0 if place.zone in self.dead else table.lock
            case Access.LIVE:
                return 0.0 if place.zone in self.live else back + table.live
            case Access.OUTSIDE if place.energy is Energy.ON:
                return back
            case Access.OUTSIDE if place.energy is Energy.OFF and self.energised:
                return table.lock
        return 0.0

    def after(self, place: Place) -> Situation:
        """The situation once an action of that place was set up."""
        barred, role = self.barred, self.role
        match place.access:
            case Access.DEAD:
                return Situation(role, False, self.dead | {place.zone}, frozenset(), barred)
            case Access.LIVE:
                return Situation(role, True, frozenset(), self.live | {place.zone}, barred)
            case Access.OUTSIDE if place.energy is Energy.ON and not self.energised:
                return Situation(role, True, frozenset(), frozenset(), barred)
        return self


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


Loss = Callable[[Array, Situation], Array]
"""Expected minutes left, [N], for N beliefs [N, C] in a situation."""


@dataclass(frozen=True)
class Remedies:
    """The remedies that may be tried, as a `Loss`."""

    table: Table
    role: Role | None
    barred: frozenset[str]
    rows: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        allowed = (
            m
            for m, cure in enumerate(self.table.cures)
            if cure.id not in self.barred and (self.role is None or self.role in cure.who)
        )
        object.__setattr__(self, "rows", tuple(allowed))

    def __call__(self, beliefs: Array, situation: Situation) -> Array:
        return cost.expected(*self.arguments(beliefs, situation))

    def arguments(self, beliefs: Array, situation: Situation) -> tuple[Array, Array, Index, Array, float]:
        """What `cost.order` and `cost.expected` take."""
        table = self.table
        cures = [table.cures[m] for m in self.rows]
        numbers, _ = cost.blocks([(c.place.access, c.place.zone) for c in cures])
        setup = np.zeros(int(numbers.max()) + 1 if len(cures) else 0)
        for n, cure in zip(numbers, cures, strict=True):
            setup[n] = situation.setup(table, cure.place)
        minutes = np.array([max(c.minutes, 0.1) for c in cures])
        return beliefs @ table.cured[list(self.rows)].T, minutes, numbers, setup, table.call


def advise(belief: Belief, situation: Situation) -> Plan:
    """The checks worth their minutes, the remedies worth trying, and the one best thing to do next."""
    table = belief.table
    loss = Remedies(table, situation.role, situation.barred)
    now = belief.posterior[None, :]
    left = float(loss(now, situation)[0])
    checks = rank(belief, situation, loss, left)
    remedies = _remedies(loss, now, situation)
    if checks:
        best = checks[0]
    elif remedies:
        best = remedies[0]
    else:
        best = Choice("call", Role.ENGINEER, table.call, 0.0, 0.0)
    return Plan(checks, remedies, best, left)


def rank(belief: Belief, situation: Situation, loss: Loss, left: float) -> tuple[Choice, ...]:
    """Checks that may be done and are worth their minutes under `loss`, best first; ties keep the file's order."""
    table = belief.table
    tests = [t for t in table.tests if _offered(belief, t, situation)]
    spread = [_spread(belief, t) for t in tests]
    groups: dict[Situation, list[int]] = {}
    for n, test in enumerate(tests):
        if spread[n] is not None:
            groups.setdefault(situation.after(test.place), []).append(n)
    choices = []
    for after, numbers in groups.items():
        sheets = [s for n in numbers if (s := spread[n]) is not None]
        joint = np.concatenate([belief.posterior * s.given for s in sheets])
        chance = joint.sum(axis=1)
        beliefs = joint / np.maximum(chance, cost.TINY)[:, None]
        likely = chance > NEGLIGIBLE
        minutes = left * chance
        minutes[likely] = loss(beliefs[likely], after) * chance[likely]
        at = 0
        for n, sheet in zip(numbers, sheets, strict=True):
            size = len(sheet.states)
            span = slice(at, at + size)
            at += size
            test = tests[n]
            setup = situation.setup(table, test.place)
            saved = left - test.minutes - setup - float(minutes[span].sum())
            if saved > 0:
                outcomes = _outcomes(table, sheet, chance[span], beliefs[span])
                choices.append((n, Choice("check", test.id, test.minutes, setup, saved, outcomes)))
    return tuple(c for _, c in sorted(choices, key=lambda pair: (-pair[1].saved, pair[0])))


@dataclass(frozen=True, slots=True)
class _Sheet:
    """The joint outcomes of one check: O combinations of states, and P(combination | cause, seen) [O, C]."""

    tells: tuple[int, ...]
    states: tuple[tuple[int, ...], ...]
    given: Array


def _offered(belief: Belief, test: Test, situation: Situation) -> bool:
    if test.id in situation.barred or (situation.role is not None and situation.role not in test.who):
        return False
    return all(_chance(belief, columns) >= 0.5 for _, columns in test.needs)


def _chance(belief: Belief, columns: Iterable[int]) -> float:
    return float(belief.posterior @ belief.predicted[:, list(columns)].sum(axis=1))


def _spread(belief: Belief, test: Test) -> _Sheet | None:
    """The outcomes still open, or None when the check can tell nothing new.

    Several answers of one check are taken as independent given the cause and what was seen; where they would make more
    than `OUTCOME_LIMIT` combinations, the least uncertain answers are left out."""
    table = belief.table
    open_ = []
    for i in test.gives:
        chances = belief.posterior @ belief.predicted[:, table.columns(i)]
        if chances.max() < KNOWN:
            uncertain = -float(chances @ np.log(np.maximum(chances, cost.TINY)))
            open_.append((uncertain, i))
    kept, size = [], 1
    for _, i in sorted(open_, reverse=True):
        k = len(table.states[i])
        if size * k <= OUTCOME_LIMIT:
            kept.append(i)
            size *= k
    if not kept:
        return None
    given = np.ones((1, len(table.causes)))
    for i in kept:
        states = belief.predicted[:, table.columns(i)].T
        given = (given[:, None, :] * states[None, :, :]).reshape(-1, given.shape[1])
    return _Sheet(tuple(kept), tuple(product(*(range(len(table.states[i])) for i in kept))), given)


def _outcomes(table: Table, sheet: _Sheet, chance: Array, beliefs: Array) -> tuple[Outcome, ...]:
    top = beliefs.argmax(axis=1)
    return tuple(
        Outcome(
            tuple((table.indications[i], table.states[i][k]) for i, k in zip(sheet.tells, states, strict=True)),
            float(chance[o]),
            table.causes[top[o]],
            float(beliefs[o, top[o]]),
        )
        for o, states in sorted(enumerate(sheet.states), key=lambda pair: -chance[pair[0]])
    )


def _remedies(loss: Remedies, now: Array, situation: Situation) -> tuple[Choice, ...]:
    if not loss.rows:
        return ()
    p, minutes, block, setup, call = loss.arguments(now, situation)
    first, with_setup = cost.order(p, minutes, block, setup)
    ordered = first[0]
    spent = cost.sequence(p[:, ordered], with_setup[:, ordered], call)[0]
    tried = ordered[: int(spent.argmin())]
    cures = loss.table.cures
    return tuple(
        Choice("remedy", cures[loss.rows[m]].id, float(minutes[m]), float(with_setup[0, m] - minutes[m]), 0.0)
        for m in tried
    )
