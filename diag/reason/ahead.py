"""Looking more than one step ahead: what each action would cost in the end, were the best continuation taken after it.

One recursion serves two ways. *Rollout*: after each of the best few actions the one-step rule is followed to the end
(Bertsekas, Tsitsiklis and Wu 1997, J. Heuristics 3:245-262; for sequential tests, Tu and Pattipati 2003, IEEE Trans.
SMC A 33:491-499). *Dynamic programming over the best few*: at each set of facts that can come about, the best few
actions are followed, and the cheapest counts. What was worked out for a set of facts is kept, whatever the way to it.

Remedies are actions as well: what is left after one that failed may be better looked at than treated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import inf

import numpy as np

from diag.reason.constants import NEGLIGIBLE
from diag.reason.outlook import Fix, Look, Outlook
from diag.reason.step import CALL, Move, Node, Step, Stepper

CRISP = 1e-12
"""An outcome within this of sure is sure."""
ROUND = 12
"""Decimals of belief by which two ways to the same facts are known as one."""


class Halted(Exception):
    """The search was called off."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """A first move and the expected minutes to the end with it."""

    move: Move
    minutes: float


class Ahead:
    """Search over what can come about from an outlook. Not to be shared between threads."""

    def __init__(
        self,
        outlook: Outlook,
        *,
        share: float = 1.0,
        worth: float = 1e-9,
        rare: float = NEGLIGIBLE,
        cut: float = 0.0,
        halt: Callable[[], bool] | None = None,
    ) -> None:
        """`share`, `worth`: as for `Stepper`. `rare`: an outcome less likely than this changes nothing. `cut`: what
        comes about with less than this chance from the start is not followed any further. `halt`: asked at every step;
        true ends the search."""
        self.outlook = outlook
        self.start = Node(outlook.belief, outlook.situation)
        self._stepper = Stepper(outlook, share, worth)
        self._rare, self._cut, self._halt = rare, cut, halt
        self._crisp = all((np.minimum(k.given, 1.0 - k.given) < CRISP).all() for k in outlook.looks)
        remedies = self._stepper.remedies
        least = np.where(remedies.cured > 0.0, remedies.minutes, outlook.call).min(axis=1, initial=outlook.call)
        self._least = np.minimum(least, outlook.call)
        """[C]: no case ends in less, even by who knows the cause."""
        self._steps: dict[object, Step] = {}
        self._values: dict[object, float] = {}
        self._least_values: dict[object, float] = {}
        """What a value is at least, where that was enough to know."""

    # ---------------------------------------------------------------- what can be done, and what comes of it

    def paid(self, node: Node, move: Move) -> float:
        """Minutes of an action with its set-up."""
        action = self._action(move)
        if action is None:
            return self.outlook.call
        return max(action.minutes, 0.0) + node.situation.setup(self.outlook.times, action.place)

    def follow(self, node: Node, move: Move) -> Iterator[tuple[float, Node]]:
        """What may come of it and leaves something to do, each with its chance."""
        action = self._action(move)
        if isinstance(action, Fix):
            left = node.belief * (1.0 - action.cures)
            chance = float(left.sum())
            if chance > self._rare:
                failed = node.failed | 1 << move.number
                yield chance, Node(left / chance, node.situation.after(action.place), node.done, failed)
        elif action is not None:
            joint = action.given * node.belief
            after, done = node.situation.after(action.place), node.done | 1 << move.number
            for row, chance in zip(joint, joint.sum(axis=1), strict=True):
                if chance > self._rare:
                    yield float(chance), Node(row / chance, after, done, node.failed)

    def _action(self, move: Move) -> Look | Fix | None:
        match move.kind:
            case "look":
                return self.outlook.looks[move.number]
            case "fix":
                return self.outlook.fixes[move.number]
        return None

    # ---------------------------------------------------------------- values

    def finish(self, node: Node) -> float:
        """R: expected minutes without a further look."""
        return self._step(node).finish

    def rule(self, node: Node) -> Move:
        """What the one-step rule does: the look that saves most, else the first remedy worth trying, else the call."""
        return self._step(node).rule

    def telling(self, node: Node) -> Move | None:
        """The look that tells most a minute about which remedies it will be; None when none tells anything."""
        return self._step(node).telling

    def treatment(self, node: Node) -> Move:
        """What is done when no look is: the first remedy worth trying, or the call."""
        return self._step(node).treatment

    def weigh(self, node: Node, first: int, then: int) -> Iterator[Ranked]:
        """What the one-step rule does, then the best `first` looks and the likeliest remedies, each with the minutes
        to the end when the best of `then` looks follow at each later step; `then` 1 follows the one-step rule.

        Raises Halted, with what came before still good."""
        for move in dict.fromkeys((self.rule(node), *self._few(node, first), CALL)):
            yield Ranked(move, self._through(node, move, then, 1.0))

    def best(self, node: Node, first: int, then: int) -> Ranked:
        """The cheapest of the same moves; the others are followed only as far as that takes. Raises Halted."""
        best = Ranked(CALL, self.outlook.call)
        for move in dict.fromkeys((self.rule(node), *self._few(node, first))):
            if move != CALL:
                minutes = self._through(node, move, then, 1.0, best.minutes)
                if minutes < best.minutes:
                    best = Ranked(move, minutes)
        return best

    def value(self, node: Node, width: int) -> float:
        """Expected minutes to the end with the best of `width` looks at each step. Raises Halted."""
        return self._value(node, width, 1.0)

    def _value(self, node: Node, width: int, chance: float, limit: float = inf) -> float:
        """The value of a node, or infinity once it cannot but reach `limit`."""
        step = self._step(node)
        if chance < self._cut or step.finish <= 0.0:
            return step.finish
        key = (width, self._key(node))
        found = self._values.get(key)
        if found is not None:
            return found
        if self._least_values.get(key, 0.0) >= limit:
            return inf
        found = self.outlook.call
        for move in (step.rule,) if width == 1 else self._few(node, width):
            if move != CALL:
                found = min(found, self._through(node, move, width, chance, min(found, limit)))
        if found >= limit:
            self._least_values[key] = limit
            return inf
        self._values[key] = found
        return found

    def _through(self, node: Node, move: Move, width: int, chance: float, limit: float = inf) -> float:
        """Expected minutes with this move first, or infinity once they cannot but reach `limit`."""
        total = self.paid(node, move)
        after = [(p, n, p * float(n.belief @ self._least)) for p, n in self.follow(node, move)]
        total += sum(least for _, _, least in after)
        for p, n, least in after:
            if total >= limit:
                return inf
            total += p * self._value(n, width, chance * p, (limit - total + least) / p) - least
        return total

    def _few(self, node: Node, looks: int) -> tuple[Move, ...]:
        """The most promising moves: so many looks, and the remedies that are followed."""
        kept, seen = [], 0
        for move in self._step(node).moves:
            seen += move.kind == "look"
            if move.kind != "look" or seen <= looks:
                kept.append(move)
        return tuple(kept)

    # ---------------------------------------------------------------- one step

    def _key(self, node: Node) -> object:
        """Two ways to the same facts have the same key. Where every answer is sure, a look done tells nothing more."""
        return np.round(node.belief, ROUND).tobytes(), node.situation, 0 if self._crisp else node.done, node.failed

    def _step(self, node: Node) -> Step:
        key = self._key(node)
        found = self._steps.get(key)
        if found is None:
            if self._halt is not None and self._halt():
                raise Halted
            found = self._steps[key] = self._stepper.step(node)
        return found
