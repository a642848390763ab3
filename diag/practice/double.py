"""How well two causes at once are found.

Two causes are drawn by the product of their rates, and what they show by the rule of `reason.belief.pairs`. The stop is
first diagnosed as one with a single cause, until no check is worth its minutes. Then two causes are asked for, as by a
person whose machine still stands: the likeliest pairs are weighed against one another, check by check, until again none
is worth its minutes. A cause counts as named when it, one of its ambiguity group or one with the same remedy is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diag.practice.quick import Done, Walk, answered
from diag.reason.belief.belief import Belief, believe
from diag.reason.belief.evidence import Evidence
from diag.reason.belief.misfit import misfit
from diag.reason.belief.pairs import Pairs, pair_up, widened
from diag.reason.table.compile import Index, Table
from diag.reason.table.draw_stop import draw

WEIGHED = 60
"""The likeliest pairs, between which the checks are to decide."""
EXCLUDED = -1e6
"""The log likelihood of `unlisted` where only pairs are weighed."""


@dataclass(frozen=True, slots=True)
class Double:
    """One stop with two causes."""

    causes: tuple[str, str]
    named: bool
    """Both among the causes of the first two pairs."""
    place: int
    """Where the pair itself came; 1 is first, pairs of the same groups count once; 0 when it is not among them."""
    odd: bool
    """Whether the facts were odd for any single cause before two were asked for."""
    single: bool
    """Whether one of the two came first as a single cause."""
    asked: int
    minutes: float


@dataclass(frozen=True, slots=True)
class Doubles:
    stops: tuple[Double, ...]

    @property
    def named(self) -> float:
        return sum(s.named for s in self.stops) / len(self.stops)

    def within(self, place: int) -> float:
        """Share of stops whose pair came at this place or before."""
        return sum(0 < s.place <= place for s in self.stops) / len(self.stops)


def simulate(table: Table, n: int, seed: int = 0, done: Done = lambda stops: None) -> Doubles:
    """`n` stops; the same seed gives the same stops."""
    found = []
    for k in range(n if len(table.causes) > 2 else 0):
        found.append(diagnose(table, seed, k))
        done(1)
    return Doubles(tuple(found))


def diagnose(table: Table, seed: int, number: int) -> Double:
    """One stop, by its number under the seed."""
    rng = np.random.default_rng((seed, number))
    prior = np.exp(table.log_prior[:-1])
    a, b = (int(c) for c in rng.choice(len(prior), size=2, replace=False, p=prior / prior.sum()))
    truth = draw(widened(table, [a], [b]), len(table.causes) - 1, rng)
    walk = Walk(table, answered(table, truth, rng))
    belief = believe(table, Evidence())
    while walk.step(belief):
        belief = believe(table, Evidence(tuple(walk.observed)))
    found = misfit(belief)
    groups = {int(table.group[a]), int(table.group[b])}
    single = int(table.group[belief.posterior[:-1].argmax()]) in groups
    pairs = pair_up(belief)
    while walk.step(among(belief, pairs)):
        belief = believe(table, Evidence(tuple(walk.observed)))
        pairs = pair_up(belief)
    ranked = _ranked(table, pairs)
    named = groups <= {g for pair in ranked[:2] for g in pair}
    own = (min(groups), max(groups))
    place = ranked.index(own) + 1 if own in ranked else 0
    odd = found is not None and found.unexplained
    return Double((table.causes[a], table.causes[b]), named, place, odd, single, len(walk.asked), walk.minutes)


def among(belief: Belief, pairs: Pairs) -> Belief:
    """The belief over the likeliest pairs alone, each as one cause of a table of its own."""
    table = belief.table
    best = pairs.order[:WEIGHED]
    wide = widened(table, pairs.first[best], pairs.second[best])
    listed = len(table.causes) - 1
    alone = wide.of_causes(np.arange(len(wide.causes)) >= listed)
    likelihood = np.append(pairs.log_likelihood[best], pairs.log_likelihood.max() + EXCLUDED)
    return Belief(alone, belief.evidence, belief.gathered, likelihood)


def _ranked(table: Table, pairs: Pairs) -> list[tuple[int, int]]:
    """Pairs of groups, best first: the belief in pairs of the same groups is summed."""
    one: Index = table.group[pairs.first]
    other: Index = table.group[pairs.second]
    n = int(table.group.max()) + 1
    key, of = np.unique(np.minimum(one, other) * n + np.maximum(one, other), return_inverse=True)
    share = np.bincount(of, weights=pairs.posterior)
    return [(int(key[k]) // n, int(key[k]) % n) for k in np.argsort(-share, kind="stable")]
