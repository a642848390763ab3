"""Indications that follow one another, summed over exactly.

Some indications drive others: no supply, no lamp. A connected part of such indications is enumerated over the joint
*classes* of its drivers (states that no rule tells apart share a class), so that under a cause the followers of one
unknown driver are one piece of evidence, whatever their number. Under each joint class every member either follows a
rule (it shows that rule's state under every cause) or shows its own distribution under the cause.

A joint class is called a joint state below. `connect` makes the parts, `joint_rows` adds over their joint states.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from diag.reason.constants import JOINT_LIMIT

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]
Narrow = npt.NDArray[np.unsignedinteger[Any]]
Flags = npt.NDArray[np.bool_]

Condition = tuple[int, tuple[int, ...]]
"""An indication, and its states, any of which will do."""
Rule = tuple[tuple[Condition, ...], int]
"""Conditions, all of which must hold, and the state shown."""

PARTS_KEPT = 256
"""Sets of indications seen for which the connected parts are kept: more than any case has facts, undone ones too."""


class JointTooLarge(ValueError):
    """A part has more joint states than `JOINT_LIMIT`."""

    def __init__(self, drivers: Sequence[int], count: int) -> None:
        super().__init__(count)
        self.drivers, self.count = tuple(drivers), count


@dataclass(frozen=True, eq=False)
class Frame:
    """How joint states fall into cells. Members that follow alike share a frame, so that their logs are added first."""

    cell: Narrow
    """[A]: way * classes + class."""
    cells: int


@dataclass(frozen=True)
class Member:
    """One indication of a connected part: R ways of showing (its own, then one for each rule) times K classes."""

    indication: int
    cls: Index
    """[k]: the class of each of its states; all 0 for one that drives nothing."""
    classes: int
    frame: Frame
    rules: tuple[Rule, ...]

    @property
    def drives(self) -> bool:
        """Whether another member follows it."""
        return self.classes > 1

    @cached_property
    def ruled(self) -> Index:
        """[R - 1]: the state that each rule makes it show."""
        return np.array([state for _, state in self.rules], dtype=np.intp)

    def given(self, own: Array, seen: Array) -> Array:
        """P(class, seen | way, row), shape [R * K, rows]: summed over the states of each class.

        `own` [rows, k] is P(state | row) where no rule holds; `seen` [k], or [rows, k] if each row has its own."""
        showing = own * seen
        out = np.zeros((len(self.rules) + 1, self.classes, len(own)))
        for state, c in enumerate(self.cls):
            out[0, c] += showing[:, state]
        for way, state in enumerate(self.ruled, start=1):
            out[way, self.cls[state]] = seen[..., state]
        return out.reshape(-1, len(own))


@dataclass(frozen=True)
class Joint:
    """A connected part: its members, drivers first, over A joint states of its drivers."""

    members: Mapping[int, Member]
    size: int
    rules: Mapping[int, Sequence[Rule]]
    sizes: Sequence[int]
    _parts: dict[frozenset[int], tuple[Joint, ...]] = field(default_factory=dict)

    @cached_property
    def in_order(self) -> tuple[Member, ...]:
        """Its members, each after all that it follows."""
        ordered: dict[int, Member] = {}
        while len(ordered) < len(self.members):
            for i, member in self.members.items():
                if i not in ordered and all(p in ordered for when, _ in member.rules for p, _ in when):
                    ordered[i] = member
        return tuple(ordered.values())

    def parts_of(self, flags: Flags) -> tuple[Joint, ...]:
        """The connected parts that matter when only the indications flagged, [I], were seen: they and what they follow.

        What drives nothing that was seen sums to one. A flagged indication with no link left stands in none of them."""
        told = frozenset(i for i in self.members if flags[i])
        if told and told not in self._parts:
            needed, waiting = set(told), list(told)
            while waiting:
                new = {parent for when, _ in self.rules.get(waiting.pop(), ()) for parent, _ in when} - needed
                needed |= new
                waiting += new
            if len(self._parts) >= PARTS_KEPT:
                del self._parts[next(iter(self._parts))]
            self._parts[told] = connect({i: r for i, r in self.rules.items() if i in needed}, self.sizes)
        return self._parts[told] if told else ()


def connect(rules: Mapping[int, Sequence[Rule]], sizes: Sequence[int]) -> tuple[Joint, ...]:
    """The connected parts of indications that follow one another.

    `rules` maps an indication to its rules, first match wins; `sizes` are the numbers of states. There must be no loop.
    Raises `JointTooLarge`.
    """
    return tuple(_joint(part, rules, sizes) for part in _linked(rules))


def _linked(rules: Mapping[int, Sequence[Rule]]) -> list[list[int]]:
    """Sets of indications that are linked, each in ascending order."""
    root: dict[int, int] = {}

    def find(i: int) -> int:
        root.setdefault(i, i)
        while root[i] != i:
            i = root[i]
        return i

    for child, parent in ((child, parent) for child, own in rules.items() for when, _ in own for parent, _ in when):
        root[find(parent)] = find(child)
    parts: dict[int, list[int]] = {}
    for i in sorted(root):
        parts.setdefault(find(i), []).append(i)
    return list(parts.values())


def _joint(part: Sequence[int], rules: Mapping[int, Sequence[Rule]], sizes: Sequence[int]) -> Joint:
    its = {i: tuple(rules[i]) for i in part if i in rules}
    wanted: dict[int, set[tuple[int, ...]]] = {}
    for parent, states in (condition for own in its.values() for when, _ in own for condition in when):
        wanted.setdefault(parent, set()).add(states)
    drivers = [i for i in part if i in wanted]
    classes = {i: _classes(wanted[i], sizes[i]) for i in drivers}
    space = _Space(drivers, classes)
    members, frames = {}, dict[object, Frame]()
    for i in [*drivers, *(i for i in part if i not in wanted)]:
        cls, own = classes.get(i, np.zeros(sizes[i], dtype=np.intp)), its.get(i, ())
        count, way = int(cls.max()) + 1, space.way(own)
        cells = (len(own) + 1) * count
        # There are as many of these as joint states, for each frame: kept as narrow as they may be.
        cell = (way * count + space.column[i] if i in classes else way).astype(np.min_scalar_type(cells))
        frame = frames.setdefault((cell.tobytes(), len(own), count), Frame(cell, cells))
        members[i] = Member(i, cls, count, frame, own)
    return Joint(members, space.size, its, sizes)


def _classes(conditions: set[tuple[int, ...]], size: int) -> Index:
    """[size]: states that no condition tells apart share a class."""
    ordered = sorted({frozenset(states) for states in conditions}, key=sorted)
    number: dict[tuple[bool, ...], int] = {}
    keys = (tuple(k in states for states in ordered) for k in range(size))
    return np.array([number.setdefault(key, len(number)) for key in keys], dtype=np.intp)


class _Space:
    """The joint states of some drivers, the last one changing fastest, and which rule holds in each."""

    def __init__(self, drivers: Sequence[int], classes: Mapping[int, Index]) -> None:
        self._classes = classes
        counts = [int(classes[i].max()) + 1 for i in drivers]
        self.size = int(np.prod(counts, dtype=object))
        if self.size > JOINT_LIMIT:
            raise JointTooLarge(drivers, self.size)
        each = [1]
        for count in reversed(counts):
            each.append(each[-1] * count)
        self.column = {
            i: np.tile(np.arange(count, dtype=np.intp).repeat(step), self.size // (step * count))
            for i, count, step in zip(drivers, counts, reversed(each[:-1]), strict=True)
        }
        """[A] for each driver: its class."""
        self._holds: dict[Condition, Flags] = {}

    def way(self, rules: Sequence[Rule]) -> Index:
        """[A]: the number of the first rule that holds, from 1; 0 where none does."""
        way = np.zeros(self.size, dtype=np.intp)
        for number in range(len(rules), 0, -1):
            holds = [self._where(condition) for condition in rules[number - 1][0]]
            way[np.logical_and.reduce(holds) if len(holds) > 1 else holds[0]] = number
        return way

    def _where(self, condition: Condition) -> Flags:
        """[A]: where a condition holds. Many rules of a machine share one."""
        if condition not in self._holds:
            parent, states = condition
            flags = np.zeros(int(self._classes[parent].max()) + 1, dtype=bool)
            flags[self._classes[parent][list(states)]] = True
            self._holds[condition] = flags[self.column[parent]]
        return self._holds[condition]
