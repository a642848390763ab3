"""Surprise: does any single cause explain the facts, and if none does, what would make them fit.

For one cause, the facts are held against what it usually gives for the same indications: by how many bits they are less
likely under it than facts drawn from it are on average. The priors have no part in this: what is rare but well
explained is not odd. Of the causes that the facts leave in play the one that explains them best counts. Around 0 the
facts are as good as usual; several bits mean that something is misread, that two causes stand, or that the cause is
missing from the file. One fact that only a slip explains costs about seven bits.

What would make them fit is found by leaving each fact out in turn, and by pairs of causes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from diag.reason.belief import QUIET, Belief, believe, slipped, told_of
from diag.reason.compile import Array, Index, Table
from diag.reason.constants import AGAIN, CONTENDERS, EXPLAINS, HELPS, ODD, TYPICAL_DRAWS
from diag.reason.draw import draws
from diag.reason.evidence import Evidence
from diag.reason.joint import Joint
from diag.reason.pairs import Pair, Pairs, pair_up

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Again:
    """A fact to look at again."""

    sight: int
    """Its number in the evidence."""
    bits: float
    """How much less odd the others are without it."""


@dataclass(frozen=True, slots=True)
class Oddity:
    """How odd the facts are for any single cause, and what would make them fit."""

    bits: float
    again: tuple[Again, ...] = ()
    """What helps most first; empty unless the facts are odd."""
    pair: Pair | None = None
    """The likeliest pair of causes; None unless the facts are odd or it was asked for."""
    two: float = 0.0
    """P(two causes | seen), where pairs were scored."""

    @property
    def odd(self) -> bool:
        """No single cause explains the facts."""
        return self.bits > ODD


def surprise(belief: Belief) -> float | None:
    """Bits; None without facts."""
    if not belief.evidence.sights:
        return None
    return _bits(_plain(belief))


def oddity(belief: Belief, asked: bool = False) -> Oddity | None:
    """The surprise, and when it is above `ODD` or two causes are asked for, what else explains the facts; None without
    facts."""
    if not belief.evidence.sights:
        return None
    plain = _plain(belief)
    bits = _bits(plain)
    again = _again(plain, bits) if bits > ODD else ()
    if bits <= ODD and not asked:
        return Oddity(bits)
    found: Pairs = pair_up(belief)
    best = found.best(1)
    return Oddity(bits, again, best[0] if best else None, found.share)


def _plain(belief: Belief) -> Belief:
    """The same with each sight scaled to 1 for the state that it fits best: a doubtful sight is no oddity."""
    sights = belief.evidence.sights
    most = [max(s.seen.values()) for s in sights]
    if all(m == 1.0 for m in most):
        return belief
    scaled = (replace(s, seen={k: p / m for k, p in s.seen.items()}) for s, m in zip(sights, most, strict=True))
    return believe(belief.table, replace(belief.evidence, sights=tuple(scaled)))


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
    gain = [float((joint - given)[:-1].max() - joint[:-1].max()) for given in belief.by_sight]
    tried = sorted(range(len(gain)), key=lambda n: -gain[n])[:AGAIN]
    found = []
    for n in tried:
        sights = belief.evidence.sights
        rest = Evidence(sights[:n] + sights[n + 1 :], belief.evidence.cleared, belief.evidence.failed)
        left = _bits(believe(belief.table, rest)) if rest.sights else 0.0
        found.append(Again(n, bits - left))
    return tuple(sorted((a for a in found if a.bits >= HELPS), key=lambda a: -a.bits))


def _usual(belief: Belief, c: int) -> float:
    """E[log P(facts of the same indications | cause)] over facts drawn from the cause itself."""
    table = belief.table
    if table.quiet[c] > 0:
        total = sum(_coming(table, c, _key(told_of(table, seen))) for seen in belief.gathered.rounds)
    else:
        told = told_of(table, belief.gathered.lasting)
        total = _entropies(table)[c, told & ~table.joined].sum()
        total += _logs(table, c, c, _key(told & table.joined)).mean()
    for id in belief.evidence.failed:
        q = table.cured[[cure.id for cure in table.cures].index(id), c]
        total += q * np.log(q) + (1.0 - q) * np.log1p(-q) if 0.0 < q < 1.0 else 0.0
    return float(total)


def _coming(table: Table, c: int, told: tuple[int, ...]) -> float:
    """The same for one round of an intermittent cause, which shows itself or rests."""
    q = float(table.quiet[c])
    total = 0.0
    for of, share in ((c, 1.0 - q), (QUIET, q)):
        both = np.logaddexp(np.log1p(-q) + _logs(table, of, c, told), np.log(q) + _logs(table, of, QUIET, told))
        total += share * float(both.mean())
    return total


def _key(told: Flags) -> tuple[int, ...]:
    return tuple(np.flatnonzero(told).tolist())


@lru_cache(maxsize=8)
def _entropies(table: Table) -> Array:
    """[C + 1, I]: the sum of p log p over the states of each indication."""
    return np.asarray(np.add.reduceat(table.p * np.log(np.maximum(table.p, 1e-300)), table.start[:-1], axis=1))


@lru_cache(maxsize=256)
def _drawn(table: Table, row: int) -> Index:
    """[draws, I]: what looks show under one row, drawn with a fixed seed, so that the figure is the same each time."""
    rng = np.random.default_rng(0)
    return draws(table, row, rng, TYPICAL_DRAWS)


@lru_cache(maxsize=1024)
def _logs(table: Table, of: int, row: int, told: tuple[int, ...]) -> Array:
    """[draws]: log P(states of `told`, as drawn from the row `of` | row)."""
    drawn = _drawn(table, of)
    total = np.zeros(len(drawn))
    mask = np.zeros(len(table.indications), dtype=bool)
    mask[list(told)] = True
    alone = {int(i) for i in table.free if mask[i]}
    seen = np.ones((len(drawn), int(table.start[-1])))
    for i in told:
        seen[:, table.columns(i)] = np.arange(len(table.states[i])) == drawn[:, i, None]
    seen = np.array([slipped(table, s) for s in seen]) if mask[table.joined].any() else seen
    for joint in table.joints:
        parts = joint.parts_of(mask)
        alone |= {i for i in joint.members if mask[i]}.difference(*(part.members for part in parts))
        for part in parts:
            total += _linked(table, part, row, seen, mask)
    for i in alone:
        total += np.log(seen[:, table.columns(i)] @ table.p[row, table.columns(i)])
    return total


def _linked(table: Table, part: Joint, row: int, seen: Array, told: Flags) -> Array:
    """[draws]: the log likelihood of a connected part under one row, each draw with sights of its own."""
    spans = {i: table.columns(i) for i in part.members}
    alone = {i: table.p[row, s][None, :] for i, s in spans.items()}
    own = {i: np.broadcast_to(p, (len(seen), p.shape[1])) for i, p in alone.items()}
    possible = part.possible(part.kinds(alone).cells)
    kind = np.zeros(len(seen), dtype=np.intp)
    return part.summed(possible, kind, own, {i: seen[:, s] for i, s in spans.items()}, told)
