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

from diag.reason.advice.decision_model import CheckOption, DecisionModel, RemedyOption
from diag.reason.table.compile import Array
from diag.reason.table.situation import Situation

Index = npt.NDArray[np.intp]
MOST = 4_000_000
"""Most states of knowledge times situations."""


class TooLarge(ValueError):
    """The model has more states of knowledge than can be listed."""


def sure(model: DecisionModel) -> float:
    """Expected minutes when every answer and every remedy is sure: shares of 0 and 1. Raises TooLarge, ValueError."""
    for id, shares in [*((k.id, k.given) for k in model.checks), *((x.id, x.cures) for x in model.remedies)]:
        if not np.isin(shares, (0.0, 1.0)).all():
            raise ValueError(f"{id} is not sure")
    n = len(model.belief)
    ways = _situations(model)
    if len(ways.situations) << n > MOST:
        raise TooLarge(n)
    sets = np.arange(1 << n)
    mass = np.zeros(1 << n)
    for c, p in enumerate(model.belief):
        mass += np.where(sets >> c & 1, p, 0.0)
    parts = [[_set(row) for row in check.given] for check in model.checks]
    cured = [_set(remedy.cures) for remedy in model.remedies]
    size = np.array([bin(s).count("1") for s in sets])
    value = np.zeros((len(ways.situations), 1 << n))
    for count in range(1, n + 1):
        now = sets[size == count]
        for s in range(len(ways.situations)):
            best = model.call * mass[now]
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


def unsure(model: DecisionModel) -> float:
    """Expected minutes when answers may be wrong and remedies may fail; each look and each remedy at most once.

    Raises TooLarge."""
    ways = _situations(model)
    sizes = [len(check.given) + 1 for check in model.checks]
    known, remedies = int(np.prod(sizes, dtype=object)), 1 << len(model.remedies)
    if len(ways.situations) * known * remedies > MOST:
        raise TooLarge(known * remedies)
    weight = np.ones((1, len(model.belief)))
    for check in model.checks:  # the last place, "not done", says nothing
        given = np.vstack([check.given, np.ones(len(model.belief))])
        weight = (weight[:, None, :] * given[None, :, :]).reshape(-1, given.shape[1])
    failed = np.ones((remedies, len(model.belief)))
    for m, remedy in enumerate(model.remedies):
        failed[np.arange(remedies) >> m & 1 == 1] *= 1.0 - remedy.cures
    mass = (weight * model.belief) @ failed.T
    stride = np.concatenate([np.cumprod(sizes[::-1])[::-1][1:], [1]]).astype(np.intp)
    digit = np.arange(known)[:, None] // stride % np.array(sizes) if sizes else np.zeros((1, 0), dtype=np.intp)
    open_ = digit == np.array(sizes) - 1
    value = np.full((len(ways.situations), known, remedies), np.inf)
    done = (~open_).sum(axis=1)
    for count in range(len(sizes), -1, -1):
        now = np.flatnonzero(done == count)
        for f in range(remedies - 1, -1, -1):
            for s in range(len(ways.situations)):
                best = model.call * mass[now, f]
                for t, check in enumerate(model.checks):
                    can = open_[now, t]
                    rows = now[can]
                    minutes, after = ways.of(s, t)
                    pieces = (
                        value[after, rows - (len(check.given) - o) * stride[t], f] for o in range(len(check.given))
                    )
                    best[can] = np.minimum(best[can], minutes * mass[rows, f] + sum(pieces))
                for m in range(len(model.remedies)):
                    if not f >> m & 1:
                        minutes, after = ways.of(s, len(model.checks) + m)
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


def _situations(model: DecisionModel) -> _Ways:
    number = {model.situation: 0}
    minutes, after = [], []
    for situation in (waiting := [model.situation]):
        for action in _actions(model):
            then = situation.after(action.place)
            if then not in number:
                number[then] = len(number)
                waiting.append(then)
        minutes.append([a.minutes + situation.setup(model.times, a.place) for a in _actions(model)])
        after.append([number[situation.after(a.place)] for a in _actions(model)])
    return _Ways(tuple(number), np.array(minutes), np.array(after, dtype=np.intp))


def _actions(model: DecisionModel) -> Iterator[CheckOption | RemedyOption]:
    yield from model.checks
    yield from model.remedies


def _set(row: Array) -> int:
    return sum(1 << c for c, p in enumerate(row) if p > 0.0)
