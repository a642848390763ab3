"""The quick way to diagnose a simulated stop: the best check by belief alone, without a case.

Every check is allowed, nothing is locked out, and no remedy is tried; it ends when no check is worth its minutes
against being wrong. It takes a hundredth of the time of following the advice (`simulate`), for what needs many stops.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np

from diag.practice.score import Score, Stop, by_group, scored
from diag.reason.advice.one_step import rank
from diag.reason.belief.belief import Belief, believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.constants import WRONG_MINUTES
from diag.reason.table.compile import Array, Index, Table
from diag.reason.table.draw_stop import draw
from diag.reason.table.situation import Situation

MISSING = 0.025
"""Share of answers that nobody could tell."""
WRONG = 0.025
"""Share of answers replaced by another state."""
Done = Callable[[int], None]
"""Told how many stops more are done."""

Answers = list[int | None]
"""By indication: the state that is answered, or None where nobody could tell."""


def wrong(table: Table, beliefs: Array, situations: object = None, which: object = None) -> Array:
    """The loss of being wrong: `WRONG_MINUTES` times the chance that two guesses by belief name different groups.

    That chance is 1 less the sum of squares over groups. Unlike 1 less the largest share, it falls with every bit of
    news, so that looking one step ahead does not stall."""
    return np.asarray(WRONG_MINUTES * (1.0 - (by_group(table, beliefs) ** 2).sum(axis=1)))


def drawn(table: Table, n: int, seed: int, each: bool = False) -> Iterator[tuple[int, np.random.Generator]]:
    """`n` causes by their rates, or with `each` every listed one `n` times, rare ones as often as frequent ones. Each
    comes with what draws the rest of its stop; the same seed gives the same stops."""
    prior = np.exp(table.log_prior[:-1])
    if each:
        for cause, k in product(range(len(prior)), range(n)):
            yield cause, np.random.default_rng((seed, cause, k))
        return
    for k in range(n):
        rng = np.random.default_rng((seed, k))
        yield int(rng.choice(len(prior), p=prior / prior.sum())), rng


def simulate(table: Table, n: int, seed: int = 0, done: Done = lambda stops: None, each: bool = False) -> Score:
    """The stops that are `drawn`, diagnosed."""
    found = []
    for cause, rng in drawn(table, n, seed, each):
        found.append(diagnose(table, cause, rng))
        done(1)
    return Score(tuple(found))


def diagnose(table: Table, cause: int, rng: np.random.Generator) -> Stop:
    """One stop with the listed cause of that number: drawn, answered with some answers lost or wrong, and diagnosed."""
    truth = draw(table, cause, rng)
    answers = answered(table, truth, rng)
    belief, asked, minutes = follow(table, answers)
    seen = {i for test in asked for i in table.checks[test].gives}
    return scored(
        table,
        cause,
        belief.posterior,
        top=int(belief.posterior.argmax()),
        asked=len(asked),
        minutes=minutes,
        corrupted=sum(answers[i] != int(truth[i]) for i in seen),
    )


def follow(table: Table, answers: Answers) -> tuple[Belief, list[int], float]:
    """Follow the best check until none is worth its minutes: the belief then, the checks done, and their minutes."""
    walk = Walk(table, answers)
    while walk.step(belief := believe(table, Evidence(tuple(walk.observed)))):
        pass
    return belief, walk.asked, walk.minutes


class Walk:
    """One stop being diagnosed, check by check."""

    def __init__(self, table: Table, answers: Answers) -> None:
        self.answers = answers
        self.situation = Situation()
        self.observed: list[Observed] = []
        self.asked: list[int] = []
        self.minutes = 0.0
        self._number = {check.id: n for n, check in enumerate(table.checks)}

    def step(self, belief: Belief) -> bool:
        """Do the check that is worth most under this belief; False when none is worth its minutes."""
        table = belief.table
        loss = partial(wrong, table)
        best = next(iter(rank(belief, self.situation, loss, float(loss(belief.posterior[None, :])[0]))), None)
        if best is None:
            return False
        check = table.checks[self._number[best.id]]
        self.asked.append(self._number[best.id])
        self.minutes += best.minutes + best.setup
        for i in check.gives:
            answer = self.answers[i]
            if answer is not None:
                self.observed.append(Observed(table.indications[i], {table.states[i][answer]: 1.0}))
        excluded = self.situation.excluded | {best.id}
        self.situation = replace(self.situation.after(check.place), excluded=excluded)
        return True


def answered(table: Table, truth: Index, rng: np.random.Generator) -> Answers:
    """What is answered about each indication: some answers are lost, some are wrong."""
    return [_answer(rng, int(truth[i]), len(table.states[i])) for i in range(len(table.indications))]


def _answer(rng: np.random.Generator, true: int, k: int) -> int | None:
    """Nothing, another state, or the truth."""
    u = rng.random()
    if u < MISSING:
        return None
    if u < MISSING + WRONG and k > 1:
        return (true + 1 + int(rng.integers(k - 1))) % k
    return true
