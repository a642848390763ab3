"""All checks that can still tell something at once, and what their outcomes leave of a belief.

Most checks leave most causes alone: what they show is as likely under one of these as under any other. Where many
causes are weighed, only the few that an outcome moves are written out (`Outcomes`); where few are, as in looking ahead,
all are (`CheckStack.after`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diag.reason.advice.decision_model import CheckOption
from diag.reason.table.compile import Array, Index
from diag.reason.table.situation import Minutes, Situation

TINY = 1e-12
"""Stands in for the chance of an outcome that cannot come about, in a quotient."""


@dataclass(frozen=True, eq=False)
class Outcomes:
    """The K outcomes of checks from a belief, with W pairs of an outcome and a cause that it moves, row after row."""

    chance: Array
    """[K]."""
    sure: Array
    """[K]: the chance of the outcome under every cause that it does not move."""
    row: Index
    """[W]: the outcome."""
    cause: Index
    """[W]."""
    joint: Array
    """[W]: P(cause and outcome)."""
    gain: Array
    """[W]: by how much that is more than it would be if the outcome did not move the cause."""
    begin: Index
    """[T + 1]: where the pairs of each check begin."""


class CheckStack:
    """All checks at once: their outcomes one below another, K rows in all, over C causes."""

    def __init__(self, checks: tuple[CheckOption, ...], causes: int) -> None:
        self.checks, self.causes = checks, causes
        sizes = [len(k.given) for k in checks]
        self.first: Index = np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)
        """[T + 1]: where the outcomes of each check begin."""
        self.owner: Index = np.repeat(np.arange(len(checks)), sizes)
        """[K]."""
        self._reached: dict[Situation, tuple[tuple[Situation, ...], Index]] = {}
        self._paid: dict[Situation, Array] = {}

    @cached_property
    def given(self) -> Array:
        """[K, C]: P(outcome | cause)."""
        out = np.empty((int(self.first[-1]), self.causes))
        for check, begin, end in zip(self.checks, self.first[:-1], self.first[1:], strict=True):
            if check.moved is None or check.sure is None:
                out[begin:end] = check.given
            else:
                out[begin:end] = check.sure[:, None]
                out[begin:end, check.moved] = check.given
        return out

    def outcomes(self, belief: Array) -> Outcomes:
        """The outcomes from a belief [C], which sums to 1."""
        every = np.arange(self.causes)
        moved = [every if k.moved is None else k.moved for k in self.checks]
        sizes = np.diff(self.first)
        row = np.arange(int(self.first[-1])).repeat(np.repeat([len(c) for c in moved], sizes))
        cause = np.concatenate([np.tile(c, n) for c, n in zip(moved, sizes, strict=True)])
        sure = np.concatenate([np.zeros(len(k.given)) if k.sure is None else k.sure for k in self.checks])
        joint = np.concatenate([k.given.ravel() for k in self.checks]) * belief[cause]
        gain = joint - sure[row] * belief[cause]
        begin = np.concatenate([[0], np.cumsum(sizes * [len(c) for c in moved])])
        return Outcomes(sure + np.bincount(row, gain, len(sure)), sure, row, cause, joint, gain, begin)

    def likeliest(self, number: int, outcomes: Outcomes, belief: Array, order: Index) -> tuple[Index, Array]:
        """The likeliest cause after each outcome of a check, and P(cause and outcome), [O] each.

        `order` [C]: causes by `belief`, the likeliest first."""
        span = slice(int(self.first[number]), int(self.first[number + 1]))
        pairs = slice(int(outcomes.begin[number]), int(outcomes.begin[number + 1]))
        joint = outcomes.joint[pairs].reshape(span.stop - span.start, -1)
        moved = outcomes.cause[pairs][: joint.shape[1]]
        at = joint.argmax(axis=1)
        cause, most = moved[at], joint[np.arange(len(at)), at]
        first = order[: len(moved) + 1]
        others = first[~np.isin(first, moved)]
        if len(others):
            other = outcomes.sure[span] * belief[others[0]]
            ahead = (other > most) | ((other == most) & (others[0] < cause))
            cause, most = np.where(ahead, others[0], cause), np.where(ahead, other, most)
        return cause, most

    def reached(self, situation: Situation) -> tuple[tuple[Situation, ...], Index]:
        """The situations that checks lead to from this one, and the number of it for each row [K]."""
        if situation not in self._reached:
            number: dict[Situation, int] = {}
            by_check = [number.setdefault(situation.after(k.place), len(number)) for k in self.checks]
            self._reached[situation] = tuple(number), np.array(by_check, dtype=np.intp)[self.owner]
        return self._reached[situation]

    def paid(self, situation: Situation, times: Minutes) -> Array:
        """[T]: minutes of each check with its set-up from here."""
        if situation not in self._paid:
            self._paid[situation] = np.array([k.minutes + situation.setup(times, k.place) for k in self.checks])
        return self._paid[situation]

    def after(self, belief: Array, causes: Index | slice = slice(None)) -> tuple[Array, Array]:
        """The chance of each outcome [K], and the belief after it [K, c]; `belief` [c] is of the causes given."""
        joint = self.given[:, causes] * belief
        chance = joint.sum(axis=1)
        joint /= np.maximum(chance, TINY)[:, None]
        return chance, joint

    def summed(self, rows: Array) -> Array:
        """[K] summed over the outcomes of each check, [T]."""
        return np.add.reduceat(rows, self.first[:-1]) if len(self.checks) else np.zeros(0)
