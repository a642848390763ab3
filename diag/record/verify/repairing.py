"""What is kept of one machine beside the entries, worked out anew from them, where it does not agree with them.

Where every entry is there and sound, the lists are what the stamps say. Where some are missing or were changed, nobody
knows what they said: then what the lists had stays in as well, and the entry that records the repair is where the
machine's standing state begins anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import NewEntry, micros
from diag.record.errors import CasebookError
from diag.record.store.agreeing import repaired
from diag.record.store.appending import Added, is_stored, open_case
from diag.record.store.followed import Followed, Standing, followed, rest_digits
from diag.record.store.sealing import seal_if_due
from diag.record.verify.beside import Beside, Of, Tables
from diag.record.verify.verifying import Fault, verify
from diag.text import one_line

Rows = tuple[tuple[Any, ...], ...]
MOST = 20
"""Numbers of a machine that are named as missing, one by one."""


@dataclass(frozen=True, slots=True)
class Lists:
    """The rows of one machine, in the order of their columns in the schema, without the machine's name."""

    rev: int
    touch: Rows = ()
    lock_on: Rows = ()
    danger_on: Rows = ()
    reset_done: Rows = ()
    rest: Rows = ()


@dataclass(frozen=True, slots=True)
class Repair:
    """What a repair of one machine would do."""

    machine: str
    right: Lists
    changes: tuple[str, ...]
    """What changes in the lists, a sentence each."""
    lost: tuple[str, ...]
    """What is missing or was changed, a sentence each; empty where every entry is there and sound."""
    locks: tuple[tuple[str, str], ...]
    """Point and person of all that stands in somebody's name afterwards."""
    dangers: tuple[str, ...]
    """The danger signs that stand afterwards."""
    resets: tuple[int, ...]
    """When each reset was done, in microseconds."""

    @property
    def needed(self) -> bool:
        """Whether anything is to be repaired. What is lost stays lost, so a machine is repaired for it only once."""
        return bool(self.changes or self.lost)


def survey(engine: Engine, machine: str, more_lost: Iterable[str] = ()) -> Repair:
    """What a repair of a machine would do. `more_lost`: what else is known to be lost. Raises KeyError where no case
    is of that machine."""
    with engine.snapshot():
        found = _Survey(engine, machine)
        found.lost += more_lost
        found.lost += found.unsound(verify(engine).faults)
        return found.repair()


def repair(engine: Engine, planned: Repair, names: Iterator[str], entries: Sequence[NewEntry]) -> Added:
    """Does what was planned, and opens a case whose last entry records it, in one transaction. Raises `CasebookError`
    where it is no longer what would be done."""

    def work() -> Added:
        # The day before the machine, as everybody who adds takes them.
        seal_if_due(engine, micros(entries[-1].at))
        engine.run(sql.REV, {"machine": planned.machine})
        now = _Survey(engine, planned.machine)
        now.lost += planned.lost
        if now.repair() != planned:
            raise CasebookError("Somebody changed the casebook meanwhile. Nothing was repaired; begin again.")
        _replace(engine, planned)
        return open_case(engine, names, planned.machine, entries)

    return engine.write(work, lambda added: is_stored(engine, added))


