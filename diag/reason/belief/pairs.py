"""Two causes at once.

For each indication, each row of the table splits into the chance that the cause leaves the indication alone, which then
shows what it shows without a fault (its normal state, or a question's usual mix), and what the cause makes it show
otherwise. Two causes act on an indication independently of one another, each with its own chance:

* where neither acts, it shows what it shows without a fault;
* where one acts, it shows what that one makes it show;
* where both act, it shows what the one or the other makes it show, with equal chances.

So where only one of the two deviates, its row holds; where both do, on an indication of two states, this is the
noisy-OR (Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, 4.3.2). The rule is about true states and comes
before `follows`: what follows something shows what that rule says, whatever either cause would do to it. A lamp that
one cause holds lit is dark when the other takes its supply away. The slip of each observation comes last, as it does
for one cause.

An intermittent cause shows itself or nothing, anew in each round, so a pair that holds one is weighed round by round. A
remedy that did not cure speaks against a pair only as far as it would have cured both.

The prior of a pair is the product of the two causes' own, scaled so that all pairs together hold `TWO_CAUSES`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from diag.reason.belief.belief import Belief, log_likelihood, slipped, told_of
from diag.reason.constants import PAIRED_WITH, SLIP, TWO_CAUSES
from diag.reason.table.compile import HEALTHY, Array, Flags, Index, Table, unslip
from diag.reason.table.joint import Joint
from diag.reason.table.joint_rows import Possible, kinds, weigh
from diag.reason.table.unlisted_mixture import unlisted_mixture

SAME = 1e-9
"""A chance to act below this is rounding."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two causes, the one that is likelier by itself first, with their probability among single causes and pairs."""

    causes: tuple[str, str]
    probability: float


@dataclass(frozen=True)
class Pairs:
    """The belief in single causes and in K pairs of them."""

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
            a, b = sorted((self.first[k], self.second[k]), key=lambda c: -self.log_singles[c])
            found.append(Pair((self.table.causes[a], self.table.causes[b]), float(self.posterior[k])))
        return tuple(found)

    @cached_property
    def _log_total(self) -> float:
        return float(np.logaddexp.reduce(np.append(self.log_singles, self.log_prior + self.log_likelihood)))


def pair_up(belief: Belief, wide: int | None = PAIRED_WITH) -> Pairs:
    """The pairs that hold at least one of the `wide` best single causes; None for all pairs of listed causes."""
    table = belief.table
    listed = len(table.causes) - 1
    best = np.argsort(-belief.posterior[:listed], kind="stable")[:wide]
    first, second = _once(best, listed)
    total = _log_likelihood(table, belief.gathered.lasting, first, second)
    intermittent = (table.rest_probability[first] > 0) | (table.rest_probability[second] > 0)
    if intermittent.any():
        total[intermittent] = _by_rounds(table, belief.gathered.rounds, first[intermittent], second[intermittent])
    for id in belief.evidence.failed:
        cured = table.cured[table.remedy_index[id]]
        total += np.log1p(-cured[first] * cured[second])
    singles = np.log1p(-TWO_CAUSES) + table.log_prior + belief.log_likelihood
    return Pairs(table, first, second, log_prior(table, first, second), total, singles)


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
    return np.where(table.joined[table.owner], p, (1.0 - SLIP) * p + SLIP / np.diff(table.start)[table.owner])


def widened(table: Table, first: Sequence[int] | Index, second: Sequence[int] | Index) -> Table:
    """The table with pairs as further causes, after the listed ones and before `unlisted`.

    A pair is named `a + b` and is taken to last. It has the prior of the pair, and the single causes give up that
    share."""
    a, b = np.asarray(first, dtype=np.intp), np.asarray(second, dtype=np.intp)
    listed = len(table.causes) - 1
    names = tuple(f"{table.causes[x]} + {table.causes[y]}" for x, y in zip(a, b, strict=True))
    low, high = np.minimum(table.group[a], table.group[b]), np.maximum(table.group[a], table.group[b])
    n = int(table.group.max()) + 1

    def inserted(single: Array, pair: Array, axis: int = 0) -> Array:
        return np.insert(single, [listed] * len(a), pair, axis)

    prior = inserted(table.log_prior, log_prior(table, a, b))
    return replace(
        table,
        causes=(*table.causes[:listed], *names, *table.causes[listed:]),
        log_prior=prior - np.logaddexp.reduce(prior),
        p=inserted(table.p, rows(table, a, b)),
        rest_probability=inserted(table.rest_probability, np.zeros(len(a))),
        cured=inserted(table.cured, table.cured[:, a] * table.cured[:, b], axis=1),
        group=np.unique(np.insert(table.group, listed, n + low * n + high), return_inverse=True)[1].astype(np.intp),
    )


