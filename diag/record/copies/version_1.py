"""Casebooks of version 1, brought up to the present tables: one table `entry` (case_id, seq, kind, body, locks).

A body was the JSON of `{seq, at, by, event}`, and `locks` the locks that were on after it. Every entry is kept, and one
that cannot be read keeps its place and its bytes. The chain of digests begins with the bringing up: what happened to
the file before, it cannot show.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import accumulate, groupby
from typing import Any

from diag.record.digest import genesis, new_id
from diag.record.engines import statements as sql
from diag.record.engines.engine import Rows, Values
from diag.record.entry import EARLIEST, Derived, LockOn, Name, NewEntry, Stamp, Text, micros, moment
from diag.record.errors import CasebookError
from diag.record.store.appending import add, person_mark, take_machines

NAMES = ("person", "before")
TEXTS = ("text", "why", "reason", "permit", "to", "note", "said", "how")
"""Fields of an event that held a person's name, and free words."""
PLAIN = ("opened", "cannot-tell", "skipped", "did", "remedy-failed", "called", "noted")
"""Kinds of entries that say nothing of what is so at the machine."""
OVER = ("cured", "running")
BROUGHT = "version 1"
"""Stands as the program's version at an entry that was brought up."""


class _Tables:
    """The connection as an engine that only runs statements."""

    dialect = "sqlite"

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db

    def run(self, statement: str, values: Values | None = None) -> Rows:
        return self._db.execute(statement.replace("{lock}", ""), values or {}).fetchall()


def bring_up(db: sqlite3.Connection) -> None:
    """Puts every entry into the present tables and drops the old one. Within a transaction.

    Entries go in by their times, each case's in its own order, since what its cases did to a machine has one order now.
    """
    rows = db.execute("SELECT case_id, seq, kind, body, locks FROM entry ORDER BY case_id, seq").fetchall()
    engine: Any = _Tables(db)
    cases = [_Case(str(id), *_entries(list(found))) for id, found in groupby(rows, key=lambda row: row[0])]
    for case in sorted(cases, key=lambda case: case.entries[0].at):
        case.begin(engine)
    waiting = [
        (at, number, entry)
        for number, case in enumerate(cases)
        for at, entry in zip(accumulate((entry.at for entry in case.entries), max), case.entries, strict=True)
    ]
    for _, number, entry in sorted(waiting, key=lambda one: one[0]):
        cases[number].add(engine, entry)
    db.execute("DROP TABLE entry")


@dataclass
class _Case:
    """A case on its way into the present tables."""

    name: str
    machine: str
    entries: list[NewEntry]
    no: int = 0
    id: str = ""
    seq: int = 0
    digest: bytes = b""

    def begin(self, engine: Any) -> None:
        first, self.id = self.entries[0], new_id()
        year = first.at.astimezone().year
        self.digest = genesis(self.id, self.name, year, self.machine)
        values = {"id": self.id, "name": self.name, "year": year, "machine": self.machine, "at": micros(first.at)}
        values |= {"who": person_mark(engine, first.who), "digest": self.digest}
        ((self.no,),) = engine.run(sql.NEW_HEAD, values)

    def add(self, engine: Any, entry: NewEntry) -> None:
        revs = take_machines(engine, [entry])
        stored = add(engine, self.no, self.id, self.machine, self.seq, self.digest, [entry], revs)
        self.seq, self.digest = stored.seq, stored.digest


def _entries(rows: Sequence[Sequence[Any]]) -> tuple[str, list[NewEntry]]:
    """The machine and the entries of one case."""
    found = [_parsed(row) for row in rows]
    times = [at for at, _, _, _ in found if at is not None]
    opened = (event.get("machine", "") for _, _, event, _ in found if event and event.get("kind") == "opened")
    at, machine = times[0] if times else moment(EARLIEST), str(next(opened, ""))
    ended, closed, keys = "", {}, ("", Stamp(version=BROUGHT))
    locks: frozenset[LockOn] = frozenset()
    entries = []
    for (_, seq, kind, body, standing), (time, by, event, stamp) in zip(rows, found, strict=True):
        at, changes = time or at, {}
        if event is not None:
            match event.get("kind"):
                case "took-over":
                    changes["lead"] = str(event.get("person", ""))
                    keys = changes["lead"], _stamp(event)
                    ended = "" if ended == "handed-over" else ended
                case "closed":
                    closed[seq] = ended = str(event.get("outcome", ""))
                case "taken-back" if event.get("seq") in closed:
                    ended = ""
        if not stamp.role and by == keys[0]:  # what they had said of themselves stood in the case, not at each entry
            stamp = keys[1]
        had, locks = locks, _locks(machine, standing, locks)
        derived = Derived(
            ended=ended,
            over=ended in OVER,
            locked=tuple(sorted(locks - had, key=str)),
            unlocked=tuple(sorted(had - locks, key=str)),
            **changes,  # type: ignore[arg-type]
        )
        kept = {"unreadable": Text(_raw(body))} if event is None else _apart(event)
        touches: dict[str, int | None] = {machine: None} if machine and (event is None or kind not in PLAIN) else {}
        entries.append(NewEntry(at, by, _raw(kind), kept, stamp, derived, touches))
    return machine, entries


def _parsed(row: Sequence[Any]) -> tuple[datetime | None, str, dict[str, Any] | None, Stamp]:
    """Time, person, event and stamp of one row; the event is None where it cannot be read."""
    _, seq, _, body, _ = row
    try:
        found = json.loads(body)
        at = datetime.fromisoformat(found["at"])
        event, by = found["event"], found["by"]
        if at.tzinfo is None or found["seq"] != seq or not isinstance(event, dict) or not isinstance(by, str):
            raise ValueError
        micros(at)
        return at.astimezone(UTC), by, event, _stamp(found)
    except (ValueError, TypeError, KeyError, RecursionError, OverflowError, CasebookError):
        return None, "", None, Stamp(version=BROUGHT)


def _stamp(said: dict[str, Any]) -> Stamp:
    """What somebody had said of themselves."""
    confirmed = tuple(word for word in ("authorised", "qualified") if said.get(word) is True)
    return Stamp(str(said.get("role") or ""), confirmed, version=BROUGHT, sitting=str(said.get("sitting") or ""))


def _apart(event: dict[str, Any]) -> dict[str, Any]:
    """The event as a body: without its kind, which has a column, and with names and free words marked."""
    body: dict[str, Any] = {}
    for key, value in event.items():
        if key == "kind":
            continue
        if isinstance(value, str) and key in NAMES:
            body[key] = Name(value)
        elif isinstance(value, str) and key in TEXTS:
            body[key] = Text(value)
        else:
            body[key] = value
    return body


def _locks(machine: str, text: Any, before: frozenset[LockOn]) -> frozenset[LockOn]:
    """The locks that were on after an entry; those from before it, where they cannot be read."""
    try:
        return frozenset(LockOn(machine, str(point), str(person)) for point, person in json.loads(text))
    except (ValueError, TypeError, RecursionError):
        return before


def _raw(value: Any) -> str:
    """What stood in a column, as text."""
    if isinstance(value, bytes):
        return value.decode("utf-8", "backslashreplace")
    return str(value).encode("utf-8", "backslashreplace").decode()
