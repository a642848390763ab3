"""What can be done from here on, as bare arrays: looks with their outcomes, remedies with their chances, and a call.

A machine's file is one way to get there (`outlook`); a table out of a paper, or a random model, is another. From here
on the answers of all looks are taken as independent given the cause.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np
import numpy.typing as npt

from diag.machine.model import Role
from diag.reason import cost
from diag.reason.belief import Belief
from diag.reason.compile import Array, Index, Table, Test
from diag.reason.constants import NEGLIGIBLE, OUTCOME_LIMIT
from diag.reason.situation import Place, Situation, Times

KNOWN = 1.0 - 1e-9
LEAST = 0.1
"""Minutes that any remedy takes, so that probability over cost is always a number."""

Loss = Callable[[Array, Sequence[Situation], Index], Array]
"""Expected minutes left, [N], for N beliefs [N, C]: the situations that occur, and the number of each belief's."""
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Look:
    """A check that can still tell something, with O joint outcomes."""

    id: str
    given: Array
    """[O, C]: P(outcome | cause); each cause's column sums to 1."""
    minutes: float
    place: Place
    tells: tuple[int, ...] = ()
    """The indications told, by number."""
    states: tuple[tuple[int, ...], ...] = ()
    """Of each outcome: the state of each indication told."""


@dataclass(frozen=True, eq=False)
class Fix:
    """A remedy; `minutes` holds its own and its proof's."""

    id: str
    cures: Array
    """[C]: chance that it ends the case, given the cause."""
    minutes: float
    place: Place


@dataclass(frozen=True, eq=False)
class Outlook:
    """Where one stands, and all that may be done; C causes."""

    belief: Array
    """[C], summing to 1."""
    looks: tuple[Look, ...]
    fixes: tuple[Fix, ...]
    situation: Situation
    times: Times
    call: float
    """Minutes of calling engineering, which ends the case."""


@dataclass(frozen=True, eq=False)
class Remedies:
    """R(b) of what may be tried: remedies in the best order known, as many as pay, then the call. A `Loss`."""

    fixes: tuple[Fix, ...]
    times: Times
    call: float
    causes: int
    cured: Array = field(init=False)
    """[C, M]."""
    minutes: Array = field(init=False)
    """[M]."""
    _block: Index = field(init=False)
    _setups: dict[Situation, Array] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        cured = np.array([x.cures for x in self.fixes]).reshape(-1, self.causes).T
        object.__setattr__(self, "cured", np.ascontiguousarray(cured))
        object.__setattr__(self, "minutes", np.array([max(x.minutes, LEAST) for x in self.fixes]))
        object.__setattr__(self, "_block", cost.blocks([(x.place.access, x.place.zone) for x in self.fixes])[0])

    def __call__(self, beliefs: Array, situations: Sequence[Situation], which: Index) -> Array:
        return self.left(beliefs @ self.cured, situations, which, np.arange(len(self.fixes)))

    def left(self, chances: Array, situations: Sequence[Situation], which: Index, columns: Index) -> Array:
        """R, [N], from the chance [N, m] that each of the remedies in `columns` [m] ends the case."""
        setup = np.array([self._setup(s) for s in situations])[which]
        return cost.expected(chances, self.minutes[columns], self._block[columns], setup, self.call)

    def plan(self, chances: Array, situation: Situation) -> tuple[float, tuple[tuple[int, float], ...]]:
        """R, and the remedies worth trying before a call, best first, each with the minutes of its set-up.

        `chances` [M]: chance that each remedy ends the case; 0 for one that was tried."""
        some = np.flatnonzero(chances > 0.0)
        if not some.size:
            return self.call, ()
        own = self.minutes[some]
        first, minutes = cost.order(chances[None, some], own, self._block[some], self._setup(situation))
        ordered = first[0]
        spent = cost.sequence(chances[None, some[ordered]], minutes[:, ordered], self.call)[0]
        tried = ordered[: int(spent.argmin())]
        return float(spent.min()), tuple((int(some[m]), float(minutes[0, m] - own[m])) for m in tried)

    def _setup(self, situation: Situation) -> Array:
        found = self._setups.get(situation)
        if found is None:
            found = np.zeros(int(self._block.max()) + 1 if len(self.fixes) else 0)
            for b, fix in zip(self._block, self.fixes, strict=True):
                found[b] = situation.setup(self.times, fix.place)
            self._setups[situation] = found
        return found


