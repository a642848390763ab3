"""Belief over causes: Bayes' rule over the table, in logs, and what each observation says for and against a cause."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from diag.reason.belief.evidence import Evidence, Gathered, gather
from diag.reason.constants import FAINT, SLIP
from diag.reason.table.compile import HEALTHY, Array, Flags, Index, Table, slip
from diag.reason.table.moved import Foreseen, Moved, moved
from diag.reason.table.unlisted_mixture import unlisted_mixture

TIES = 12
"""Decimals of a probability that rank a cause: what rounding tells apart ties, and keeps the order of the file."""
TINY = 1e-300
"""Keeps an observation that a row all but rules out from dividing zero by zero."""


@dataclass(frozen=True, eq=False)
class Belief:
    """The posterior after some evidence, and what is needed to predict the next observation."""

    table: Table
    evidence: Evidence
    gathered: Gathered
    log_likelihood: Array
    """[C]: log P(all that was seen | cause)."""

    @cached_property
    def log_posterior(self) -> Array:
        """[C]."""
        joint = self.table.log_prior + self.log_likelihood
        return np.asarray(joint - np.logaddexp.reduce(joint))

    @cached_property
    def posterior(self) -> Array:
        """[C], summing to 1."""
        return np.exp(self.log_posterior)

    @cached_property
    def order(self) -> Index:
        """Causes best first. `unlisted` stands first only when it is the likeliest and at least two observations are
        likelier under it than under the best listed cause; a single odd observation leaves the listed ones in front."""
        order = np.argsort(-np.round(self.posterior, TIES), kind="stable")
        if len(order) > 1 and order[0] == len(order) - 1:
            unlisted, best = order[:2].tolist()
            if sum(w[unlisted] > w[best] for w in self.by_observation) < 2:
                order[:2] = best, unlisted
        return order

    @cached_property
    def by_observation(self) -> tuple[Array, ...]:
        """For each observation, [C]: log P(this observation | cause, the other observations)."""
        observed = self.evidence.observed
        once = Counter(s.indication for s in observed)
        found = []
        for n, observation in enumerate(observed):
            if once[observation.indication] == 1 and len(self.gathered.rounds) == 1:
                found.append(self._apart(self.table.index[observation.indication]))
            else:
                rest = replace(self.evidence, observed=observed[:n] + observed[n + 1 :])
                found.append(self.log_likelihood - _likelihood(self.table, rest, gather(self.table, rest)))
        return tuple(found)

    def _apart(self, i: int) -> Array:
        """One entry of `by_observation`, worked out directly: for an indication that was observed once, when all
        observations are of one round."""
        table, seen, mixture = self.table, self.gathered.lasting, unlisted_mixture(self.table)
        told, soft, span = told_of(table, seen), slipped(table, seen), table.columns(i)
        part = next((p for joint in table.joints for p in joint.parts_of(told) if i in p.members), None)
        if part is None:
            own = np.log(mixture.rows[:, span] @ soft[span])
        else:
            own = mixture.part(part).log_likelihood(soft, told)
            told[i] = False
            soft[span] = 1.0
            own = own - mixture.part(part).log_likelihood(soft, told)
        every, rest = mixture.collected(self._each), mixture.collected(self._each - own)
        return or_rests(table, every) - or_rests(table, rest)

    @cached_property
    def _each(self) -> Array:
        """[C + 1 + G]: of all observations, by row of `UnlistedMixture`, were each a lasting cause."""
        return _by_row(self.table, self.gathered.lasting)

    @cached_property
    def predicted(self) -> Array:
        """[C, S]: P(state | cause, all that was seen); each indication's columns sum to 1."""
        return self.foreseen.whole()[:HEALTHY]

    @cached_property
    def expected(self) -> Array:
        """[S]: P(state | all that was seen)."""
        return self.foreseen.expected(self.posterior)

    @cached_property
    def foreseen(self) -> Foreseen:
        """What would be seen next under each cause; an intermittent one shows itself now, or rests."""
        table, rounds = self.table, self.gathered.rounds
        entries = moved(table, len(rounds) > 1)
        lasting = foresee(entries, self.gathered.lasting, self._each)
        here = lasting if len(rounds) == 1 else foresee(entries, rounds[-1], _by_row(table, rounds[-1]))
        share, rests = self._shows[entries.row], here.healthy[entries.column]
        mixed = np.where(share < 1.0, rests + share * (here.entries - rests), lasting.entries)
        return Foreseen(entries, mixed, lasting.healthy)

    @cached_property
    def _shows(self) -> Array:
        """[C + 1]: P(it shows itself in this round | cause, all that was seen); 1 for a lasting cause."""
        table, rounds = self.table, self.gathered.rounds
        out = np.ones(len(table.p))
        at = np.flatnonzero(table.rest_probability > 0)
        if len(at):
            each = self._each if len(rounds) == 1 else _by_row(table, rounds[-1])
            ll = unlisted_mixture(table).collected(each)
            shows = np.log1p(-table.rest_probability[at]) + ll[at]
            out[at] = np.exp(shows - np.logaddexp(shows, np.log(table.rest_probability[at]) + ll[HEALTHY]))
        return out


def believe(table: Table, evidence: Evidence) -> Belief:
    """Belief after the evidence. Raises KeyError for an unknown name, ValueError for what no state could show."""
    gathered = gather(table, evidence)
    return Belief(table, evidence, gathered, _likelihood(table, evidence, gathered))


