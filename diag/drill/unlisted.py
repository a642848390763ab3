"""How well a cause that nobody wrote down is noticed, and how rarely a written one is taken for it.

Each stop is diagnosed twice with the same answers, by the table without its cause and by the whole one. Left out are
only causes with no close twin: where another cause shows nearly the same, that one is the right thing to look at, and
those causes are told apart from the others.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from diag.drill.simulate import Done, follow, told
from diag.reason.compile import Array, Index, Table, slip
from diag.reason.constants import UNLISTED_COUNTS
from diag.reason.draw import draw

TWIN = 12.0
"""Bits by which all facts together must tell a cause from every other one, on average, for it to have no close twin:
about what two sure facts give, since one that only a slip explains gives six and a half."""


@dataclass(frozen=True, slots=True)
class Unwritten:
    """One stop, diagnosed without its cause and with it."""

    cause: str
    place: int
    """Where `unlisted` came with the cause left out; 1 is first."""
    top: str
    """What came first then."""
    taken: bool
    """Whether `unlisted` came first with the cause in the file."""


@dataclass(frozen=True, slots=True)
class Noticed:
    stops: tuple[Unwritten, ...]
    twins: tuple[tuple[str, str, float], ...]
    """Causes with a close twin, the twin, and the bits between them; not drawn."""

    def within(self, place: int) -> float:
        """Share of stops in which `unlisted` came at this place or before."""
        return sum(s.place <= place for s in self.stops) / len(self.stops)

    @property
    def taken(self) -> float:
        """Share of stops in which `unlisted` came first although the cause is in the file."""
        return sum(s.taken for s in self.stops) / len(self.stops)

    @property
    def misses(self) -> tuple[tuple[str, str, int], ...]:
        """Cause left out and what came first instead, with how often, most first."""
        counts = Counter((s.cause, s.top) for s in self.stops if s.place > 2)
        return tuple((cause, top, n) for (cause, top), n in counts.most_common())


def divergence(table: Table) -> Array:
    """[C - 1, C - 1]: bits by which all looks together tell the cause of the row from that of the column, on average
    over what the former shows: the sum of Kullback-Leibler divergences, what follows taken as if it stood alone."""
    listed = table.p[: len(table.causes) - 1].copy()
    for i in np.flatnonzero(table.joined):
        listed[:, table.columns(int(i))] = slip(listed[:, table.columns(int(i))])
    logs = np.log2(listed)
    return np.asarray((listed * logs).sum(axis=1)[:, None] - listed @ logs.T)


def without(table: Table, c: int) -> Table:
    """The table with one listed cause taken out, also of what `unlisted` is taken to show."""
    keep = np.arange(len(table.causes)) != c
    prior = table.log_prior[keep]
    unlisted = prior[-1]
    rest = prior[:-1] - np.logaddexp.reduce(prior[:-1]) + np.log1p(-np.exp(unlisted))
    p = table.p.copy()
    count = len(table.causes) - 1 + UNLISTED_COUNTS
    p[-2] = (count * p[-2] - p[c]) / (count - 1)
    return replace(
        table,
        causes=tuple(id for id, kept in zip(table.causes, keep, strict=True) if kept),
        log_prior=np.append(rest, unlisted),
        p=p[np.append(keep, True)],
        quiet=table.quiet[keep],
        cured=table.cured[:, keep],
        group=np.unique(table.group[keep], return_inverse=True)[1].astype(np.intp),
    )


def simulate(table: Table, n: int, seed: int = 0, done: Done = lambda stops: None) -> Noticed:
    """`n` stops; the same seed gives the same stops."""
    bits = divergence(table)
    np.fill_diagonal(bits, np.inf)
    nearest: Index = bits.argmin(axis=1)
    least = bits.min(axis=1)
    alone = np.flatnonzero(least >= TWIN)
    twins = tuple(
        (table.causes[c], table.causes[nearest[c]], float(least[c])) for c in np.flatnonzero(least < TWIN).tolist()
    )
    prior = np.exp(table.log_prior[alone])
    stops = []
    for k in range(n if len(alone) else 0):
        rng = np.random.default_rng((seed, k))
        c = int(rng.choice(alone, p=prior / prior.sum()))
        answers = told(table, draw(table, c, rng), rng)
        order = follow(without(table, c), answers)[0]
        place = order.order.tolist().index(len(order.table.causes) - 1) + 1
        whole = follow(table, answers)[0]
        taken = int(whole.order[0]) == len(table.causes) - 1
        stops.append(Unwritten(table.causes[c], place, order.table.causes[order.order[0]], taken))
        done(1)
    return Noticed(tuple(stops), twins)
