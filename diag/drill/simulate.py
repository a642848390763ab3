"""How good the knowledge is: stops drawn from the machine's own weights, diagnosed by following the advice.

A hidden cause is drawn by its rate, the states of all indications by its signature; then some answers are lost and
some replaced by another state at random. Every check is allowed and remedies are left out, until no check is worth its
minutes against being wrong. A cause counts as found when it, its ambiguity group or a cause with the same remedy ranks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from diag.reason.advise import rank
from diag.reason.belief import Belief, believe
from diag.reason.compile import Array, Index, Table
from diag.reason.constants import WRONG_MINUTES
from diag.reason.draw import draw
from diag.reason.evidence import Evidence, Sight
from diag.reason.figures import reliability
from diag.reason.situation import Situation

MISSING = 0.025
"""Share of answers that nobody could tell."""
WRONG = 0.025
"""Share of answers replaced by another state."""
BINS = 15
"""Bins of equal count for the calibration of the top cause."""


Answers = list[int | None]
"""By indication: the state that is answered, or None where nobody could tell."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One simulated stop, diagnosed."""

    cause: str
    place: int
    """Where the true cause, or one of its group, came at the end; 1 is first. Groups count once."""
    top: str
    share: float
    """Probability of the top cause's group at the end."""
    asked: int
    minutes: float
    spoiled: int
    """Answers that were lost or wrong."""


@dataclass(frozen=True, slots=True)
class Score:
    stops: tuple[Stop, ...]

    def within(self, place: int) -> float:
        """Share of stops whose cause came at this place or before."""
        return sum(s.place <= place for s in self.stops) / len(self.stops)

    @property
    def calibration(self) -> float:
        """Expected calibration error of the top group's probability, over `BINS` bins of equal count."""
        said = np.minimum([s.share for s in self.stops], 1.0)  # a sum over causes may round up
        return reliability(said, [s.place == 1 for s in self.stops], BINS, "count").error

    @property
    def misses(self) -> tuple[tuple[str, str, int], ...]:
        """Cause and what was taken for it, with how often, most first."""
        counts = Counter((s.cause, s.top) for s in self.stops if s.place > 1)
        return tuple((true, taken, n) for (true, taken), n in counts.most_common())


@dataclass(frozen=True)
class Wrong:
    """The loss of being wrong: `WRONG_MINUTES` times the chance that two guesses by belief name different groups.

    It is 1 less the sum of squares over groups; unlike 1 less the largest share it falls with every bit of news, so
    that looking one step ahead does not stall."""

    table: Table

    def __call__(self, beliefs: Array, situations: object = None, which: object = None) -> Array:
        return np.asarray(WRONG_MINUTES * (1.0 - (by_group(self.table, beliefs) ** 2).sum(axis=1)))


def simulate(table: Table, n: int, seed: int = 0) -> Score:
    """`n` stops, drawn and diagnosed; the same seed gives the same stops."""
    return Score(tuple(diagnose(table, seed, k) for k in range(n)))


def diagnose(table: Table, seed: int, number: int) -> Stop:
    """One stop, by its number under the seed."""
    rng = np.random.default_rng((seed, number))
    prior = np.exp(table.log_prior[:-1])
    cause = int(rng.choice(len(prior), p=prior / prior.sum()))
    truth = draw(table, cause, rng)
    answers = told(table, truth, rng)
    belief, asked, minutes = follow(table, answers)
    shares = by_group(table, belief.posterior[None, :])[0]
    own = shares[table.group[cause]]
    top = int(belief.posterior.argmax())
    seen = {i for test in asked for i in table.tests[test].gives}
    spoiled = sum(answers[i] != int(truth[i]) for i in seen)
    place = 1 + int((shares > own).sum())
    share = float(shares.max())
    return Stop(table.causes[cause], place, table.causes[top], share, len(asked), minutes, spoiled)


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