def weights(belief: Belief, cause: str) -> tuple[float, ...]:
    """What each observation says about one cause, in decibans; above 0 speaks for it.

    10 log10 of P(observation | cause, the others) over P(observation | not the cause, the others): Good, Probability
    and the Weighing of Evidence (1950); Jaynes, Probability Theory (2003), ch. 4. Raises KeyError for an unknown cause.
    """
    c = belief.table.cause_index[cause]
    found = []
    for given in belief.by_observation:
        rest = belief.table.log_prior + belief.log_likelihood - given
        rest[c] = -np.inf
        rest -= np.logaddexp.reduce(rest)
        found.append(float((given[c] - np.logaddexp.reduce(rest + given)) * 10.0 / np.log(10.0)))
    return tuple(found)


def log_likelihood(table: Table, seen: Array) -> Array:
    """log P(seen | row), shape [C + 1]: the observations of one moment; `seen` [S] holds P(seen | state)."""
    return unlisted_mixture(table).collected(_by_row(table, seen))


def _by_row(table: Table, seen: Array) -> Array:
    """[C + 1 + G]: the same by row of `UnlistedMixture`."""
    mixture = unlisted_mixture(table)
    told = told_of(table, seen)
    seen = slipped(table, seen)
    alone, parts = table.parted(told)
    total = np.zeros(len(mixture.rows))
    for part in parts:
        total += mixture.part(part).log_likelihood(seen, told)
    for i in alone:
        span = table.columns(i)
        total += np.log(mixture.rows[:, span] @ seen[span])
    return total


def foresee(entries: Moved, seen: Array, each: Array) -> Foreseen:
    """What each row would show next, were each a lasting cause; `each` is `_by_row` of what was seen.

    Looked at again, what was seen shows the same. Only the indications seen, and those that are linked with them, show
    anything else than before anything was seen."""
    table = entries.table
    told, soft = told_of(table, seen), slipped(table, seen)
    mixture, n = unlisted_mixture(table), len(table.p)
    logs = mixture.of_unlisted(each)
    share = np.exp(logs - np.logaddexp.reduce(logs))
    share = np.where(share > FAINT, share, 0.0)
    share /= share.sum()
    kept = np.flatnonzero(share)
    linked = {j: joint for j, joint in enumerate(table.joints) if told[list(joint.members)].any()}
    unseen = mixture.unseen(but=linked)
    unlisted = share[0] * unseen[n - 2] + share[1:] @ unseen[n:]
    rows = np.append(np.arange(n), mixture.at[kept])
    changed = {int(i): mixture.rows[rows, table.columns(int(i))] for i in table.free[told[table.free]]}
    for joint in linked.values():
        changed |= mixture.part(joint).posterior(soft, told, rows)
    for i, states in changed.items():
        span = table.columns(i)
        true = states / states.sum(axis=1, keepdims=True)
        if told[i]:
            true = true * seen[span] + (TINY * seen[span] if table.joined[i] else 0.0)
        elif table.joined[i]:
            true = slip(true)
        true /= true.sum(axis=1, keepdims=True)
        changed[i] = true[:n]
        unlisted[span] = share[kept] @ true[n:]
    found, healthy = unseen[entries.row, entries.column], unseen[n - 1].copy()
    for i, states in changed.items():
        found[entries.first[i] : entries.first[i + 1]] = states[entries.movers[i]].ravel()
        healthy[table.columns(i)] = states[HEALTHY]
    of_unlisted = entries.row == n - 2
    found[of_unlisted] = unlisted[entries.column[of_unlisted]]
    return Foreseen(entries, found, healthy)


def predict(table: Table, seen: Array) -> Array:
    """P(next observation | row, seen), shape [C + 1, S]; each indication's columns sum to 1."""
    return foresee(moved(table, False), seen, _by_row(table, seen)).whole()


def slipped(table: Table, seen: Array) -> Array:
    """P(seen | true state) with the slip in it, where the table holds true states: (1 - e) v + e mean(v)."""
    k = np.diff(table.start)
    mean = np.add.reduceat(seen, table.start[:-1]) / k
    return np.where(table.joined[table.owner], (1.0 - SLIP) * seen + SLIP * mean[table.owner], seen)


def told_of(table: Table, seen: Array) -> Flags:
    """[I]: of which indications something was seen."""
    return np.asarray(np.logical_or.reduceat(seen != 1.0, table.start[:-1]))


def or_rests(table: Table, each: Array) -> Array:
    """[C]: log P(seen in one round | cause), of that of each row [C + 1]: an intermittent cause shows itself, or rests
    and leaves the healthy machine to be seen."""
    out = each[:HEALTHY].copy()
    at = np.flatnonzero(table.rest_probability)
    rests = table.rest_probability[at]
    out[at] = np.logaddexp(np.log1p(-rests) + out[at], np.log(rests) + each[HEALTHY])
    return out


def _likelihood(table: Table, evidence: Evidence, gathered: Gathered) -> Array:
    lasting = log_likelihood(table, gathered.lasting)
    intermittent = table.rest_probability > 0
    if len(gathered.rounds) == 1 or not intermittent.any():
        total = or_rests(table, lasting)
    else:
        rounds = sum(or_rests(table, log_likelihood(table, seen)) for seen in gathered.rounds)
        total = np.where(intermittent, rounds, lasting[:HEALTHY])
    for id in evidence.failed:
        total = total + np.log1p(-table.cured[table.remedy_index[id]])
    return total
