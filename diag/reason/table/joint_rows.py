"""Rows of a table over one connected part: what was seen of it, added over the joint states that each row leaves.

A cause moves few of what others follow, so that the joint states which a row leaves possible are a handful out of all.
They hang on the row alone and not on what was seen, and so are listed once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from diag.reason.table.joint import Array, Flags, Frame, Index, Joint


@dataclass(frozen=True, slots=True)
class Kinds:
    """Rows that leave the same ways and classes of the drivers possible are of one kind."""

    cells: Flags
    """[kinds, cells of all drivers]."""
    of: Index
    """[rows]."""


def kinds(part: Joint, own: Mapping[int, Array]) -> Kinds:
    """Rows by what they leave possible; `own` holds each member's own columns, [rows, k]."""
    drivers = [(i, member) for i, member in part.members.items() if member.drives]
    cells = [member.given(own[i], np.ones(own[i].shape[1])) > 0.0 for i, member in drivers]
    whole = np.concatenate(cells).T if cells else np.ones((len(next(iter(own.values()))), 1), dtype=bool)
    number: dict[bytes, int] = {}
    of = np.array([number.setdefault(row.tobytes(), len(number)) for row in np.packbits(whole, axis=1)], dtype=np.intp)
    first = np.unique(of, return_index=True)[1]
    return Kinds(whole[first], of)


@dataclass(frozen=True, slots=True)
class Possible:
    """The joint states that each kind of row leaves possible, one kind after another."""

    state: Index
    """[sum of size]."""
    size: Index
    """[kinds]."""

    @staticmethod
    def of(part: Joint, cells: Flags) -> Possible:
        """Those of kinds with these cells, [kinds, cells of all drivers]."""
        holds: Flags = np.ones((len(cells), part.size), dtype=bool)
        at = 0
        for member in part.members.values():
            if member.drives:
                holds &= cells[:, at : at + member.frame.cells].take(member.frame.cell, axis=1)
                at += member.frame.cells
        return Possible(np.nonzero(holds)[1], holds.sum(axis=1))

    def listed(self, kind: Index) -> tuple[Index, Index]:
        """The joint states of rows of these kinds [rows], one row after another, and the row of each."""
        count = self.size[kind]
        row = np.repeat(np.arange(len(kind)), count)
        first = (np.cumsum(self.size) - self.size)[kind] - (np.cumsum(count) - count)
        return self.state[np.arange(len(row)) + first[row]], row


@dataclass(frozen=True, slots=True)
class Weights:
    """W joint states, those of one row after those of another, with their chances."""

    state: Index
    """[W]."""
    row: Index
    """[W]: whose."""
    chance: Array
    """[W]: P(joint state | row, what was seen)."""
    total: Array
    """[rows]: log P(what was seen | row)."""

    def mass(self, frame: Frame) -> Array:
        """The chances summed over the joint states of each cell, shape [cells, rows]."""
        rows = len(self.total)
        sums = np.bincount(frame.cell[self.state].astype(np.intp) * rows + self.row, self.chance, frame.cells * rows)
        return sums.astype(np.float64).reshape(frame.cells, rows)


def weigh(
    part: Joint, possible: Possible, kind: Index, own: Mapping[int, Array], seen: Mapping[int, Array], told: Flags
) -> Weights:
    """The joint states that rows of these kinds [rows] leave possible, by what was seen.

    `own` holds each member's own columns [rows, k], and `seen` its observation, [k] or [rows, k]; `told` [I] flags the
    indications that were seen. A member that drives nothing and was not seen needs neither."""
    state, row = possible.listed(kind)
    logs = np.zeros(len(row))
    by_frame: dict[Frame, Array] = {}
    with np.errstate(divide="ignore"):  # what a rule shows leaves the other classes without any chance
        for i, member in part.members.items():
            if member.drives or told[i]:
                given = np.log(member.given(own[i], seen[i]))
                by_frame[member.frame] = by_frame[member.frame] + given if member.frame in by_frame else given
    for frame, given in by_frame.items():
        logs += given[frame.cell[state], row]
    size = possible.size[kind]
    first = np.cumsum(size) - size
    top = np.maximum.reduceat(logs, first)
    chance = np.exp(logs - top[row])
    sums = np.add.reduceat(chance, first)
    return Weights(state, row, chance / sums[row], np.log(sums) + top)


class JointRows:
    """The rows of a table as one connected part sees them: those that are alike there are taken once, as D rows."""

    def __init__(self, part: Joint, rows: Array, start: Index, alike: Index) -> None:
        """`rows` [R, S]; of those with the same number in `alike` [R] the part sees the same; `start` [I + 1]."""
        self.part = part
        self._start = start
        _, first, self._of = np.unique(alike, return_index=True, return_inverse=True)
        self._own = {i: rows[first, start[i] : start[i + 1]] for i in part.members}
        """[D, k] for each member."""
        found = kinds(part, self._own)
        self._kind, self._possible = found.of, Possible.of(part, found.cells)

    def log_likelihood(self, seen: Array, told: Flags) -> Array:
        """log P(what was seen of the members | row), shape [R], summed over the joint states.

        `seen` [S] holds P(seen | state), `told` [I] says of which indications something was seen."""
        weights = weigh(self.part, self._possible, self._kind, self._own, self._seen(seen), told)
        return np.asarray(weights.total[self._of])

    def posterior(self, seen: Array, told: Flags, rows: Index | slice = slice(None)) -> dict[int, Array]:
        """P(state | row, what was seen) for each member, [rows, k], for the rows of the table wanted.

        The other arguments are those of `log_likelihood`."""
        some, of = np.unique(self._of[rows], return_inverse=True)
        own = {i: p[some] for i, p in self._own.items()}
        observed = self._seen(seen)
        weights = weigh(self.part, self._possible, self._kind[some], own, observed, told)
        masses = {frame: weights.mass(frame) for frame in {member.frame for member in self.part.members.values()}}
        found = {}
        for i, member in self.part.members.items():
            mass = masses[member.frame]
            given = member.given(own[i], observed[i])
            scale = np.divide(mass, given, out=np.zeros_like(mass), where=given > 0)
            ways = scale.reshape(-1, member.classes, len(some))
            shown = ways[0, member.cls].T * own[i]
            for way, state in enumerate(member.ruled, start=1):
                shown[:, state] += ways[way, member.cls[state]]
            found[i] = (shown * observed[i])[of]
        return found

    def _seen(self, seen: Array) -> dict[int, Array]:
        """What was seen of each member, [k]."""
        return {i: seen[self._start[i] : self._start[i + 1]] for i in self.part.members}
