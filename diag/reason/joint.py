"""Indications that follow one another, summed over exactly.

Some indications drive others: no supply, no lamp. A connected part of such indications is enumerated over the joint
*classes* of its drivers (states that no rule tells apart share a class), so that under a cause the followers of one
unknown driver are one piece of evidence, whatever their number. Under each joint class every member either follows a
rule (it shows that rule's state under every cause) or shows its own distribution under the cause.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
import numpy.typing as npt

from diag.reason.constants import JOINT_LIMIT

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]
Narrow = npt.NDArray[np.unsignedinteger[Any]]
Flags = npt.NDArray[np.bool_]

Rule = tuple[tuple[tuple[int, tuple[int, ...]], ...], int]
"""Conditions (indication, states, any of which will do), all of which must hold, and the state shown."""


class JointTooLarge(ValueError):
    """More joint classes than `JOINT_LIMIT`."""

    def __init__(self, drivers: Sequence[int], count: int) -> None:
        super().__init__(count)
        self.drivers, self.count = tuple(drivers), count


@dataclass(frozen=True)
class Frame:
    """How joint states fall into cells; members that follow alike share one, so that their logs are added first."""

    cell: Narrow
    """[A]: way * classes + class."""
    cells: int

    def mass(self, weights: _Weights) -> Array:
        """The chances summed over the joint states of each cell, shape [cells, rows]."""
        rows = len(weights.total)
        sums = np.bincount(
            self.cell[weights.state].astype(np.intp) * rows + weights.row, weights.chance, self.cells * rows
        )
        return sums.astype(np.float64).reshape(self.cells, rows)


@dataclass(frozen=True)
class Member:
    """One indication of a connected part: R ways of showing (its own, then one for each rule) times K classes."""

    indication: int
    cls: Index
    """[k]: the class of each of its states; all 0 for one that drives nothing."""
    classes: int
    shown: Array
    """[R - 1, k]: what each rule makes it show, surely."""
    frame: int
    rules: tuple[Rule, ...]

    @property
    def drives(self) -> bool:
        return self.classes > 1

    def given(self, own: Array, seen: Array) -> Array:
        """P(class, seen | way, row), shape [cells, rows]: sums over the states of each class.

        `own` [rows, k] is P(state | row) where no rule holds; `seen` [k], or [rows, k] for a sight of each row."""
        k, n = len(self.cls), len(own)
        sights = np.broadcast_to(seen, (n, k)) if seen.ndim == 2 else seen[None, :]
        showing = own * sights
        out = np.zeros((len(self.shown) + 1, self.classes, n))
        for state, c in enumerate(self.cls):
            out[0, c] += showing[:, state]
            out[1:, c] += self.shown[:, state, None] * sights[:, state]
        return out.reshape(-1, n)


@dataclass(frozen=True, slots=True)
class Kinds:
    """Rows that leave the same ways and classes of the drivers possible are of one kind."""

    cells: Flags
    """[kinds, cells of all drivers]."""
    of: Index
    """[rows]."""


@dataclass(frozen=True, slots=True)
class _Weights:
    """The joint states that each row leaves possible, one after another, with their chances."""

    state: Index
    """[W]."""
    row: Index
    """[W]: whose."""
    chance: Array
    """[W]: P(joint state | row, what was seen)."""
    total: Array
    """[rows]: log P(what was seen | row)."""


@dataclass(frozen=True)
class Joint:
    """A connected part: its members, drivers first, over A joint states of its drivers."""

    members: Mapping[int, Member]
    size: int
    frames: tuple[Frame, ...]

    column: Mapping[int, Index]
    """[A] for each driver: its class."""
    rules: Mapping[int, Sequence[Rule]]
    sizes: Sequence[int]
    parts: dict[frozenset[int], tuple[Joint, ...]]
    """What is left of it for a set of indications seen, made once and kept."""

    @cached_property
    def in_order(self) -> tuple[Member, ...]:
        """Its members, each after all that it follows."""
        ordered: dict[int, Member] = {}
        while len(ordered) < len(self.members):
            for i, member in self.members.items():
                if i not in ordered and all(p in ordered for when, _ in member.rules for p, _ in when):
                    ordered[i] = member
        return tuple(ordered.values())

    def parts_of(self, told: Flags) -> tuple[Joint, ...]:
        """`part` for the indications flagged in `told` [I]."""
        here = frozenset(i for i in self.members if told[i])
        return self.part(here) if here else ()

    def part(self, told: frozenset[int]) -> tuple[Joint, ...]:
        """The connected parts that matter when only `told` were seen: they and what they follow.

        What drives nothing that was seen sums to one. A told indication with no link left stands in none of them."""
        if told not in self.parts:
            needed, waiting = set(told), list(told)
            while waiting:
                for when, _ in self.rules.get(waiting.pop(), ()):
                    new = {parent for parent, _ in when} - needed
                    needed |= new
                    waiting += new
            self.parts[told] = connect({i: r for i, r in self.rules.items() if i in needed}, self.sizes)
        return self.parts[told]

    def log_likelihood(self, seen: Array, p: Array, start: Index, told: Flags) -> Array:
        """log P(what was seen of the members | cause), shape [causes], summed over the joint states.

        `seen` [S] holds P(seen | state), `p` [causes, S], `told` [I] which indications something was seen of.
        """
        own, sights = self._own(p, start), self._own(seen, start)
        kinds = self.kinds(own)
        return self.summed(self.possible(kinds.cells), kinds.of, own, sights, told)

    def _own(self, a: Array, start: Index) -> dict[int, Array]:
        """The columns of each member."""
        return {i: a[..., int(start[i]) : int(start[i + 1])] for i in self.members}

    def kinds(self, own: Mapping[int, Array]) -> Kinds:
        """Rows by what they leave possible; `own` holds each member's own columns, [rows, k]."""
        cells = [
            member.given(own[i], np.ones(own[i].shape[1])) > 0.0 for i, member in self.members.items() if member.drives
        ]
        whole = np.concatenate(cells).T if cells else np.ones((len(next(iter(own.values()))), 1), dtype=bool)
        packed = np.packbits(whole, axis=1)
        number: dict[bytes, int] = {}
        of = np.array([number.setdefault(row.tobytes(), len(number)) for row in packed], dtype=np.intp)
        first = np.unique(of, return_index=True)[1]
        return Kinds(whole[first], of)

    def possible(self, cells: Flags) -> Flags:
        """[kinds, A]: the joint states that a kind leaves possible."""
        holds: Flags = np.ones((len(cells), self.size), dtype=bool)
        at = 0
        for member in self.members.values():
            if member.drives:
                frame = self.frames[member.frame]
                holds &= cells[:, at + frame.cell.astype(np.intp)]
                at += frame.cells
        return holds

    def summed(
        self, possible: Flags, kind: Index, own: Mapping[int, Array], seen: Mapping[int, Array], told: Flags
    ) -> Array:
        """log P(what was seen | row), [rows], over the joint states that the row's kind leaves possible.

        `seen` holds each member's sight, [k] or [rows, k]."""
        return self._weights(possible, kind, own, seen, told).total

    def _weights(
        self, possible: Flags, kind: Index, own: Mapping[int, Array], seen: Mapping[int, Array], told: Flags
    ) -> _Weights:
        """A cause moves few of what others follow, so that the joint states which a row leaves possible are a handful
        out of all: they alone are listed."""
        state = np.nonzero(possible)[1]
        size = possible.sum(axis=1)
        count = size[kind]
        first = np.cumsum(count) - count
        row = np.repeat(np.arange(len(kind)), count)
        state = state[np.arange(len(row)) - first[row] + (np.cumsum(size) - size)[kind][row]]
        logs = np.zeros(len(row))
        with np.errstate(divide="ignore"):  # what a rule shows leaves the other classes without any chance
            for i, member in self.members.items():
                if member.drives or told[i]:
                    given = np.log(member.given(own[i], seen[i]))
                    logs += given[self.frames[member.frame].cell[state], row]
        top = np.maximum.reduceat(logs, first)
        chance = np.exp(logs - top[row])
        sums = np.add.reduceat(chance, first)
        return _Weights(state, row, chance / sums[row], np.log(sums) + top)

    def posterior(self, seen: Array, p: Array, start: Index, told: Flags) -> dict[int, Array]:
        """P(state | cause, what was seen) for each member, [causes, k]; the arguments are those of `log_likelihood`."""
        columns, sights = self._own(p, start), self._own(seen, start)
        kinds = self.kinds(columns)
        weights = self._weights(self.possible(kinds.cells), kinds.of, columns, sights, told)
        masses = [frame.mass(weights) for frame in self.frames]
        found = {}
        for i, member in self.members.items():
            mass = masses[member.frame]
            parts = member.given(columns[i], sights[i])
            scale = np.divide(mass, parts, out=np.zeros_like(mass), where=parts > 0)
            by_state = scale.reshape(-1, member.classes, len(p))[:, member.cls, :]
            ruled = np.einsum("rkc,rk->ck", by_state[1:], member.shown)
            found[i] = (by_state[0].T * columns[i] + ruled) * sights[i]
        return found


