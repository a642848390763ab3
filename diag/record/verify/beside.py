"""What is kept of machines beside the entries, held against what the stamps of all entries say.

The stamps stand under the chain. A case that was imported moved nothing here, so its stamps tell of the casebook that
it comes from. It is over, and gave no state number that is missing here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from diag.record.store.followed import Followed, Standing, rest_digits

MOST = 20
"""Numbers of a machine that are named as missing, one by one."""

Wrong = tuple[str, int, str]
"""The case, or empty; the seq, or 0; one sentence."""
Rows = Sequence[Sequence[Any]]


@dataclass(frozen=True, slots=True)
class Tables:
    """The rows as they are, in the order of their columns in the schema."""

    machine: Rows
    touch: Rows
    lock_on: Rows
    danger_on: Rows
    reset_done: Rows
    rest: Rows


@dataclass(frozen=True, slots=True)
class Of:
    """What the stamps of one case say."""

    no: int
    name: str
    over: bool
    entries: tuple[tuple[int, int, Followed], ...]
    """Seq, time and stamp of each entry that touched a machine, or from which something followed."""

    @property
    def gave(self) -> Iterator[tuple[tuple[str, int], int]]:
        """Machine and state number, and the seq that gave it."""
        for seq, _, found in self.entries:
            for machine, rev in found.revs.items():
                yield (machine, rev), seq


class Beside:
    """The comparison, made once over a whole casebook."""

    def __init__(self, tables: Tables, cases: Sequence[Of]) -> None:
        self._tables = tables
        self._names = {case.no: case.name for case in cases}
        self._touch = {(row[0], row[1]): (row[2], row[3]) for row in tables.touch}
        self._revs = {str(row[0]): int(row[1]) for row in tables.machine}
        self._gave: dict[tuple[str, int], list[tuple[int, int]]] = defaultdict(list)
        here, away = self._parted(cases)
        self.here = frozenset(case.no for case in here)
        """The numbers of the cases that were entered here; of the others nothing else is known."""
        self._cases = here
        self.remarks = [
            f"Case {case.name} counts as imported: what it did at its machine moved nothing here." for case in away
        ]

    def _parted(self, cases: Sequence[Of]) -> tuple[list[Of], list[Of]]:
        """The cases that were entered here, and those that count as imported."""
        touched = {no for no, _ in self._touch.values()}
        here = [case for case in cases if case.no in touched or not case.over]
        for case in here:
            self._add(case)
        top = dict(self._revs)
        for machine, rev in (*self._gave, *self._touch):
            top[machine] = max(top.get(machine, 0), rev)
        rest = sorted((case for case in cases if case.no not in touched and case.over), key=lambda case: case.no)
        away = []
        for case in rest:
            if any(key not in self._gave and key[1] <= top.get(key[0], 0) for key, _ in case.gave):
                here.append(case)
                self._add(case)
            elif any(True for _ in case.gave):
                away.append(case)
        return here, away

    def _add(self, case: Of) -> None:
        for key, seq in case.gave:
            self._gave[key].append((case.no, seq))

    def wrong(self) -> Iterator[Wrong]:
        """What the lists say otherwise than the stamps."""
        yield from self._touches()
        yield from self._states()
        yield from self._rests()
        yield from self._standing()
        yield from self._resets()

    def _touches(self) -> Iterator[Wrong]:
        for (machine, rev), entries in sorted(self._gave.items()):
            for no, seq in entries:
                if self._touch.get((machine, rev)) != (no, seq):
                    name = self._names[no]
                    yield name, seq, f"Entry {seq} of case {name} is missing in the list of what touched {machine}."
            for no, seq in entries[1:]:
                name = self._names[no]
                yield name, seq, f"Entry {seq} of case {name} gave {machine} state {rev}, which another gave, too."
        for (machine, rev), (no, seq) in sorted(self._touch.items()):
            if (no, seq) not in self._gave.get((machine, rev), ()):
                name = self._names.get(no, "")
                yield name, seq, f"The list of what touched {machine} names an entry at state {rev} that did not."

    def _states(self) -> Iterator[Wrong]:
        numbers: dict[str, list[int]] = defaultdict(list)
        for machine, rev in sorted(self._gave):
            numbers[machine].append(rev)
        for machine, gave in numbers.items():
            missing = 0
            for before, after in pairwise((0, *gave)):
                for rev in range(before + 1, min(after, before + 1 + MOST - missing)):
                    missing += 1
                    yield "", 0, f"The entry that gave {machine} state {rev} was taken out with its case."
            if self._revs.get(machine) != gave[-1]:
                kept = self._revs.get(machine, "none")
                yield "", 0, f"The state of {machine} is {gave[-1]} by its entries, and {kept} in the list of machines."
        for machine, rev in sorted(self._revs.items()):
            if machine not in numbers and rev != 0:
                yield "", 0, f"The list of machines gives {machine} state {rev}, and no entry gave it."

    def _rests(self) -> Iterator[Wrong]:
        stamps = {(case.no, seq): found for case in self._cases for seq, _, found in case.entries}
        for machine, rev, carried in sorted(map(tuple, self._tables.rest)):
            entries = self._gave.get((machine, rev), [])
            found = [stamps[entry] for entry in entries]
            if not any(one.rest == rest_digits(carried) or not one.known for one in found):
                no, seq = entries[0] if entries else (0, 0)
                text = f"What {machine} carries on from its rest at state {rev} is not what its entry said."
                yield self._names.get(no, ""), seq, text

    def _standing(self) -> Iterator[Wrong]:
        machines: dict[str, list[tuple[int, int, int, int, int, Followed]]] = defaultdict(list)
        for case in self._cases:
            for seq, at, found in case.entries:
                of = {
                    row[0]
                    for key, words in (("on", 3), ("off", 3), ("danger", 2), ("safe", 2))
                    for row in found.rows(key, words)
                }
                for machine in of | set(found.revs):
                    own = found.revs.get(machine)
                    order = (found.rev, 1) if own is None else (own, 0)
                    machines[machine].append((*order, case.no, seq, at, found))
        locks: dict[tuple[Any, ...], tuple[Any, ...]] = {}
        dangers: dict[tuple[Any, ...], tuple[Any, ...]] = {}
        older = set()
        for machine, entries in sorted(machines.items()):
            if not all(one[5].known for one in entries):
                older.add(machine)
                self.remarks.append(
                    f"Entries at {machine} are of an older diag, so its locks and dangers are not checked."
                )
                continue
            standing = Standing()
            for _, _, no, seq, at, found in sorted(entries, key=lambda one: one[:4]):
                standing.take(machine, found, (no, seq, at))
            locks |= {(machine, *key): entry for key, entry in standing.locks.items()}
            dangers |= {(machine, sign): entry for sign, entry in standing.dangers.items()}
        kept = {tuple(row[:3]): tuple(row[3:]) for row in self._tables.lock_on if row[0] not in older}
        yield from self._compared("lock", "locks that are on", locks, kept)
        kept = {tuple(row[:2]): tuple(row[2:]) for row in self._tables.danger_on if row[0] not in older}
        yield from self._compared("danger sign", "danger signs", dangers, kept)

    def _compared(
        self,
        what: str,
        all_of: str,
        right: Mapping[tuple[Any, ...], tuple[Any, ...]],
        kept: Mapping[tuple[Any, ...], tuple[Any, ...]],
    ) -> Iterator[Wrong]:
        for key in sorted(right.keys() | kept.keys()):
            named = f"The {what} {key[1]} of {key[0]}"
            if (entry := right.get(key)) is None:
                yield "", 0, f"{named} stands among the {all_of}, and no entry says so."
            elif kept.get(key) != entry:
                name, seq = self._names[entry[0]], entry[1]
                how = "is missing among" if key not in kept else "stands with another entry or time among"
                yield name, seq, f"{named}, of entry {seq} of case {name}, {how} the {all_of}."

    def _resets(self) -> Iterator[Wrong]:
        kept: dict[int, set[tuple[Any, ...]]] = defaultdict(set)
        for machine, at, no, seq, reset, mistaken in self._tables.reset_done:
            kept[no].add((machine, reset, seq, mistaken, at))
        for case in self._cases:
            had = kept.pop(case.no, set())
            if not all(found.known for _, _, found in case.entries):
                continue
            times = {seq: at for seq, at, _ in case.entries}
            told = [found.resets for _, _, found in case.entries if found.resets is not None]
            right = {
                (m, reset, seq, mistaken, times.get(seq)) for m, reset, seq, mistaken in (told[-1] if told else ())
            }
            for machine, reset, seq, _, _ in sorted(right ^ had, key=str):
                text = f"The resets of {machine} do not say of {reset} what case {case.name} says at entry {seq}."
                yield case.name, seq, text
        for no, rows in sorted(kept.items()):
            for machine, reset, seq, _, _ in sorted(rows, key=str):
                yield (
                    self._names.get(no, ""),
                    seq,
                    f"The list of resets of {machine} has {reset}, and no entry here says so.",
                )