class Stack:
    """All looks at once: their outcomes one below another, K rows in all."""

    def __init__(self, looks: tuple[Look, ...], causes: int) -> None:
        self.looks = looks
        sizes = [len(k.given) for k in looks]
        self.first: Index = np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)
        """[T + 1]: where the outcomes of each look begin."""
        self.given: Array = np.concatenate([k.given for k in looks]) if looks else np.zeros((0, causes))
        """[K, C]."""
        self.owner: Index = np.repeat(np.arange(len(looks)), sizes)
        """[K]."""
        self._reached: dict[Situation, tuple[tuple[Situation, ...], Index]] = {}
        self._paid: dict[Situation, Array] = {}

    def reached(self, situation: Situation) -> tuple[tuple[Situation, ...], Index]:
        """The situations that looks lead to from this one, and the number of it for each row [K]."""
        if situation not in self._reached:
            number: dict[Situation, int] = {}
            by_look = [number.setdefault(situation.after(k.place), len(number)) for k in self.looks]
            self._reached[situation] = tuple(number), np.array(by_look, dtype=np.intp)[self.owner]
        return self._reached[situation]

    def paid(self, situation: Situation, times: Times) -> Array:
        """[T]: minutes of each look with its set-up from here."""
        if situation not in self._paid:
            self._paid[situation] = np.array([k.minutes + situation.setup(times, k.place) for k in self.looks])
        return self._paid[situation]

    def after(self, belief: Array, causes: Index | slice = slice(None)) -> tuple[Array, Array]:
        """The chance of each outcome [K], and the belief after it [K, c]; `belief` [c] is of the causes given."""
        joint = self.given[:, causes] * belief
        chance = joint.sum(axis=1)
        joint /= np.maximum(chance, cost.TINY)[:, None]
        return chance, joint

    def summed(self, rows: Array) -> Array:
        """[K] summed over the outcomes of each look, [T]."""
        return np.add.reduceat(rows, self.first[:-1]) if len(self.looks) else np.zeros(0)


def outlook(belief: Belief, situation: Situation) -> Outlook:
    """What this person may still do about it, by what was seen so far."""
    table = belief.table
    return Outlook(
        belief.posterior,
        looks(belief, situation),
        fixes(table, situation.role, situation.barred),
        situation,
        table,
        table.call,
    )


def fixes(table: Table, role: Role | None, barred: frozenset[str]) -> tuple[Fix, ...]:
    """The remedies that this role may try; None: every role."""
    return tuple(
        Fix(cure.id, table.cured[m], cure.minutes, cure.place)
        for m, cure in enumerate(table.cures)
        if cure.id not in barred and (role is None or role in cure.who)
    )


def looks(belief: Belief, situation: Situation) -> tuple[Look, ...]:
    """The checks that may be done now and may tell something new, in the file's order."""
    offered = (t for t in belief.table.tests if _offered(belief, t, situation))
    return tuple(look for t in offered if (look := _look(belief, t, situation.left(t.id))) is not None)


def _offered(belief: Belief, test: Test, situation: Situation) -> bool:
    if test.id in situation.barred or (situation.role is not None and situation.role not in test.who):
        return False
    return all(_chance(belief, columns) >= 0.5 for _, columns in test.needs)


def _chance(belief: Belief, columns: Iterable[int]) -> float:
    return float(belief.posterior @ belief.predicted[:, list(columns)].sum(axis=1))


def _look(belief: Belief, test: Test, share: float) -> Look | None:
    """The outcomes still open, or None when the check can tell nothing new; `share` of its minutes are left.

    Several answers of one check are taken as independent given the cause and what was seen; where they would make more
    than `OUTCOME_LIMIT` combinations, the least uncertain answers are left out."""
    table = belief.table
    open_ = []
    for i in test.gives:
        chances = belief.posterior @ belief.predicted[:, table.columns(i)]
        if chances.max() < KNOWN:
            uncertain = -float(chances @ np.log(np.maximum(chances, cost.TINY)))
            open_.append((uncertain, i))
    kept, size = [], 1
    for _, i in sorted(open_, reverse=True):
        k = len(table.states[i])
        if size * k <= OUTCOME_LIMIT:
            kept.append(i)
            size *= k
    if not kept:
        return None
    given = np.ones((1, len(table.causes)))
    for i in kept:
        states = belief.predicted[:, table.columns(i)].T
        given = (given[:, None, :] * states[None, :, :]).reshape(-1, given.shape[1])
    outcomes = tuple(product(*(range(len(table.states[i])) for i in kept)))
    return Look(test.id, given, test.minutes * share, test.place, tuple(kept), outcomes)


def one_step(
    stack: Stack,
    chance: Array,
    beliefs: Array,
    asked: Flags,
    situation: Situation,
    times: Times,
    loss: Loss,
    left: float,
) -> Array:
    """For each look, [T], the expected minutes with it done first and `loss` after it; infinite for those not `asked`
    [T]. `chance` [K] of each outcome, `beliefs` [K, C] after it; an outcome rarer than `NEGLIGIBLE` leaves `left`."""
    minutes = np.full(len(chance), left)
    likely = (chance > NEGLIGIBLE) & asked[stack.owner]
    situations, which = stack.reached(situation)
    minutes[likely] = loss(beliefs[likely], situations, which[likely])
    return np.where(asked, stack.paid(situation, times) + stack.summed(minutes * chance), np.inf)