def connect(rules: Mapping[int, Sequence[Rule]], sizes: Sequence[int]) -> tuple[Joint, ...]:
    """The connected parts of indications that follow one another.

    `rules` maps an indication to its rules, first match wins; `sizes` are the numbers of states. There must be no loop.
    Raises `JointTooLarge`.
    """
    return tuple(_joint(part, rules, sizes) for part in _parts(rules))


def _parts(rules: Mapping[int, Sequence[Rule]]) -> list[list[int]]:
    """Sets of indications that are linked, each in ascending order."""
    root: dict[int, int] = {}

    def find(i: int) -> int:
        root.setdefault(i, i)
        while root[i] != i:
            i = root[i]
        return i

    for child, its in rules.items():
        for when, _ in its:
            for parent, _ in when:
                root[find(parent)] = find(child)
    parts: dict[int, list[int]] = {}
    for i in sorted(root):
        parts.setdefault(find(i), []).append(i)
    return list(parts.values())


def _classes(driver: int, rules: Mapping[int, Sequence[Rule]], size: int) -> Index:
    """States that no condition tells apart share a class."""
    conditions = sorted(
        {frozenset(states) for its in rules.values() for when, _ in its for parent, states in when if parent == driver},
        key=sorted,
    )
    keys = [tuple(k in c for c in conditions) for k in range(size)]
    number: dict[tuple[bool, ...], int] = {}
    return np.array([number.setdefault(key, len(number)) for key in keys], dtype=np.intp)


