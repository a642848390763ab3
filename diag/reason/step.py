"""What one step ahead says of a place in the search: the one-step rule, and which moves are worth following."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from diag.reason.compile import Array, Index
from diag.reason.outlook import Flags, Outlook, Remedies, Stack, one_step
from diag.reason.situation import Situation

TREATED = 3
"""Remedies that are followed, beside the one that would be tried first."""
ASKED = 32
"""Of the looks, this many that tell most a minute are weighed by the minutes that they save."""
TELLS = 1e-9
"""Nats below which a look tells nothing, a minute."""
TINY = 1e-300


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """What is known: belief [C], the situation, and as bits the looks done and the remedies that failed."""

    belief: Array
    situation: Situation
    done: int = 0
    failed: int = 0


@dataclass(frozen=True, slots=True)
class Move:
    """An action by its number among the looks or the remedies, or the call (0)."""

    kind: Literal["look", "fix", "call"]
    number: int


CALL = Move("call", 0)


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """What one step ahead says of a node."""

    finish: float
    """R: remedies in order, then the call."""
    rule: Move
    """What the one-step rule does."""
    moves: tuple[Move, ...]
    """Looks and remedies, the most promising first."""
    telling: Move | None
    """The look that tells most a minute."""
    treatment: Move
    """The first remedy worth trying, or the call."""


class Stepper:
    """One step ahead from any node of an outlook."""

    def __init__(self, outlook: Outlook, share: float, worth: float) -> None:
        """`share`: at each node the likeliest causes that hold this share of the belief are weighed, as if the others
        were ruled out; 1 for all. `worth`: the one-step rule leaves a look that saves fewer minutes."""
        self.outlook, self.share, self.worth = outlook, share, worth
        self.stack = Stack(outlook.looks, len(outlook.belief))
        self.remedies = Remedies(outlook.fixes, outlook.times, outlook.call, len(outlook.belief))
        alike: dict[bytes, int] = {}
        member = [alike.setdefault(row.tobytes(), len(alike)) for row in self.remedies.cured]
        self._groups = np.eye(len(alike))[member]
        """[C, G]: causes with the same remedies need not be told apart."""
        self._setups: dict[Situation, Array] = {}

    def step(self, node: Node) -> Step:
        tried, causes = bits(node.failed), self._likely(node.belief)
        belief = node.belief[causes] / node.belief[causes].sum()
        cured = self.remedies.cured[causes]
        chances = belief @ cured
        chances[tried] = 0.0
        finish, order = self.remedies.plan(chances, node.situation)
        treatment = Move("fix", order[0][0]) if order else CALL
        treat = self._treat(node, chances, treatment)
        if not self.outlook.looks:
            return Step(finish, treatment, treat, None, treatment)

        columns = np.flatnonzero(chances > 0.0)
        chance, beliefs = self.stack.after(belief, causes)
        paid = self.stack.paid(node.situation, self.outlook.times)
        told = self._told(belief, chance, beliefs, self._groups[causes]) / np.maximum(paid, TINY)
        asked = self._asked(node, told)

        cured = np.ascontiguousarray(cured[:, columns])

        def loss(beliefs: Array, situations: Sequence[Situation], which: Index) -> Array:
            return self.remedies.left(beliefs @ cured, situations, which, columns)

        minutes = one_step(self.stack, chance, beliefs, asked, node.situation, self.outlook.times, loss, finish)
        told = np.where(asked, told, -np.inf)
        looks = tuple(Move("look", t) for t in _by_turns(minutes, -told) if asked[t])
        best = int(minutes.argmin())
        rule = Move("look", best) if minutes[best] < finish - self.worth else treatment
        telling = Move("look", int(told.argmax())) if asked.any() else None
        return Step(finish, rule, (*looks, *treat), telling, treatment)

    def _likely(self, belief: Array) -> Index:
        """The likeliest causes, ascending."""
        if self.share >= 1.0:
            return np.arange(len(belief))
        order = np.argsort(-belief, kind="stable")
        return np.sort(order[: int(np.searchsorted(belief[order].cumsum(), self.share)) + 1])

    def _asked(self, node: Node, told: Array) -> Flags:
        """[T]: the looks still open that tell most a minute."""
        open_ = told > TELLS
        open_[bits(node.done)] = False
        if open_.sum() > ASKED:
            order = np.argsort(np.where(open_, -told, np.inf), kind="stable")
            open_[order[ASKED:]] = False
        return open_

    def _told(self, belief: Array, chance: Array, beliefs: Array, groups: Array) -> Array:
        """[T]: how much each look is expected to tell about which remedies it will be, in nats."""

        def spread(shares: Array) -> Array:
            return -np.asarray((shares * np.log(np.maximum(shares, TINY))).sum(axis=-1))

        groups = groups[:, groups.any(axis=0)]
        return spread(belief @ groups) - self.stack.summed(chance * spread(beliefs @ groups))

    def _treat(self, node: Node, chances: Array, first: Move) -> tuple[Move, ...]:
        """Remedies to follow: the first of the best order, then those with the most chance for their minutes."""
        if node.situation not in self._setups:
            self._setups[node.situation] = np.array(
                [node.situation.setup(self.outlook.times, x.place) for x in self.outlook.fixes]
            )
        rate = chances / (self.remedies.minutes + self._setups[node.situation])
        best = (Move("fix", int(m)) for m in np.argsort(-rate, kind="stable")[:TREATED] if chances[m] > 0.0)
        return tuple(dict.fromkeys((*((first,) if first != CALL else ()), *best)))


def bits(number: int) -> list[int]:
    """The places of the ones, ascending."""
    return [n for n in range(number.bit_length()) if number >> n & 1]


def _by_turns(*scores: Array) -> Iterator[int]:
    """The places of the lowest of each score by turns, each place once."""
    orders = zip(*(np.argsort(s, kind="stable") for s in scores), strict=True)
    yield from dict.fromkeys(int(t) for turn in orders for t in turn)