class _Survey:
    def __init__(self, engine: Engine, machine: str) -> None:
        self._engine, self._machine = engine, machine
        self.lost: list[str] = []
        self._top = 0
        rows = engine.run(sql.MACHINE_STAMPS, {"machine": machine})
        if not rows:
            raise KeyError(machine)
        self._had = self._lists()
        cases: dict[int, list[tuple[int, int, Followed]]] = {}
        heads: dict[int, tuple[str, bool]] = {}
        for no, name, over, seq, at, stamp in rows:
            heads[no] = str(name), bool(over)
            cases.setdefault(no, []).append((int(seq), int(at), followed(stamp)))
        self._names = {no: name for no, (name, _) in heads.items()}
        all_of = [Of(no, *heads[no], tuple(entries)) for no, entries in cases.items()]
        here = Beside(self._tables(), all_of).here
        self._cases = [case for case in all_of if case.no in here]
        self._begin = repaired(engine, machine)
        """What was before a repair is lost already, and was told then."""

    def repair(self) -> Repair:
        touch = self._touch()
        right, known = self._right(touch)
        changes = tuple(self._changes(right, known))
        locks = tuple(dict.fromkeys((row[0], self._name(row[1])) for row in right.lock_on))
        resets = tuple(row[0] for row in right.reset_done)
        signs = tuple(dict.fromkeys(row[0] for row in right.danger_on))
        return Repair(self._machine, right, changes, tuple(dict.fromkeys(self.lost)), locks, signs, resets)

    def _lists(self) -> Lists:
        rows: dict[str, Rows] = {}
        for table in ("machine", "touch", "lock_on", "danger_on", "reset_done", "rest"):
            found = self._engine.run(f"{sql.ALL_OF[table]} {sql.OF_MACHINE}", {"machine": self._machine})
            rows[table] = tuple(sorted(tuple(row[1:]) for row in found))
        rev = rows.pop("machine")
        return Lists(int(rev[0][0]) if rev else 0, **rows)

    def _tables(self) -> Tables:
        had = self._had
        named = {
            table: [(self._machine, *row) for row in getattr(had, table)]
            for table in ("touch", "lock_on", "danger_on", "reset_done", "rest")
        }
        return Tables(machine=[(self._machine, had.rev)], **named)

    def unsound(self, faults: Iterable[Fault]) -> Iterator[str]:
        """What the chains and seals of the machine's cases say was changed or taken out since the last repair."""
        rev_of = {(self._names[c.no], seq): found.rev for c in self._cases for seq, _, found in c.entries}
        for fault in faults:
            if fault.by not in ("chain", "seal") or fault.case not in self._names.values():
                continue
            if not self._begin or rev_of.get((fault.case, fault.seq), 0) >= self._begin:
                yield fault.text

    def _touch(self) -> dict[int, tuple[int, int, int, Followed]]:
        """State number to the number and seq of the entry that gave it, its time and its stamp."""
        gave: dict[int, tuple[int, int, int, Followed]] = {}
        for case in self._cases:
            for seq, at, found in case.entries:
                rev = found.revs.get(self._machine)
                if rev is None:
                    continue
                if rev in gave and rev < self._begin:
                    continue
                if rev in gave:
                    self.lost.append(f"Entry {seq} of case {case.name} gave state {rev}, which another gave, too.")
                else:
                    gave[rev] = (case.no, seq, at, found)
        top = max((*gave, self._had.rev, *(row[0] for row in self._had.touch)), default=0)
        missing = [rev for rev in range(max(self._begin, 1), top + 1) if rev not in gave]
        for rev in missing[:MOST]:
            self.lost.append(f"The entry that gave {self._machine} state {rev} is not there.")
        if len(missing) > MOST:
            self.lost.append(f"So are {len(missing) - MOST} more.")
        self._top = top
        return gave

    def _right(self, gave: dict[int, tuple[int, int, int, Followed]]) -> tuple[Lists, bool]:
        """The lists as they are to be, and whether the stamps tell all that stands."""
        standing, known = Standing(), True
        for _, (no, seq, at, found) in sorted(gave.items()):
            known = known and found.known
            standing.take(self._machine, found, (no, seq, at))
        locks = {(*key, *entry) for key, entry in standing.locks.items()}
        dangers = {(sign, *entry) for sign, entry in standing.dangers.items()}
        resets, told = set(), set()
        for case in self._cases:
            at_of = {seq: at for seq, at, _ in case.entries}
            latest = next((f.resets for _, _, f in reversed(case.entries) if f.resets is not None), None)
            if latest is not None:
                told.add(case.no)
                resets |= {
                    (at_of[seq], case.no, seq, reset, wrong)
                    for machine, reset, seq, wrong in latest
                    if machine == self._machine and seq in at_of
                }
        worst = bool(self.lost) or not known
        if worst:  # Nobody knows what took it off, or made it safe.
            seen = {row[:2] for row in locks}
            locks |= {row for row in self._had.lock_on if row[:2] not in seen}
            dangers |= {row for row in self._had.danger_on if row[0] not in {d[0] for d in dangers}}
        keys = {row[1:3] for row in resets}
        resets |= {row for row in self._had.reset_done if row[1:3] not in keys and (worst or row[1] not in told)}
        rests = tuple(
            (rev, carried)
            for rev, carried in self._had.rest
            if rev in gave and gave[rev][3].rest == rest_digits(str(carried))
        )
        touch = tuple((rev, no, seq) for rev, (no, seq, _, _) in sorted(gave.items()))
        rows = (touch, tuple(sorted(locks)), tuple(sorted(dangers)), tuple(sorted(resets)), rests)
        return Lists(self._top, *rows), known

    def _changes(self, right: Lists, known: bool) -> Iterator[str]:
        had, machine = self._had, self._machine
        if had.rev != right.rev:
            yield f"The state of {machine} is {right.rev} by its entries, and {had.rev} in the list of machines."
        for rev, no, seq in sorted(set(right.touch) - set(had.touch)):
            yield f"Entry {seq} of case {self._case(no)} comes back as what gave {machine} state {rev}."
        for rev, _, _ in sorted(set(had.touch) - set(right.touch)):
            yield f"State {rev} goes out of the list of what touched {machine}: no entry there gave it."
        for what, before, after in (("lock", had.lock_on, right.lock_on), ("sign", had.danger_on, right.danger_on)):
            yield from self._stands(what, before, after)
        more, less = set(right.reset_done) - set(had.reset_done), set(had.reset_done) - set(right.reset_done)
        for _, no, seq, reset, _ in sorted(more):
            yield f"Reset {reset}, entry {seq} of case {self._case(no)}, is counted again."
        for _, no, seq, reset, _ in sorted(less):
            yield f"Reset {reset} goes out of the list: entry {seq} of case {self._case(no)} says it otherwise."
        for rev, _ in sorted(set(had.rest) - set(right.rest)):
            yield f"What was carried on from the rest at state {rev} goes out: its entry does not say so."
        if not known:
            yield "Entries are of an older diag, so the lists of locks and danger signs stay as they are."

    def _stands(self, what: str, before: Rows, after: Rows) -> Iterator[str]:
        for row in sorted(set(after) - set(before)):
            yield f"Comes back: {self._words(what, row)}, case {self._case(row[-3])}."
        for row in sorted(set(before) - set(after)):
            if row[:-3] not in {one[:-3] for one in after}:
                yield f"Goes out: {self._words(what, row)}. By the entries it does not stand."

    def _words(self, what: str, row: tuple[Any, ...]) -> str:
        if what == "lock":
            return f"{one_line(str(row[0]))} ({one_line(self._name(row[1]))})"
        return f"danger sign {one_line(str(row[0]))}"

    def _name(self, mark: Any) -> str:
        rows = self._engine.run(sql.PERSON_OF, {"mark": mark})
        return str(rows[0][0]) if rows else str(mark)

    def _case(self, no: int) -> str:
        return self._names.get(no, f"with number {no}")


