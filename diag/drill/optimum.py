"""The least expected minutes to the end of a case, exactly, for models small enough to list all that can come about.

Kept apart from the search that it judges: nothing of `reason.ahead` is used. Everything is a mass, not a share: what
is known has a mass, the chance that it comes about, and the minutes of an action are paid by that mass; the parts into
which a look splits a mass add up. Two ways to list what can be known:

- answers that are sure: the set of causes still possible, by bits;
- answers that are not: for each look its outcome or that it was not done, and the set of remedies that failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from diag.reason.compile import Array
from diag.reason.outlook import Fix, Look, Outlook
from diag.reason.situation import Situation

Index = npt.NDArray[np.intp]
MOST = 4_000_000
"""Most states of knowledge times situations."""


class TooLarge(ValueError):
    """The model has more states of knowledge than can be listed."""


def sure(outlook: Outlook) -> float:
    """Expected minutes when every answer and every remedy is sure: shares of 0 and 1. Raises TooLarge, ValueError."""
    for id, shares in [*((k.id, k.given) for k in outlook.looks), *((x.id, x.cures) for x in outlook.fixes)]:
        if not np.isin(shares, (0.0, 1.0)).all():
            raise ValueError(f"{id} is not sure")
    n = len(outlook.belief)
    ways = _situations(outlook)
    if len(ways.situations) << n > MOST:
        raise TooLarge(n)
    sets = np.arange(1 << n)
    mass = np.zeros(1 << n)
    for c, p in enumerate(outlook.belief):
        mass += np.where(sets >> c & 1, p, 0.0)
    parts = [[_set(row) for row in look.given] for look in outlook.looks]
    cured = [_set(fix.cures) for fix in outlook.fixes]
    size = np.array([bin(s).count("1") for s in sets])
    value = np.zeros((len(ways.situations), 1 << n))
    for count in range(1, n + 1):
        now = sets[size == count]
        for s in range(len(ways.situations)):
            best = outlook.call * mass[now]
            for t, split in enumerate(parts):
                pieces = [now & part for part in split]
                tells = np.all([piece != now for piece in pieces], axis=0)
                minutes, after = ways.of(s, t)
                total = minutes * mass[now] + sum(value[after, piece] for piece in pieces)
                best = np.where(tells, np.minimum(best, total), best)
            for m, cures in enumerate(cured):
                left = now & ~cures
                minutes, after = ways.of(s, len(parts) + m)
                best = np.where(left != now, np.minimum(best, minutes * mass[now] + value[after, left]), best)
            value[s, now] = best
    return float(value[0, -1])


def unsure(outlook: Outlook) -> float:
    """Expected minutes when answers may be wrong and remedies may fail; each look and each remedy at most once.

    Raises TooLarge."""
    ways = _situations(outlook)
    sizes = [len(look.given) + 1 for look in outlook.looks]
    known, fixes = int(np.prod(sizes, dtype=object)), 1 << len(outlook.fixes)
    if len(ways.situations) * known * fixes > MOST:
        raise TooLarge(known * fixes)
    weight = np.ones((1, len(outlook.belief)))
    for look in outlook.looks:  # the last place, "not done", says nothing
        given = np.vstack([look.given, np.ones(len(outlook.belief))])
        weight = (weight[:, None, :] * given[None, :, :]).reshape(-1, given.shape[1])
    failed = np.ones((fixes, len(outlook.belief)))
    for m, fix in enumerate(outlook.fixes):
        failed[np.arange(fixes) >> m & 1 == 1] *= 1.0 - fix.cures
    mass = (weight * outlook.belief) @ failed.T
    stride = np.concatenate([np.cumprod(sizes[::-1])[::-1][1:], [1]]).astype(np.intp)
    digit = np.arange(known)[:, None] // stride % np.array(sizes) if sizes else np.zeros((1, 0), dtype=np.intp)
    open_ = digit == np.array(sizes) - 1
    value = np.full((len(ways.situations), known, fixes), np.inf)
    done = (~open_).sum(axis=1)
    for count in range(len(sizes), -1, -1):
        now = np.flatnonzero(done == count)
        for f in range(fixes - 1, -1, -1):
            for s in range(len(ways.situations)):
                best = outlook.call * mass[now, f]
                for t, look in enumerate(outlook.looks):
                    can = open_[now, t]
                    rows = now[can]
                    minutes, after = ways.of(s, t)
                    pieces = (value[after, rows - (len(look.given) - o) * stride[t], f] for o in range(len(look.given)))
                    best[can] = np.minimum(best[can], minutes * mass[rows, f] + sum(pieces))
                for m in range(len(outlook.fixes)):
                    if not f >> m & 1:
                        minutes, after = ways.of(s, len(outlook.looks) + m)
                        best = np.minimum(best, minutes * mass[now, f] + value[after, now, f | 1 << m])
                value[s, now, f] = best
    return float(value[0, known - 1, 0])


@dataclass(frozen=True)
class _Ways:
    """The situations that can come about, the present one first, and what each action costs in each."""

    situations: tuple[Situation, ...]
    minutes: Array
    """[situations, looks and then remedies]."""
    after: Index

    def of(self, situation: int, action: int) -> tuple[float, int]:
        return float(self.minutes[situation, action]), int(self.after[situation, action])


def _situations(outlook: Outlook) -> _Ways:
    number = {outlook.situation: 0}
    minutes, after = [], []
    for situation in (waiting := [outlook.situation]):
        for action in _actions(outlook):
            then = situation.after(action.place)
            if then not in number:
                number[then] = len(number)
                waiting.append(then)
        minutes.append([a.minutes + situation.setup(outlook.times, a.place) for a in _actions(outlook)])
        after.append([number[situation.after(a.place)] for a in _actions(outlook)])
    return _Ways(tuple(number), np.array(minutes), np.array(after, dtype=np.intp))


def _actions(outlook: Outlook) -> Iterator[Look | Fix]:
    yield from outlook.looks
    yield from outlook.fixes


def _set(row: Array) -> int:
    return sum(1 << c for c, p in enumerate(row) if p > 0.0)
