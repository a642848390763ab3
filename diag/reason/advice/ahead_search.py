"""Looking more than one step ahead: what each action would cost in the end, were the best continuation taken after it.

One recursion serves two ways. In *rollout* the one-step rule is followed to the end after each of the best few actions
(Bertsekas, Tsitsiklis and Wu 1997, J. Heuristics 3:245-262; for sequential tests, Tu and Pattipati 2003, IEEE Trans.
SMC A 33:491-499). In *dynamic programming over the best few* the best few actions are followed at each set of facts
that can come about, and the cheapest counts. What was worked out for a set of facts is kept, whatever the way to it.

Remedies are actions as well: what is left after one that failed may be better looked at than treated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import inf

import numpy as np

from diag.reason.advice.decision_model import CALL, ActionRef, DecisionModel, RemedyOption
from diag.reason.advice.step import SearchNode, StepAhead, Stepper
from diag.reason.constants import NEGLIGIBLE

CRISP = 1e-12
"""An outcome within this of sure is sure."""
ROUND = 12
"""Decimals of belief by which two ways to the same facts are known as one."""


class Halted(Exception):
    """The search was called off."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """A first action and the expected minutes to the end with it."""

    action: ActionRef
    minutes: float


class AheadSearch:
    """Search over what can come about from a decision model. Not to be shared between threads."""

    def __init__(
        self,
        model: DecisionModel,
        *,
        share: float = 1.0,
        worth: float = 1e-9,
        rare: float = NEGLIGIBLE,
        cut: float = 0.0,
        halt: Callable[[], bool] | None = None,
        nodes: int | None = None,
    ) -> None:
        """`share`, `worth`: as for `Stepper`. `rare`: an outcome less likely than this changes nothing. `cut`: what
        comes about with less than this chance from the start is not followed any further. `halt` is asked at every
        node: true ends the search, and so does having worked out that many `nodes`."""
        self.model = model
        self.start = SearchNode(model.belief, model.situation)
        self._stepper = Stepper(model, share, worth)
        self._rare, self._cut, self._halt, self._nodes = rare, cut, halt, inf if nodes is None else nodes
        stack, loss = self._stepper.stack, self._stepper.loss
        self._crisp = bool((np.minimum(stack.given, 1.0 - stack.given) < CRISP).all())
        least = np.where(loss.cured > 0.0, loss.minutes, model.call).min(axis=1, initial=model.call)
        self._least = np.minimum(least, model.call)
        """[C]: no case ends in less, even by who knows the cause."""
        self._steps: dict[object, StepAhead] = {}
        self._values: dict[object, float] = {}
        self._least_values: dict[object, float] = {}
        """What a value is at least, where that was enough to know."""

    # ---------------------------------------------------------------- what can be done, and what comes of it

    def paid(self, node: SearchNode, action: ActionRef) -> float:
        """Minutes of an action with its set-up."""
        option = self.model.option(action)
        if option is None:
            return self.model.call
        return max(option.minutes, 0.0) + node.situation.setup(self.model.times, option.place)

    def follow(self, node: SearchNode, action: ActionRef) -> Iterator[tuple[float, SearchNode]]:
        """What may come of it and leaves something to do, each with its chance."""
        option = self.model.option(action)
        if isinstance(option, RemedyOption):
            left = node.belief * (1.0 - option.cures)
            chance = float(left.sum())
            if chance > self._rare:
                failed = node.failed | 1 << action.number
                yield chance, SearchNode(left / chance, node.situation.after(option.place), node.done, failed)
        elif option is not None:
            stack = self._stepper.stack
            joint = stack.given[stack.first[action.number] : stack.first[action.number + 1]] * node.belief
            after, done = node.situation.after(option.place), node.done | 1 << action.number
            for row, chance in zip(joint, joint.sum(axis=1), strict=True):
                if chance > self._rare:
                    yield float(chance), SearchNode(row / chance, after, done, node.failed)

    # ---------------------------------------------------------------- values

    def weigh(self, node: SearchNode, first: int, then: int) -> Iterator[Ranked]:
        """What the one-step rule does, then the best `first` checks and the likeliest remedies, each with the minutes
        to the end when the best of `then` checks follow at each later step; `then` 1 follows the one-step rule.

        Raises Halted, with what came before still good."""
        for action in dict.fromkeys((self.step(node).rule, *self._few(node, first), CALL)):
            yield Ranked(action, self._through(node, action, then, 1.0))

    def best(self, node: SearchNode, first: int, then: int) -> Ranked:
        """The cheapest of the same actions; the others are followed only as far as that takes. Raises Halted."""
        best = Ranked(CALL, self.model.call)
        for action in dict.fromkeys((self.step(node).rule, *self._few(node, first))):
            if action != CALL:
                minutes = self._through(node, action, then, 1.0, best.minutes)
                if minutes < best.minutes:
                    best = Ranked(action, minutes)
        return best

    def value(self, node: SearchNode, width: int) -> float:
        """Expected minutes to the end with the best of `width` checks at each step. Raises Halted."""
        return self._value(node, width, 1.0)

    def _value(self, node: SearchNode, width: int, chance: float, limit: float = inf) -> float:
        """The value of a node, or infinity once it cannot but reach `limit`."""
        step = self.step(node)
        if chance < self._cut or step.finish <= 0.0:
            return step.finish
        key = (width, self._key(node))
        found = self._values.get(key)
        if found is not None:
            return found
        if self._least_values.get(key, 0.0) >= limit:
            return inf
        found = self.model.call
        for action in (step.rule,) if width == 1 else self._few(node, width):
            if action != CALL:
                found = min(found, self._through(node, action, width, chance, min(found, limit)))
        if found >= limit:
            self._least_values[key] = limit
            return inf
        self._values[key] = found
        return found

    def _through(self, node: SearchNode, action: ActionRef, width: int, chance: float, limit: float = inf) -> float:
        """Expected minutes with this action first, or infinity once they cannot but reach `limit`."""
        total = self.paid(node, action)
        after = [(p, n, p * float(n.belief @ self._least)) for p, n in self.follow(node, action)]
        total += sum(least for _, _, least in after)
        for p, n, least in after:
            if total >= limit:
                return inf
            total += p * self._value(n, width, chance * p, (limit - total + least) / p) - least
        return total

    def _few(self, node: SearchNode, checks: int) -> tuple[ActionRef, ...]:
        """The most promising actions: so many checks, and the remedies that are followed."""
        actions = self.step(node).actions
        kept = [action for action in actions if action.kind == "check"][:checks]
        return tuple(action for action in actions if action.kind != "check" or action in kept)

    # ---------------------------------------------------------------- one step

    def _key(self, node: SearchNode) -> object:
        """Two ways to the same facts have the same key. Where every answer is sure, a check done tells nothing more."""
        return np.round(node.belief, ROUND).tobytes(), node.situation, 0 if self._crisp else node.done, node.failed

    def step(self, node: SearchNode) -> StepAhead:
        """What one step ahead says of a node. Raises Halted."""
        key = self._key(node)
        found = self._steps.get(key)
        if found is None:
            if (self._halt is not None and self._halt()) or len(self._steps) >= self._nodes:
                raise Halted
            found = self._steps[key] = self._stepper.step(node)
        return found
