"""Two causes at once.

What two causes show together. Each row of the table splits, for each indication, into a chance that the cause leaves
the indication alone (it then shows what it shows without a fault: its normal state, or a question's usual mix) and what
the cause makes it show otherwise. Two causes act on an indication independently of one another, each with its own
chance:

* neither acts: it shows what it shows without a fault;
* one acts: it shows what that one makes it show;
* both act: either of the two, alike.

So where only one of the two deviates its row holds, and where both do on an indication of two states the rule is the
noisy-OR (Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, 4.3.2). This holds for true states, before
`follows`: what follows something shows what that rule says, whatever either cause would do to it. A lamp that one cause
holds lit is dark when the other takes its supply away. The slip of each sight comes last, as for one cause.

An intermittent cause shows itself or nothing, anew in each round; a pair with one in it is weighed round by round. A
remedy that did not cure speaks against a pair only as far as it would have cured both.

The prior of a pair is the product of the two causes' own, scaled so that all pairs together hold `TWO_CAUSES`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from diag.reason.belief import QUIET, Belief, log_likelihood, slipped, told_of
from diag.reason.compile import Array, Index, Table, unslip
from diag.reason.constants import PAIRED_WITH, SLIP, TWO_CAUSES
from diag.reason.joint import Joint

Flags = npt.NDArray[np.bool_]

SAME = 1e-9
"""A chance to act below this is rounding."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two causes, the likelier by itself first, with their probability among single causes and pairs."""

    causes: tuple[str, str]
    probability: float


@dataclass(frozen=True)
class Pairs:
    """The belief over single causes and K pairs of them."""

    table: Table
    first: Index
    second: Index
    """[K] each: rows of the table."""
    log_prior: Array
    log_likelihood: Array
    """[K] each."""
    log_singles: Array
    """[C]: log prior times likelihood of the single causes, `unlisted` among them, less the share of pairs."""

    @cached_property
    def posterior(self) -> Array:
        """[K]: P(both, and no other | seen), among single causes and these pairs."""
        return np.exp(self.log_prior + self.log_likelihood - self._log_total)

    @cached_property
    def singles(self) -> Array:
        """[C]: P(this one alone | seen). With `posterior` it sums to 1."""
        return np.exp(self.log_singles - self._log_total)

    @cached_property
    def share(self) -> float:
        """P(two causes | seen)."""
        return float(self.posterior.sum())

    @cached_property
    def order(self) -> Index:
        """Pairs best first."""
        return np.argsort(-self.posterior, kind="stable")

    def best(self, n: int) -> tuple[Pair, ...]:
        """The first `n` pairs."""
        found = []
        for k in self.order[:n]:
            a, b = int(self.first[k]), int(self.second[k])
            if self.log_singles[a] < self.log_singles[b]:
                a, b = b, a
            found.append(Pair((self.table.causes[a], self.table.causes[b]), float(self.posterior[k])))
        return tuple(found)

    @cached_property
    def _log_total(self) -> float:
        joint = self.log_prior + self.log_likelihood
        both = np.logaddexp.reduce(joint) if len(joint) else -np.inf
        return float(np.logaddexp(np.logaddexp.reduce(self.log_singles), both))


def pair_up(belief: Belief, wide: int | None = PAIRED_WITH) -> Pairs:
    """Pairs in which at least one is among the `wide` best single causes; None: all pairs of listed causes."""
    table = belief.table
    listed = len(table.causes) - 1
    best = np.argsort(-belief.posterior[:listed], kind="stable")[:wide]
    first, second = _once(best, listed)
    likely = _Likelihood(table)
    total = likely.of(belief.gathered.lasting, first, second)
    coming = (table.quiet[first] > 0) | (table.quiet[second] > 0)
    if coming.any():
        total[coming] = _by_rounds(likely, belief.gathered.rounds, first[coming], second[coming])
    for id in belief.evidence.failed:
        cured = table.cured[[cure.id for cure in table.cures].index(id)]
        total += np.log1p(-cured[first] * cured[second])
    return Pairs(
        table,
        first,
        second,
        log_prior(table, first, second),
        total,
        np.log1p(-TWO_CAUSES) + table.log_prior + belief.log_likelihood,
    )


