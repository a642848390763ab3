"""Belief over causes: Bayes' rule over the table, in logs, and what each sight says for and against a cause."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from diag.reason.compile import Array, Index, Table, slip
from diag.reason.constants import FAINT, SLIP
from diag.reason.evidence import Evidence, Gathered, gather
from diag.reason.guises import guises

TINY = 1e-300
"""Keeps a sight that a row all but rules out from dividing zero by zero."""
QUIET = -1
"""The row of the machine on which nothing shows."""


@dataclass(frozen=True)
class Belief:
    """The posterior after some evidence, and what is needed to predict the next sight."""

    table: Table
    evidence: Evidence
    gathered: Gathered
    log_likelihood: Array
    """[C]: log P(all that was seen | cause)."""

    @cached_property
    def log_posterior(self) -> Array:
        """[C]."""
        joint = self.table.log_prior + self.log_likelihood
        return joint - _logsumexp(joint)

    @cached_property
    def posterior(self) -> Array:
        """[C], summing to 1."""
        return np.exp(self.log_posterior)

    @cached_property
    def order(self) -> Index:
        """Causes best first. `unlisted` stands first when, and only when, it is the likeliest and at least two sights
        are likelier under it than under the best listed cause; a single odd sight leaves the listed ones in front."""
        order = np.argsort(-self.posterior, kind="stable")
        unlisted = len(order) - 1
        if order[0] == unlisted and len(order) > 1:
            best = int(order[1])
            odd = sum(w[unlisted] > w[best] for w in self.by_sight)
            if odd < 2:
                order[[0, 1]] = order[[1, 0]]
        return order

    @cached_property
    def by_sight(self) -> tuple[Array, ...]:
        """For each sight, [C]: log P(this sight | cause, the other sights)."""
        sights = self.evidence.sights
        once = Counter(s.indication for s in sights)
        found = []
        for n, sight in enumerate(sights):
            if once[sight.indication] == 1 and len(self.gathered.rounds) == 1:
                found.append(self._apart(self.table.index[sight.indication]))
            else:
                rest = replace(self.evidence, sights=sights[:n] + sights[n + 1 :])
                found.append(self.log_likelihood - _likelihood(self.table, rest, gather(self.table, rest)))
        return tuple(found)

    def _apart(self, i: int) -> Array:
        """The same for the one sight of an indication, all sights being of one round."""
        table, seen, guised = self.table, self.gathered.lasting, guises(self.table)
        told, soft, span = told_of(table, seen), slipped(table, seen), table.columns(i)
        part = next((p for joint in table.joints for p in joint.parts_of(told) if i in p.members), None)
        if part is None:
            own = np.log(guised.rows[:, span] @ soft[span])
        else:
            own = part.log_likelihood(soft, guised.rows, table.start, told)
            told[i] = False
            soft[span] = 1.0
            own = own - part.log_likelihood(soft, guised.rows, table.start, told)
        every, rest = guised.collected(self._each), guised.collected(self._each - own)
        given = (every - rest)[:-1]
        coming = table.quiet > 0
        if coming.any():
            chances = np.log1p(-table.quiet[coming]), np.log(table.quiet[coming])
            with_, without = (
                np.logaddexp(chances[0] + ll[:-1][coming], chances[1] + ll[QUIET]) for ll in (every, rest)
            )
            given[coming] = with_ - without
        return given

    @cached_property
    def _each(self) -> Array:
        """[C + 1 + G]: of all sights, by row of `Guises`, were each a lasting cause."""
        return _by_row(self.table, self.gathered.lasting)

    @cached_property
    def predicted(self) -> Array:
        """[C, S]: P(state | cause, all that was seen); each indication's columns sum to 1."""
        table = self.table
        now = self.gathered.rounds[-1]
        lasting = predict(table, self.gathered.lasting)
        coming = table.quiet > 0
        if not coming.any():
            return lasting[:-1]
        here = lasting if len(self.gathered.rounds) == 1 else predict(table, now)
        ll = log_likelihood(table, now)
        shows = np.log1p(-table.quiet[coming]) + ll[:-1][coming]
        rests = np.log(table.quiet[coming]) + ll[QUIET]
        share = np.exp(shows - np.logaddexp(shows, rests))[:, None]
        out = lasting[:-1].copy()
        out[coming] = share * here[:-1][coming] + (1.0 - share) * here[QUIET]
        return out


