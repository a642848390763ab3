"""How good the knowledge is: stops drawn from the machine's own weights, diagnosed by following the advice.

A hidden cause is drawn by its rate, the states of all indications by its signature; then some answers are lost and
some replaced by another state at random. Every check is allowed and remedies are left out, until no check is worth its
minutes against being wrong. A cause counts as found when it, its ambiguity group or a cause with the same remedy ranks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from diag.drill.score import HOLDS, Score, Stop
from diag.reason.advise import rank
from diag.reason.belief import Belief, believe
from diag.reason.compile import Array, Index, Table
from diag.reason.constants import WRONG_MINUTES
from diag.reason.draw import draw
from diag.reason.evidence import Evidence, Sight
from diag.reason.figures import brier, log_score
from diag.reason.situation import Situation

MISSING = 0.025
"""Share of answers that nobody could tell."""
WRONG = 0.025
"""Share of answers replaced by another state."""
Done = Callable[[int], None]
"""Told how many stops more are done."""

Answers = list[int | None]
"""By indication: the state that is answered, or None where nobody could tell."""


@dataclass(frozen=True)
class Wrong:
    """The loss of being wrong: `WRONG_MINUTES` times the chance that two guesses by belief name different groups.

    It is 1 less the sum of squares over groups; unlike 1 less the largest share it falls with every bit of news, so
    that looking one step ahead does not stall."""

    table: Table

    def __call__(self, beliefs: Array, situations: object = None, which: object = None) -> Array:
        return np.asarray(WRONG_MINUTES * (1.0 - (by_group(self.table, beliefs) ** 2).sum(axis=1)))


def simulate(table: Table, n: int, seed: int = 0, done: Done = lambda stops: None) -> Score:
    """`n` stops, causes by their rates, drawn and diagnosed; the same seed gives the same stops."""
    prior = np.exp(table.log_prior[:-1])
    prior /= prior.sum()
    found = []
    for k in range(n):
        rng = np.random.default_rng((seed, k))
        found.append(diagnose(table, int(rng.choice(len(prior), p=prior)), rng))
        done(1)
    return Score(tuple(found))


def simulate_each(table: Table, n: int, seed: int = 0, done: Done = lambda stops: None) -> Score:
    """`n` stops of every listed cause, rare ones as many as frequent ones; the same seed gives the same stops."""
    found = []
    for cause in range(len(table.causes) - 1):
        for k in range(n):
            found.append(diagnose(table, cause, np.random.default_rng((seed, cause, k))))
            done(1)
    return Score(tuple(found))


def diagnose(table: Table, cause: int, rng: np.random.Generator) -> Stop:
    """One stop with the listed cause of that number: drawn, told with some answers lost or wrong, and followed."""
    truth = draw(table, cause, rng)
    answers = told(table, truth, rng)
    belief, asked, minutes = follow(table, answers)
    groups = by_group(table, belief.posterior[None, :])
    shares, true = groups[0], [int(table.group[cause])]
    own = shares[true[0]]
    top = int(belief.posterior.argmax())
    seen = {i for test in asked for i in table.tests[test].gives}
    spoiled = sum(answers[i] != int(truth[i]) for i in seen)
    place = 1 + int((shares > own).sum())
    left = 1 + int((np.cumsum(-np.sort(-shares)) < HOLDS).sum())
    return Stop(
        cause=table.causes[cause],
        place=place,
        top=table.causes[top],
        share=float(shares.max()),
        asked=len(asked),
        minutes=minutes,
        spoiled=spoiled,
        left=left,
        brier=brier(groups, true),
        log=log_score(groups, true),
    )


def follow(table: Table, answers: Answers) -> tuple[Belief, list[int], float]:
    """Follow the best check until none is worth its minutes: the belief then, the checks done, and their minutes."""
    walk = Walk(table, answers)
    while walk.step(believe(table, Evidence(tuple(walk.sights)))):
        pass
    return believe(table, Evidence(tuple(walk.sights))), walk.asked, walk.minutes


class Walk:
    """One stop being diagnosed, check by check."""

    def __init__(self, table: Table, answers: Answers) -> None:
        self.answers = answers
        self.situation = Situation()
        self.sights: list[Sight] = []
        self.asked: list[int] = []
        self.minutes = 0.0
        self._number = {test.id: n for n, test in enumerate(table.tests)}

    def step(self, belief: Belief) -> bool:
        """Do the check that is worth most under this belief; False when none is worth its minutes."""
        table = belief.table
        loss = Wrong(table)
        left = float(loss(belief.posterior[None, :])[0])
        choices = rank(belief, self.situation, loss, left)
        if not choices:
            return False
        best = choices[0]
        test = table.tests[self._number[best.id]]
        self.asked.append(self._number[best.id])
        self.minutes += best.minutes + best.setup
        self.sights.extend(sights_of(table, test.gives, self.answers))
        after = self.situation.after(test.place)
        barred = self.situation.barred | {best.id}
        self.situation = Situation(None, after.energised, after.dead, after.live, barred)
        return True


def sights_of(table: Table, gives: tuple[int, ...], answers: Answers) -> Iterator[Sight]:
    for i in gives:
        answer = answers[i]
        if answer is not None:
            yield Sight(table.indications[i], {table.states[i][answer]: 1.0})


def told(table: Table, truth: Index, rng: np.random.Generator) -> Answers:
    """What is answered about each indication: some answers are lost, some are wrong."""
    return [_answer(rng, int(truth[i]), len(table.states[i])) for i in range(len(table.indications))]


def _answer(rng: np.random.Generator, true: int, k: int) -> int | None:
    """What is answered: nothing, another state, or the truth."""
    u = rng.random()
    if u < MISSING:
        return None
    if u < MISSING + WRONG and k > 1:
        return (true + 1 + int(rng.integers(k - 1))) % k
    return true


def by_group(table: Table, beliefs: Array) -> Array:
    """[N, groups]: belief summed over causes with the same remedy or the same signature."""
    out = np.zeros((beliefs.shape[0], int(table.group.max()) + 1))
    for c, g in enumerate(table.group):
        out[:, g] += beliefs[:, c]
    return out
