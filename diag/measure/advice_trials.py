"""How far advice is from the best that could be done, on random models small enough to know that exactly.

Each model has causes, looks and remedies with unequal minutes, and a call; half of them have answers that are sure,
half do not. Every way of choosing is followed through all that can come about, so that its expected minutes are exact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from diag.machine.isolation import Minutes
from diag.machine.model import Access, Energy
from diag.measure import optimum
from diag.reason.advice.ahead_search import AheadSearch
from diag.reason.advice.decision_model import CALL, ActionRef, CheckOption, DecisionModel, RemedyOption
from diag.reason.advice.step import SearchNode
from diag.reason.constants import AHEAD_FEW, AHEAD_FIRST
from diag.reason.table.situation import Place, Situation

OUTSIDE = Place(Access.OUTSIDE, "", Energy.ON)

Choose = Callable[[AheadSearch, SearchNode], ActionRef]


@dataclass(frozen=True, slots=True)
class Trial:
    """One model: expected minutes at best, and by each way of choosing."""

    best: float
    by: dict[str, float]

    def above(self, way: str) -> float:
        """Share of the best by which a way is above it."""
        return self.by[way] / self.best - 1.0


def model(seed: int, *, sure: bool, setups: bool) -> DecisionModel:
    """A random model. With set-ups about half of all that is done needs one of one to three cabinets locked out."""
    rng = np.random.default_rng((seed, sure, setups))
    causes = int(rng.integers(8, 15 if setups else 17)) if sure else int(rng.integers(6, 17))
    checks = int(rng.integers(causes - 2, causes + 5)) if sure else int(rng.integers(4, 6 if setups else 7))
    remedies = int(rng.integers(causes // 2, causes + 1)) if sure else int(rng.integers(3, 5 if setups else 6))
    places = [OUTSIDE, *(Place(Access.DEAD, f"cabinet {z}", Energy.OFF) for z in range(int(rng.integers(1, 4))))]

    usual = float(np.exp(rng.uniform(np.log(4.0), np.log(30.0))))

    def place() -> Place:
        return places[int(rng.integers(1, len(places)))] if setups and rng.random() < 0.5 else OUTSIDE

    def check(t: int) -> CheckOption:
        outcomes = int(rng.choice([2, 2, 2, 3]))
        shows = rng.integers(outcomes, size=causes)
        given = (shows == np.arange(outcomes)[:, None]).astype(float)
        if not sure:
            slip = float(rng.uniform(0.01, 0.1))
            given = (1.0 - slip) * given + slip / outcomes
        return CheckOption(f"look {t}", given, _minutes(rng, 5.0), place())

    whose = (
        np.concatenate([np.arange(remedies), rng.integers(remedies, size=causes - remedies)])
        if remedies <= causes
        else None
    )
    assert whose is not None
    chance = 1.0 if sure else 0.95
    cures = (whose == np.arange(remedies)[:, None]) * chance
    return DecisionModel(
        belief=rng.dirichlet(np.ones(causes)),
        checks=tuple(check(t) for t in range(checks)),
        remedies=tuple(RemedyOption(f"remedy {m}", cures[m], _minutes(rng, usual), place()) for m in range(remedies)),
        situation=Situation(),
        times=Minutes(lock=float(rng.uniform(8, 20)), restore=float(rng.uniform(3, 8)), live=5.0, call=0.0),
        call=float(rng.uniform(60, 180)),
    )


def _minutes(rng: np.random.Generator, usual: float) -> float:
    return float(usual * np.exp(rng.normal(0.0, 0.8)))


def by_rollout(ahead: AheadSearch, node: SearchNode) -> ActionRef:
    """The first move that is cheapest when the one-step rule is followed after it."""
    return ahead.best(node, AHEAD_FIRST, 1).action


def by_programming(ahead: AheadSearch, node: SearchNode) -> ActionRef:
    """The first move that is cheapest when the best few are followed at each set of facts."""
    return ahead.best(node, AHEAD_FEW, AHEAD_FEW).action


def by_one_step(ahead: AheadSearch, node: SearchNode) -> ActionRef:
    return ahead.step(node).rule


def by_entropy(ahead: AheadSearch, node: SearchNode) -> ActionRef:
    """The look that tells the most bits a minute about the cause, as long as it saves anything; then remedies."""
    step = ahead.step(node)
    if step.telling is not None:
        after = ahead.follow(node, step.telling)
        if ahead.paid(node, step.telling) + sum(p * ahead.step(n).finish for p, n in after) < step.finish:
            return step.telling
    return step.treatment


WAYS: dict[str, Choose] = {
    "entropy a minute": by_entropy,
    "one step": by_one_step,
    "rollout": by_rollout,
    "dynamic programming": by_programming,
}


def expected(ahead: AheadSearch, choose: Choose, node: SearchNode | None = None) -> float:
    """Expected minutes to the end when every move is chosen so."""
    node = node if node is not None else ahead.start
    action = choose(ahead, node)
    total = ahead.paid(node, action)
    if action == CALL:
        return total
    return total + sum(p * expected(ahead, choose, after) for p, after in ahead.follow(node, action))


def trial(seed: int, *, sure: bool, setups: bool) -> Trial:
    found = model(seed, sure=sure, setups=setups)
    best = optimum.sure(found) if sure else optimum.unsure(found)
    ahead = AheadSearch(found, rare=1e-9)
    return Trial(best, {name: expected(ahead, choose) for name, choose in WAYS.items()})


def trials(count: int, *, setups: bool, first: int = 0) -> Iterator[Trial]:
    """So many models, sure and unsure by turns."""
    for n in range(count):
        yield trial(first + n, sure=n % 2 == 0, setups=setups)
