"""What one step ahead says of a node of the search: the one-step rule, and which actions are worth following."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from diag.reason.advice.check_stack import CheckStack
from diag.reason.advice.decision_model import CALL, ActionRef, DecisionModel
from diag.reason.advice.remedy_loss import RemedyLoss
from diag.reason.constants import NEGLIGIBLE
from diag.reason.table.compile import Array, Flags, Index
from diag.reason.table.situation import Situation

TREATED = 3
"""Remedies that are followed, beside the one that would be tried first."""
ASKED = 32
"""Of the checks, this many that tell most a minute are weighed by the minutes that they save."""
TELLS = 1e-9
"""Nats below which a check tells nothing, a minute."""
TINY = 1e-300


@dataclass(frozen=True, slots=True, eq=False)
class SearchNode:
    """What is known: belief [C], the situation, and as bits the checks done and the remedies that failed."""

    belief: Array
    situation: Situation
    done: int = 0
    failed: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class StepAhead:
    """What one step ahead says of a node."""

    finish: float
    """R: expected minutes without a further check, with remedies in the best order and then the call."""
    rule: ActionRef
    """What the one-step rule does: the check that saves most, else the first remedy worth trying, else the call."""
    actions: tuple[ActionRef, ...]
    """Checks and remedies, the most promising first."""
    telling: ActionRef | None
    """The check that tells most a minute about which remedies it will be; None when none tells anything."""
    treatment: ActionRef
    """What is done when no check is: the first remedy worth trying, or the call."""


class Stepper:
    """One step ahead from any node of a decision model."""

    def __init__(self, model: DecisionModel, share: float, worth: float) -> None:
        """`share`: at each node the likeliest causes that hold this share of the belief are weighed, as if the others
        were ruled out; 1 for all. `worth`: the one-step rule leaves a check that saves fewer minutes."""
        self.model, self.share, self.worth = model, share, worth
        self.stack = CheckStack(model.checks, len(model.belief))
        self.loss = RemedyLoss(model.remedies, model.times, model.call, len(model.belief))
        alike: dict[bytes, int] = {}
        member = [alike.setdefault(row.tobytes(), len(alike)) for row in self.loss.cured]
        self._groups = np.eye(len(alike))[member]
        """[C, G]: causes with the same remedies need not be told apart."""

    def step(self, node: SearchNode) -> StepAhead:
        tried, causes = bits(node.failed), self._likely(node.belief)
        belief = node.belief[causes] / node.belief[causes].sum()
        cured = self.loss.cured[causes]
        chances = belief @ cured
        chances[tried] = 0.0
        finish, order = self.loss.plan(chances, node.situation)
        treatment = ActionRef("remedy", order[0][0]) if order else CALL
        treat = self._treat(node, chances, treatment)
        if not self.model.checks:
            return StepAhead(finish, treatment, treat, None, treatment)

        columns = np.flatnonzero(chances > 0.0)
        chance, beliefs = self.stack.after(belief, causes)
        paid = self.stack.paid(node.situation, self.model.times)
        told = self._told(belief, chance, beliefs, self._groups[causes]) / np.maximum(paid, TINY)
        asked = self._asked(node, told)

        minutes = np.full(len(chance), finish)
        likely = (chance > NEGLIGIBLE) & asked[self.stack.owner]
        situations, which = self.stack.reached(node.situation)
        cures = beliefs[likely] @ cured[:, columns]
        minutes[likely] = self.loss.left(cures, situations, which[likely], columns)
        minutes = np.where(asked, paid + self.stack.summed(minutes * chance), np.inf)
        told = np.where(asked, told, -np.inf)
        checks = tuple(ActionRef("check", t) for t in _by_turns(minutes, -told) if asked[t])
        best = int(minutes.argmin())
        rule = ActionRef("check", best) if minutes[best] < finish - self.worth else treatment
        telling = ActionRef("check", int(told.argmax())) if asked.any() else None
        return StepAhead(finish, rule, (*checks, *treat), telling, treatment)

    def _likely(self, belief: Array) -> Index:
        """The likeliest causes, ascending."""
        if self.share >= 1.0:
            return np.arange(len(belief))
        order = np.argsort(-belief, kind="stable")
        return np.sort(order[: int(np.searchsorted(belief[order].cumsum(), self.share)) + 1])

    def _asked(self, node: SearchNode, told: Array) -> Flags:
        """[T]: the checks still open that tell most a minute."""
        open_ = told > TELLS
        open_[bits(node.done)] = False
        if open_.sum() > ASKED:
            order = np.argsort(np.where(open_, -told, np.inf), kind="stable")
            open_[order[ASKED:]] = False
        return open_

    def _told(self, belief: Array, chance: Array, beliefs: Array, groups: Array) -> Array:
        """[T]: how much each check is expected to tell about which remedies it will be, in nats."""

        def spread(shares: Array) -> Array:
            return -np.asarray((shares * np.log(np.maximum(shares, TINY))).sum(axis=-1))

        groups = groups[:, groups.any(axis=0)]
        return spread(belief @ groups) - self.stack.summed(chance * spread(beliefs @ groups))

    def _treat(self, node: SearchNode, chances: Array, first: ActionRef) -> tuple[ActionRef, ...]:
        """Remedies to follow: the first of the best order, then those with the most chance for their minutes."""
        rate = chances / (self.loss.minutes + self.loss.setup(node.situation)[self.loss.block])
        best = (ActionRef("remedy", int(m)) for m in np.argsort(-rate, kind="stable")[:TREATED] if chances[m] > 0.0)
        return tuple(dict.fromkeys((*((first,) if first != CALL else ()), *best)))


def bits(number: int) -> list[int]:
    """The places of the ones, ascending."""
    return [n for n in range(number.bit_length()) if number >> n & 1]


def _by_turns(*scores: Array) -> Iterator[int]:
    """The places of the lowest of each score by turns, each place once."""
    orders = zip(*(np.argsort(s, kind="stable") for s in scores), strict=True)
    yield from dict.fromkeys(int(t) for turn in orders for t in turn)