def log_prior(table: Table, first: Index, second: Index) -> Array:
    """[K]: log P(these two, and no other, stand in a stop)."""
    log_p = table.log_prior[:-1] - np.logaddexp.reduce(table.log_prior[:-1])
    every = (1.0 - np.exp(2.0 * log_p).sum()) / 2.0
    scale = np.log(TWO_CAUSES) - np.log(every) if every > 0.0 else -np.inf
    return np.asarray(log_p[first] + log_p[second] + scale)


def rows(table: Table, first: Sequence[int] | Index, second: Sequence[int] | Index) -> Array:
    """[K, S]: what pairs of causes show together, as rows of `table.p`."""
    parts = split(table)
    a, b = np.asarray(first, dtype=np.intp), np.asarray(second, dtype=np.intp)
    p = _together(parts, table.owner, slice(None), a, b)
    k = np.diff(table.start)[table.owner]
    return np.where(table.joined[table.owner], p, (1.0 - SLIP) * p + SLIP / k)


def widened(table: Table, first: Sequence[int] | Index, second: Sequence[int] | Index) -> Table:
    """The table with pairs as further causes, after the listed ones and before `unlisted`.

    A pair is named `a + b` and taken to last; its prior is the pair's, and the single ones give up that share."""
    a, b = np.asarray(first, dtype=np.intp), np.asarray(second, dtype=np.intp)
    listed = len(table.causes) - 1
    names = tuple(f"{table.causes[x]} + {table.causes[y]}" for x, y in zip(a, b, strict=True))
    prior = np.concatenate([table.log_prior[:listed], log_prior(table, a, b), table.log_prior[listed:]])
    low, high = np.minimum(table.group[a], table.group[b]), np.maximum(table.group[a], table.group[b])
    n = int(table.group.max()) + 1
    group = np.concatenate([table.group[:listed], n + low * n + high, table.group[listed:]])
    cured = table.cured[:, a] * table.cured[:, b]
    return replace(
        table,
        causes=(*table.causes[:listed], *names, *table.causes[listed:]),
        log_prior=prior - np.logaddexp.reduce(prior),
        p=np.concatenate([table.p[:listed], rows(table, a, b), table.p[listed:]]),
        quiet=np.concatenate([table.quiet[:listed], np.zeros(len(a)), table.quiet[listed:]]),
        cured=np.concatenate([table.cured[:, :listed], cured, table.cured[:, listed:]], axis=1),
        group=np.unique(group, return_inverse=True)[1].astype(np.intp),
    )


@dataclass(frozen=True)
class Split:
    """The rows of the listed causes, before the slip: alone * base + acts."""

    base: Array
    """[S]: what shows without a fault."""
    alone: Array
    """[C, I]: chance that the cause leaves the indication alone."""
    acts: Array
    """[C, S]: what it makes the indication show otherwise; sums to 1 - alone."""
    touches: Flags
    """[C, I]."""


@lru_cache(maxsize=8)
def split(table: Table) -> Split:
    """The rows of the table as chances to act. A row holds as much of what shows without a fault as fits into it."""
    true = table.p.copy()
    for i in np.flatnonzero(~table.joined):
        true[:, table.columns(int(i))] = unslip(true[:, table.columns(int(i))])
    base = true[QUIET]
    listed = true[: len(table.causes) - 1]
    ratio = np.divide(listed, base, out=np.full_like(listed, np.inf), where=base > 0)
    alone = np.minimum(np.minimum.reduceat(ratio, table.start[:-1], axis=1), 1.0)
    alone[alone > 1.0 - SAME] = 1.0
    acts = np.clip(listed - alone[:, table.owner] * base, 0.0, None)
    acts[(alone == 1.0)[:, table.owner]] = 0.0
    return Split(base, alone, acts, alone < 1.0)


def _together(parts: Split, owner: Index, columns: Index | slice, a: Index, b: Index) -> Array:
    """[K, columns]: the rule of this module, before the slip, for some columns with the indications that own them."""
    alone, acts = parts.alone[:, owner], parts.acts[:, columns]
    own, other = alone[a], alone[b]
    acted = (1.0 + other) / 2.0 * acts[a] + (1.0 + own) / 2.0 * acts[b]
    return np.asarray(own * other * parts.base[columns] + acted)