def _replace(engine: Engine, planned: Repair) -> None:
    """Puts the right rows in the place of those that there are. Where entries are lost, what stands is put in by the
    entry that records the repair."""
    of, right = {"machine": planned.machine}, planned.right
    for table in ("touch", "lock_on", "danger_on", "reset_done", "rest"):
        engine.run(f"{sql.EMPTY[table]} {sql.OF_MACHINE}", of)
    if not engine.run(sql.REV, of):
        engine.run(sql.ADD_MACHINE, of)
    engine.run(sql.NEXT_REV, {**of, "rev": right.rev})
    for rev, no, seq in right.touch:
        engine.run(sql.ADD_TOUCH, {**of, "rev": rev, "no": no, "seq": seq})
    for at, no, seq, reset, mistaken in right.reset_done:
        values = {**of, "at": at, "no": no, "seq": seq, "reset": reset, "mistaken": mistaken}
        engine.run(sql.KEEP_RESET, values)
    for rev, carried in right.rest:
        engine.run(sql.ADD_REST, {**of, "rev": rev, "carried": carried})
    if planned.lost:
        return
    for point, who, no, seq, at in right.lock_on:
        engine.run(sql.ADD_LOCK, {**of, "point": point, "who": who, "no": no, "seq": seq, "at": at})
    for sign, no, seq, at in right.danger_on:
        engine.run(sql.ADD_DANGER, {**of, "sign": sign, "no": no, "seq": seq, "at": at})