@dataclass(frozen=True)
class Split:
    """The rows of the listed causes before the slip, which are alone * base + acts."""

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
    """The rows of the table as chances to act. Each holds as much of what shows without a fault as fits into it."""
    true = table.p.copy()
    for i in np.flatnonzero(~table.joined):
        true[:, table.columns(int(i))] = unslip(true[:, table.columns(int(i))])
    base = true[HEALTHY]
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


def _log_likelihood(table: Table, seen: Array, a: Index, b: Index) -> Array:
    """[K]: log P(seen in one moment | pair), were both causes lasting; `seen` [S] holds P(seen | state)."""
    told, softened = told_of(table, seen), slipped(table, seen)
    alone, parts = table.parted(told)
    total = np.zeros(len(a))
    for part in parts:
        total += _linked(table, part, softened, told, a, b)
    for i in alone:
        total += np.log(_single(table, i, softened, a, b))
    return total


def _single(table: Table, i: int, seen: Array, a: Index, b: Index) -> Array:
    """P(what was seen of an indication with no link | pair), [K]: the rule is bilinear, so nothing of S is made."""
    parts, span = split(table), table.columns(i)
    v = seen[span]
    if not table.joined[i]:
        v = (1.0 - SLIP) * v + SLIP * v.mean()
    alone, acts = parts.alone[:, i], parts.acts[:, span] @ v
    half = (1.0 + alone) / 2.0
    base = float(parts.base[span] @ v)
    return np.asarray(alone[a] * alone[b] * base + half[b] * acts[a] + half[a] * acts[b])


def _linked(table: Table, part: Joint, seen: Array, told: Flags, a: Index, b: Index) -> Array:
    """The same for a connected part, in logs. A cause that touches none of it leaves the other's likelihood as it is;
    only where both touch it are the joint states summed over for the pair."""
    touches = np.logical_or.reduce(split(table).touches[:, list(part.members)], axis=1)
    single = unlisted_mixture(table).part(part).log_likelihood(seen, told)
    total = np.where(touches[a], single[a], single[b])
    both = np.flatnonzero(touches[a] & touches[b])
    if len(both):
        total[both] = _summed(table, part, seen, told, a[both], b[both])
    return np.asarray(total)


def _summed(table: Table, part: Joint, seen: Array, told: Flags, a: Index, b: Index) -> Array:
    """log P(what was seen of the part | pair), [K], over what either of the two leaves possible, or both do."""
    parts, spans = split(table), {i: table.columns(i) for i in part.members}
    each = kinds(part, {i: parts.alone[:, i, None] * parts.base[s] + parts.acts[:, s] for i, s in spans.items()})
    n = len(each.cells)
    both, pair = np.unique(each.of[a] * n + each.of[b], return_inverse=True)
    possible = Possible.of(part, each.cells[both // n] | each.cells[both % n])
    own = {i: _together(parts, table.owner[s], s, a, b) for i, s in spans.items() if told[i] or part.members[i].drives}
    return weigh(part, possible, pair, own, {i: seen[s] for i, s in spans.items()}, told).total


def _by_rounds(table: Table, rounds: Sequence[Array], a: Index, b: Index) -> Array:
    """[K]: log P(seen in all rounds | pair), where in each round anew an intermittent one of the two shows itself or
    not."""
    qa, qb = table.rest_probability[a], table.rest_probability[b]
    total = np.zeros(len(a))
    with np.errstate(divide="ignore"):  # a lasting one never rests
        chances = np.log([(1 - qa) * (1 - qb), (1 - qa) * qb, qa * (1 - qb), qa * qb])
    for seen in rounds:
        single = log_likelihood(table, seen)
        logs = [_log_likelihood(table, seen, a, b), single[a], single[b], np.full(len(a), single[HEALTHY])]
        total += np.logaddexp.reduce(chances + np.array(logs), axis=0)
    return total