def _once(best: Index, listed: int) -> tuple[Index, Index]:
    """Each pair with one of `best` in it, once."""
    place = np.full(listed, len(best), dtype=np.intp)
    place[best] = np.arange(len(best))
    a, b = np.meshgrid(best, np.arange(listed, dtype=np.intp), indexing="ij")
    keep = (a != b) & ((place[b] == len(best)) | (place[b] > place[a]))
    return a[keep], b[keep]


class _Likelihood:
    """log P(seen | pair) for one vector of sights after another."""

    def __init__(self, table: Table) -> None:
        self.table, self.split = table, split(table)

    def of(self, seen: Array, a: Index, b: Index) -> Array:
        """[K]."""
        table = self.table
        told = told_of(table, seen)
        total = np.zeros(len(a))
        alone = list(table.free[told[table.free]])
        softened = slipped(table, seen)
        for joint in table.joints:
            here = frozenset(i for i in joint.members if told[i])
            parts = joint.part(here) if here else ()
            alone += here.difference(*(part.members for part in parts))
            for part in parts:
                total += self._linked(part, softened, told, a, b)
        for i in alone:
            total += np.log(self._single(int(i), softened, a, b))
        return total

    def _single(self, i: int, seen: Array, a: Index, b: Index) -> Array:
        """P(what was seen of an indication with no link | pair), [K]: the rule is bilinear, so nothing of S is made."""
        table, parts = self.table, self.split
        span = table.columns(i)
        v = seen[span]
        if not table.joined[i]:
            v = (1.0 - SLIP) * v + SLIP * v.mean()
        alone, acts = parts.alone[:, i], parts.acts[:, span] @ v
        half = (1.0 + alone) / 2.0
        base = float(parts.base[span] @ v)
        return np.asarray(alone[a] * alone[b] * base + half[b] * acts[a] + half[a] * acts[b])

    def _linked(self, part: Joint, seen: Array, told: Flags, a: Index, b: Index) -> Array:
        """The same for a connected part. A cause that touches none of it leaves the other's likelihood as it is; only
        where both touch it the joint states are summed over for the pair."""
        table, members = self.table, list(part.members)
        touches = np.logical_or.reduce(self.split.touches[:, members], axis=1)
        single = part.log_likelihood(seen, table.p, table.start, told)
        total = np.where(touches[a], single[a], single[b])
        both = np.flatnonzero(touches[a] & touches[b])
        if len(both):
            total[both] = self._summed(part, seen, told, a[both], b[both])
        return np.asarray(total)

    def _summed(self, part: Joint, seen: Array, told: Flags, a: Index, b: Index) -> Array:
        """log P(what was seen of the part | pair), [K]: what either of the two leaves possible, or both do."""
        table, parts = self.table, self.split
        spans = {i: table.columns(i) for i in part.members}
        kinds = part.kinds({i: parts.alone[:, i, None] * parts.base[s] + parts.acts[:, s] for i, s in spans.items()})
        n = len(kinds.cells)
        both, pair = np.unique(kinds.of[a] * n + kinds.of[b], return_inverse=True)
        possible = part.possible(kinds.cells[both // n] | kinds.cells[both % n])
        own = {
            i: _together(parts, table.owner[s], s, a, b) for i, s in spans.items() if told[i] or part.members[i].drives
        }
        return part.summed(possible, pair, own, {i: seen[s] for i, s in spans.items()}, told)


def _by_rounds(likely: _Likelihood, rounds: Sequence[Array], a: Index, b: Index) -> Array:
    """[K]: each round anew, whether an intermittent one of the two shows itself."""
    table = likely.table
    qa, qb = table.quiet[a], table.quiet[b]
    total = np.zeros(len(a))
    with np.errstate(divide="ignore"):  # a lasting one never rests
        chances = np.log([(1 - qa) * (1 - qb), (1 - qa) * qb, qa * (1 - qb), qa * qb])
    for seen in rounds:
        single = log_likelihood(table, seen)
        logs = [likely.of(seen, a, b), single[a], single[b], np.full(len(a), single[QUIET])]
        total += np.logaddexp.reduce(chances + np.array(logs), axis=0)
    return total
