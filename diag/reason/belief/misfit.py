"""Surprise: whether any single cause explains the facts, and if none does, what would make them fit.

The facts are held against what one cause usually gives for the same indications: by how many bits they are less likely
under it than facts drawn from it are on average. The priors have no part in this, since what is rare but well explained
is not odd. Among the causes that the facts leave in play, the one that explains them best counts. Around 0 bits the
facts are as usual. Several bits mean that something was misread, that two causes stand, or that the cause is missing
from the file; a single fact that only a slip explains costs about seven.

What would make them fit is found by leaving out each fact in turn, and by pairs of causes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from diag.reason.belief.belief import Belief, believe, slipped, told_of
from diag.reason.belief.pairs import Pair, pair_up
from diag.reason.constants import AGAIN, CONTENDERS, EXPLAINS, HELPS, TYPICAL_DRAWS, UNEXPLAINED
from diag.reason.table.compile import HEALTHY, Array, Flags, Index, Table
from diag.reason.table.draw_stop import draws
from diag.reason.table.joint import Joint
from diag.reason.table.joint_rows import Possible, kinds, weigh


@dataclass(frozen=True, slots=True)
class Again:
    """A fact to look at again."""

    observation: int
    """Its number in the evidence."""
    bits: float
    """By how much the others are less odd without it."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """How odd the facts are for any single cause, and what would make them fit."""

    bits: float
    again: tuple[Again, ...] = ()
    """What helps most first; empty unless the facts are odd."""
    pair: Pair | None = None
    """The likeliest pair of causes; None unless the facts are odd or it was asked for."""
    two: float = 0.0
    """P(two causes | seen), where pairs were scored."""

    @property
    def unexplained(self) -> bool:
        """No single cause explains the facts."""
        return self.bits > UNEXPLAINED


@lru_cache(maxsize=64)
def misfit(belief: Belief, asked: bool = False) -> Misfit | None:
    """The misfit of the facts; what else would explain them too, where it is above `UNEXPLAINED` or where `asked`.

    None without facts."""
    if not belief.evidence.observed:
        return None
    plain = _plain(belief)
    bits = _bits(plain)
    again = _again(plain, bits) if bits > UNEXPLAINED else ()
    if bits <= UNEXPLAINED and not asked:
        return Misfit(bits)
    found = pair_up(belief)
    return Misfit(bits, again, next(iter(found.best(1)), None), found.share)


def _plain(belief: Belief) -> Belief:
    """The same with each observation scaled to 1 for the state that it fits best: doubt is no misfit."""
    observed = belief.evidence.observed
    most = [max(s.seen.values()) for s in observed]
    if all(m == 1.0 for m in most):
        return belief
    scaled = (replace(s, seen={k: p / m for k, p in s.seen.items()}) for s, m in zip(observed, most, strict=True))
    return believe(belief.table, replace(belief.evidence, observed=tuple(scaled)))


def _bits(belief: Belief) -> float:
    """By how many bits the facts are less likely than usual under the cause that explains them best, of the listed ones
    that hold at least `EXPLAINS` of what the likeliest holds."""
    listed = belief.posterior[:-1]
    left = np.flatnonzero(listed >= EXPLAINS * listed.max())
    tried = left[np.argsort(-belief.log_likelihood[left], kind="stable")[:CONTENDERS]]
    return min(float(_usual(belief, int(c)) - belief.log_likelihood[c]) for c in tried) / float(np.log(2.0))


def _again(belief: Belief, bits: float) -> tuple[Again, ...]:
    """The facts whose absence helps at least `HELPS` bits, most first. The few worth trying are those whose absence
    raises the likelihood of the best explanation most."""
    joint = belief.table.log_prior + belief.log_likelihood
    gain = [float((joint - given)[:-1].max() - joint[:-1].max()) for given in belief.by_observation]
    tried = sorted(range(len(gain)), key=lambda n: -gain[n])[:AGAIN]
    found, observed = [], belief.evidence.observed
    for n in tried:
        rest = replace(belief.evidence, observed=observed[:n] + observed[n + 1 :])
        found.append(Again(n, bits - (_bits(believe(belief.table, rest)) if rest.observed else 0.0)))
    return tuple(sorted((a for a in found if a.bits >= HELPS), key=lambda a: -a.bits))


def _usual(belief: Belief, c: int) -> float:
    """E[log P(facts of the same indications | cause)] over facts drawn from the cause itself."""
    table = belief.table
    if table.rest_probability[c] > 0:
        total = sum(_intermittent(table, c, told_of(table, seen)) for seen in belief.gathered.rounds)
    else:
        told = told_of(table, belief.gathered.lasting)
        total = _entropies(table)[c, told & ~table.joined].sum()
        total += _logs(table, c, c, told & table.joined).mean()
    for id in belief.evidence.failed:
        q = table.cured[table.remedy_index[id], c]
        total += q * np.log(q) + (1.0 - q) * np.log1p(-q) if 0.0 < q < 1.0 else 0.0
    return float(total)


def _intermittent(table: Table, c: int, told: Flags) -> float:
    """The same for one round of an intermittent cause, which shows itself or rests."""
    q = float(table.rest_probability[c])
    total = 0.0
    for of, share in ((c, 1.0 - q), (HEALTHY, q)):
        both = np.logaddexp(np.log1p(-q) + _logs(table, of, c, told), np.log(q) + _logs(table, of, HEALTHY, told))
        total += share * float(both.mean())
    return total


@lru_cache(maxsize=8)
def _entropies(table: Table) -> Array:
    """[C + 1, I]: the sum of p log p over the states of each indication."""
    return np.asarray(np.add.reduceat(table.p * np.log(np.maximum(table.p, 1e-300)), table.start[:-1], axis=1))


@lru_cache(maxsize=256)
def _drawn(table: Table, row: int) -> Index:
    """[draws, I]: what looks show under one row, drawn with a fixed seed, so that the figure is the same each time."""
    return draws(table, row, np.random.default_rng(0), TYPICAL_DRAWS)


def _logs(table: Table, of: int, row: int, told: Flags) -> Array:
    """[draws]: log P(states of those flagged in `told` [I], as drawn from the row `of` | row)."""
    return _kept_logs(table, of, row, tuple(np.flatnonzero(told).tolist()))


@lru_cache(maxsize=1024)
def _kept_logs(table: Table, of: int, row: int, told: tuple[int, ...]) -> Array:
    drawn = _drawn(table, of)
    total = np.zeros(len(drawn))
    mask = np.zeros(len(table.indications), dtype=bool)
    mask[list(told)] = True
    alone, parts = table.parted(mask)
    seen = np.ones((len(drawn), int(table.start[-1])))
    for i in told:
        seen[:, table.columns(i)] = np.arange(len(table.states[i])) == drawn[:, i, None]
    seen = np.array([slipped(table, s) for s in seen]) if mask[table.joined].any() else seen
    for part in parts:
        total += _linked(table, part, row, seen, mask)
    for i in alone:
        total += np.log(seen[:, table.columns(i)] @ table.p[row, table.columns(i)])
    return total


def _linked(table: Table, part: Joint, row: int, seen: Array, told: Flags) -> Array:
    """[draws]: the log likelihood of a connected part under one row, each draw with observations of its own."""
    spans = {i: table.columns(i) for i in part.members}
    alone = {i: table.p[row, s][None, :] for i, s in spans.items()}
    own = {i: np.broadcast_to(p, (len(seen), p.shape[1])) for i, p in alone.items()}
    possible = Possible.of(part, kinds(part, alone).cells)
    kind = np.zeros(len(seen), dtype=np.intp)
    return weigh(part, possible, kind, own, {i: seen[:, s] for i, s in spans.items()}, told).total
