"""How well a cause that nobody wrote down is noticed, and how rarely a written one is taken for it.

Each stop is diagnosed twice with the same answers, by the table without its cause and by the whole one. Only causes
without a close twin are left out: where another cause shows nearly the same, that one is the right thing to look at, so
causes with a twin are listed by themselves.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from diag.machine.model import UNLISTED
from diag.practice.quick import Done, answered, follow
from diag.reason.constants import UNLISTED_COUNTS
from diag.reason.table.compile import Array, Index, Table, slip
from diag.reason.table.draw_stop import draw

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
    """Whether `unlisted` came first although the cause was in the file."""


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
    fewer = table.of_causes(np.arange(len(table.causes)) != c)
    unlisted = fewer.log_prior[-1]
    rest = fewer.log_prior[:-1] - np.logaddexp.reduce(fewer.log_prior[:-1]) + np.log1p(-np.exp(unlisted))
    count = len(table.causes) - 1 + UNLISTED_COUNTS
    fewer.p[-2] = (count * table.p[-2] - table.p[c]) / (count - 1)
    return replace(fewer, log_prior=np.append(rest, unlisted))


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
        answers = answered(table, draw(table, c, rng), rng)
        fewer, whole = (follow(of, answers)[0] for of in (without(table, c), table))
        ranked = [fewer.table.causes[at] for at in fewer.order]
        taken = table.causes[whole.order[0]] == UNLISTED
        stops.append(Unwritten(table.causes[c], ranked.index(UNLISTED) + 1, ranked[0], taken))
        done(1)
    return Noticed(tuple(stops), twins)