def _joint(part: Sequence[int], rules: Mapping[int, Sequence[Rule]], sizes: Sequence[int]) -> Joint:
    parents = {parent for its in rules.values() for when, _ in its for parent, _ in when}
    drivers = [i for i in part if i in parents]
    cls = {i: _classes(i, rules, sizes[i]) for i in drivers}
    counts = [int(cls[i].max()) + 1 for i in drivers]
    total = int(np.prod(counts, dtype=object))
    if total > JOINT_LIMIT:
        raise JointTooLarge(drivers, total)
    joint = np.array(list(product(*(range(n) for n in counts))), dtype=np.intp).reshape(total, len(drivers))
    column = {i: joint[:, d] for d, i in enumerate(drivers)}

    members: dict[int, Member] = {}
    frames: list[Frame] = []
    number: dict[bytes, int] = {}
    for i in [*drivers, *(i for i in part if i not in parents)]:
        its = rules.get(i, ())
        way = np.zeros(total, dtype=np.intp)
        for r, (when, _) in reversed(list(enumerate(its, start=1))):
            holds = np.ones(total, dtype=bool)
            for parent, states in when:
                holds &= np.isin(column[parent], cls[parent][list(states)])
            way[holds] = r
        k = sizes[i]
        shown = np.zeros((len(its), k))
        for r, (_, state) in enumerate(its):
            shown[r, state] = 1.0
        classes = int(cls[i].max()) + 1 if i in cls else 1
        own = cls.get(i, np.zeros(k, dtype=np.intp))
        cells = (len(its) + 1) * classes
        cell = way * classes + column.get(i, np.zeros(total, dtype=np.intp))
        # There are as many of these as joint states, for each frame: kept as narrow as they may be.
        narrow = cell.astype(np.min_scalar_type(cells))
        key = narrow.tobytes() + bytes([len(its), classes])
        if key not in number:
            number[key] = len(frames)
            frames.append(Frame(narrow, cells))
        members[i] = Member(i, own, classes, shown, number[key], tuple(its))
    return Joint(members, total, tuple(frames), column, {i: rules[i] for i in part if i in rules}, sizes, {})