def believe(table: Table, evidence: Evidence) -> Belief:
    """Belief after the evidence. Raises KeyError on an unknown name and ValueError on a sight that no state gives."""
    gathered = gather(table, evidence)
    return Belief(table, evidence, gathered, _likelihood(table, evidence, gathered))


def weights(belief: Belief, cause: str) -> tuple[float, ...]:
    """What each sight says about one cause, in decibans; above 0 speaks for it.

    10 log10 of P(sight | cause, the other sights) over P(sight | not the cause, the other sights): Good, Probability
    and the Weighing of Evidence (1950); Jaynes, Probability Theory (2003), ch. 4. Raises KeyError on an unknown cause.
    """
    c = belief.table.cause_index[cause]
    found = []
    for given in belief.by_sight:
        rest = belief.table.log_prior + belief.log_likelihood - given
        rest[c] = -np.inf
        rest -= _logsumexp(rest)
        found.append(float(given[c] - _logsumexp(rest + given)) * 10.0 / float(np.log(10.0)))
    return tuple(found)


def log_likelihood(table: Table, seen: Array) -> Array:
    """log P(seen | row), shape [C + 1]: one vector of sights, all of one moment; `seen` [S] holds P(seen | state)."""
    return guises(table).collected(_by_row(table, seen))


def _by_row(table: Table, seen: Array) -> Array:
    """[C + 1 + G]: the same by row of `Guises`."""
    rows = guises(table).rows
    told = told_of(table, seen)
    seen = slipped(table, seen)
    total = np.zeros(len(rows))
    alone = list(table.free[told[table.free]])
    for joint in table.joints:
        parts = joint.parts_of(told)
        alone += {i for i in joint.members if told[i]}.difference(*(part.members for part in parts))
        for part in parts:
            total += part.log_likelihood(seen, rows, table.start, told)
    for i in alone:
        span = table.columns(int(i))
        total += np.log(rows[:, span] @ seen[span])
    return total


def predict(table: Table, seen: Array) -> Array:
    """P(next sight | row, seen), shape [C + 1, S]; each indication's columns sum to 1.

    Looked at again, what was seen shows the same."""
    told = told_of(table, seen)
    soft = slipped(table, seen)
    guised, n = guises(table), len(table.p)
    logs = guised.of_unlisted(_by_row(table, seen))
    share = np.exp(logs - _logsumexp(logs))
    kept = share > FAINT
    p = guised.rows[np.append(np.arange(n), guised.at[kept])]
    out = p * seen
    for joint in table.joints:
        for i, states in joint.posterior(soft, p, table.start, told).items():
            span = table.columns(i)
            true = states / states.sum(axis=1, keepdims=True)
            out[:, span] = true * seen[span] + TINY * seen[span] if told[i] else slip(true)
    sums = np.add.reduceat(out, table.start[:-1], axis=1)
    out /= sums[:, table.owner]
    out[guised.at[0]] = share[kept] / share[kept].sum() @ out[n:]
    return out[:n]


def slipped(table: Table, seen: Array) -> Array:
    """P(seen | true state) with the slip in it, where the table holds true states: (1 - e) v + e mean(v)."""
    k = np.diff(table.start)
    mean = np.add.reduceat(seen, table.start[:-1]) / k
    return np.where(table.joined[table.owner], (1.0 - SLIP) * seen + SLIP * mean[table.owner], seen)


def told_of(table: Table, seen: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """[I]: of which indications something was seen."""
    return np.logical_or.reduceat(seen != 1.0, table.start[:-1])


def _likelihood(table: Table, evidence: Evidence, gathered: Gathered) -> Array:
    lasting = log_likelihood(table, gathered.lasting)
    total = lasting[:-1]
    coming = table.quiet > 0
    if coming.any():
        total = total.copy()
        total[coming] = 0.0
        for seen in gathered.rounds:
            ll = lasting if len(gathered.rounds) == 1 else log_likelihood(table, seen)
            total[coming] += np.logaddexp(
                np.log1p(-table.quiet[coming]) + ll[:-1][coming], np.log(table.quiet[coming]) + ll[QUIET]
            )
    for id in evidence.failed:
        total = total + np.log1p(-table.cured[_cure(table, id)])
    return total


def _cure(table: Table, id: str) -> int:
    for m, cure in enumerate(table.cures):
        if cure.id == id:
            return m
    raise KeyError(id)


def _logsumexp(a: Array) -> float:
    top = a.max()
    return float(np.log(np.exp(a - top).sum()) + top)
