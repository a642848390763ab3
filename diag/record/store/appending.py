"""Adding entries: the guard of the case, the guard of the machine, the entry and what follows from it, all or nothing.

Everything here runs within one transaction of the engine. Rows are locked in one order (the day, machines by name, the
case), so that no two who add can wait for each other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from diag.record.digest import canonical, entry_digest, genesis, mark_of, new_id, new_salt
from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import Derived, Name, NewEntry, Stale, Stamp, Stored, Text, micros
from diag.record.errors import CasebookError, another_added
from diag.record.store.followed import SO, as_stamped
from diag.record.store.sealing import seal_if_due
from diag.record.words import words_of

MarkOf = Callable[[str], str]
PERSON, TEXT = "$person", "$text"
"""In a stored body, a map of one of these alone stands for a name or a text that is kept apart."""


class StaleMachine(Exception):
    """Ends the transaction: the machine is not as the person saw it."""

    def __init__(self, stale: Stale) -> None:
        super().__init__(stale.machine)
        self.stale = stale


@dataclass(frozen=True, slots=True)
class Added:
    """What a transaction added, so that it can be looked for where its end is in doubt."""

    id: str
    name: str
    stored: Stored


def open_case(engine: Engine, names: Iterator[str], machine: str, entries: Sequence[NewEntry]) -> Added:
    """A new case under the first name that is free in its year, with its first entries."""
    first = entries[0]
    id, year, at = new_id(), first.at.astimezone().year, micros(first.at)
    seal_if_due(engine, micros(entries[-1].at))
    revs = take_machines(engine, entries)
    who = person_mark(engine, first.who, first.stamp.account)
    for name in names:
        digest = genesis(id, name, year, machine)
        values = {"id": id, "name": name, "year": year, "machine": machine, "at": at, "who": who, "digest": digest}
        rows = engine.run(sql.NEW_HEAD, values)
        if rows:
            return Added(id, name, add(engine, rows[0][0], id, machine, 0, digest, entries, revs))
    raise CasebookError("No case name is free for today.")


def append(engine: Engine, no: int, name: str, entries: Sequence[NewEntry], after: int) -> Added:
    """Entries that follow on entry `after` of a case. Raises `Conflict` where that is not its last, and
    `StaleMachine`."""
    seal_if_due(engine, micros(entries[-1].at))
    revs = take_machines(engine, entries)
    rows = engine.run(sql.CHAIN, {"no": no})
    if not rows or rows[0][3] != after:
        raise another_added(name)
    id, machine, _, _, digest = rows[0]
    return Added(id, name, add(engine, no, id, machine, after, digest, entries, revs))


def is_stored(engine: Engine, added: Added) -> bool:
    """Whether the last entry that was added is there."""
    rows = engine.run(sql.STORED, {"id": added.id, "seq": added.stored.seq})
    return bool(rows) and bytes(rows[0][0]) == added.stored.digest


def person_mark(engine: Engine, name: str, account: str = "") -> str:
    """The mark of a person; a new one for a name, or an account of theirs, that was not there."""
    who = {"name": name, "account": account}
    if not (rows := engine.run(sql.PERSON, who)):
        salt = new_salt()
        engine.run(sql.ADD_PERSON, {"mark": mark_of(salt, name, account), "salt": salt, **who})
        rows = engine.run(sql.PERSON, who)
    return str(rows[0][0])


def stamp_text(stamp: Stamp, rev: int, revs: Mapping[str, int], so: Mapping[str, Any] | None) -> str:
    """A stamp as its column holds it; the account stands with the person. `rev`: the state number of the case's machine
    with this entry; `revs`: of those that it touched; `so`: what followed at machines."""
    found: dict[str, Any] = {
        "role": stamp.role,
        "confirmed": list(stamp.confirmed),
        "host": stamp.host,
        "terminal": stamp.terminal,
        "version": stamp.version,
        "sitting": stamp.sitting,
        "offset": stamp.offset,
        "rev": rev or None,
        "revs": dict(revs),
    }
    kept = {key: value for key, value in found.items() if value not in ("", [], None, {})}
    return canonical(kept if so is None else kept | {SO: dict(so)})


def marks_by(engine: Engine, who: str, mark: str) -> MarkOf:
    """Gives the mark of a name; `who` enters under `mark`, which also says by which account."""
    return lambda name: mark if name == who else person_mark(engine, name)


def follow(engine: Engine, no: int, seq: int, at: int, derived: Derived, mark: MarkOf) -> None:
    """Stores what follows from one entry for its machines and for searching; what stands in the head is
    `head_values`."""
    follow_standing(engine, no, seq, at, derived, mark)
    follow_words(engine, no, derived)


def follow_words(engine: Engine, no: int, derived: Derived) -> None:
    """Stores the words that a case is found by since one entry."""
    words = words_of(derived.words)
    if not words:
        return
    speech = sql.WORDS[engine.dialect]
    rows = engine.run(speech["known"], {"no": no})
    known = rows[0][0].split() if rows and rows[0][0] else []
    if new := set(words) - set(known):
        engine.run(speech["add"], {"no": no, "words": " ".join(sorted({*known, *new}))})


def follow_standing(engine: Engine, no: int, seq: int, at: int, derived: Derived, mark: MarkOf) -> None:
    """Stores what stands at machines since one entry. Locks go by the owner's name, since one person may come by
    several accounts."""
    entry = {"no": no, "seq": seq, "at": at}
    for lock in derived.unlocked:
        engine.run(sql.NO_LOCK, {"machine": lock.machine, "point": lock.point, "name": lock.who})
    for lock in derived.locked:
        engine.run(sql.ADD_LOCK, {"machine": lock.machine, "point": lock.point, "who": mark(lock.who), **entry})
    for danger in derived.made_safe:
        engine.run(sql.NO_DANGER, {"machine": danger.machine, "sign": danger.sign})
    for danger in derived.dangers:
        engine.run(sql.ADD_DANGER, {"machine": danger.machine, "sign": danger.sign, **entry})
    if derived.resets is None:
        return
    had = {row[2]: tuple(row) for row in engine.run(sql.CASE_RESETS, {"no": no})}
    resets = {r.seq or seq: (r.machine, r.reset, r.seq or seq, int(r.mistaken)) for r in derived.resets}
    for number in sorted(number for number in had.keys() | resets if had.get(number) != resets.get(number)):
        engine.run(sql.NO_RESET, {"no": no, "seq": number})
        if number in resets:
            machine, reset, _, mistaken = resets[number]
            values = {"machine": machine, "reset": reset, "mistaken": mistaken, "no": no, "seq": number}
            engine.run(sql.ADD_RESET, values)


def head_values(derived: Derived, mark: MarkOf) -> dict[str, Any]:
    """What follows from one entry for the head of its case."""
    return {
        "lead": None if derived.lead is None else mark(derived.lead),
        "ended": derived.ended,
        "over": None if derived.over is None else int(derived.over),
        "cause": derived.cause,
        "remedy": derived.remedy,
        "minutes": derived.minutes,
    }


def take_machines(engine: Engine, entries: Sequence[NewEntry]) -> dict[str, int]:
    """Holds the rows of all machines that are touched, in order, and compares each state number with the one that the
    person saw. Gives the numbers. Raises `StaleMachine`."""
    seen: dict[str, int | None] = {}
    for entry in entries:
        for machine, rev in entry.touches.items():
            seen[machine] = rev if seen.get(machine) is None else seen[machine]
    revs = {}
    for machine in sorted(seen):
        if not (rows := engine.run(sql.REV, {"machine": machine})):
            engine.run(sql.ADD_MACHINE, {"machine": machine})
            rows = engine.run(sql.REV, {"machine": machine})
        revs[machine] = int(rows[0][0])
        if seen[machine] not in (None, revs[machine]):
            raise StaleMachine(Stale(machine, revs[machine]))
    return revs


def add(
    engine: Engine,
    no: int,
    id: str,
    machine: str,
    after: int,
    digest: bytes,
    entries: Sequence[NewEntry],
    revs: dict[str, int],
) -> Stored:
    """Adds entries behind entry `after`, whose digest is `digest`. `revs`: the numbers of the machines touched."""
    before, heads = bytes(digest), []
    rev = revs.get(machine) or machine_rev(engine, machine)
    rows: list[dict[str, Any]] = []
    texts: list[dict[str, Any]] = []
    touched: list[dict[str, Any]] = []
    rests: list[dict[str, Any]] = []
    for seq, entry in enumerate(entries, after + 1):
        for name in entry.touches:
            revs[name] += 1
            touched.append({"machine": name, "rev": revs[name], "no": no, "seq": seq})
        rev = revs.get(machine, rev)
        if entry.derived.rest is not None and machine in entry.touches:
            rests.append({"machine": machine, "rev": rev, "carried": entry.derived.rest})
        who, at = person_mark(engine, entry.who, entry.stamp.account), micros(entry.at)
        mark = marks_by(engine, entry.who, who)
        apart: dict[str, tuple[bytes, str]] = {}
        body = canonical(_kept(entry.body, mark, apart))
        so = as_stamped(engine, entry.derived, seq, entry.touches, machine, mark)
        stamp = stamp_text(entry.stamp, rev, {name: revs[name] for name in entry.touches}, so)
        before = entry_digest(before, id, seq, at, who, entry.kind, stamp, body)
        row: dict[str, Any] = {
            "no": no,
            "seq": seq,
            "at": at,
            "who": who,
            "kind": entry.kind,
            "stamp": stamp,
            "body": body,
        }
        rows.append(row | {"digest": before})
        texts += [{"no": no, "seq": seq, "mark": m, "salt": s, "words": words} for m, (s, words) in apart.items()]
        heads.append(head_values(entry.derived, mark))
    merged = {key: next((h[key] for h in reversed(heads) if h[key] is not None), None) for key in heads[0]}
    last = rows[-1]
    guard = {"no": no, "was": after, "before": bytes(digest), **merged}
    guard |= {"seq": last["seq"], "at": last["at"], "digest": before}
    if not engine.run(sql.NEXT, guard):
        raise another_added(id)
    for row, entry in zip(rows, entries, strict=True):
        engine.run(sql.ADD, row)
        follow(engine, no, row["seq"], row["at"], entry.derived, marks_by(engine, entry.who, row["who"]))
    for text in texts:
        engine.run(sql.ADD_TEXT, text)
    for touch in touched:
        engine.run(sql.ADD_TOUCH, touch)
    for rest in rests:
        engine.run(sql.ADD_REST, rest)
    for name, rev in revs.items():
        engine.run(sql.NEXT_REV, {"machine": name, "rev": rev})
    return Stored(last["seq"], before, rev, revs)


def machine_rev(engine: Engine, machine: str) -> int:
    """The state number of a machine; 0 for one that no entry has touched yet."""
    rows = engine.run(sql.REV.replace("{lock}", ""), {"machine": machine})
    return int(rows[0][0]) if rows else 0


def _kept(value: Any, mark: MarkOf, apart: dict[str, tuple[bytes, str]]) -> Any:
    """The value as it is stored, with a mark in the place of each name and text; texts are put into `apart`."""
    match value:
        case Name(name):
            return {PERSON: mark(name)} if name else ""
        case Text(words):
            if not words:
                return ""
            salt = new_salt()
            own = mark_of(salt, words)
            apart[own] = (salt, words)
            return {TEXT: own}
        case dict():
            if value.keys() & {PERSON, TEXT}:
                raise ValueError("a body may not use the names that stand for what is kept apart")
            return {key: _kept(one, mark, apart) for key, one in value.items()}
        case list() | tuple():
            return [_kept(one, mark, apart) for one in value]
        case _:
            return value
