"""Many cases, made in bulk: rows as the casebook would write them, but for digests, which nobody verifies here."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from diag.record.casebook import Casebook
from diag.record.digest import canonical, mark_of
from diag.record.entry import micros
from diag.record.store.followed import rest_digits

from .entries import START

MACHINES = 200
PERSONS = 50
OPEN = 100
"""Cases that go on, the newest ones."""
MINUTE = 60_000_000
DIGEST = bytes(range(32))
SALT = bytes(16)
CARRIED = "{}"
"""What goes on from a rest: nothing."""
KINDS = ("opened", "took-over", "gate", "noted", "closed")
"""Of one case, in order."""
TOUCHES = (1, 2, 4)
"""Which of them touch the machine."""
Row = tuple[Any, ...]


def fill(place: Path | str, count: int) -> None:
    """So many cases in a new casebook."""
    with Casebook(place) as book:
        engine: Any = book.engine
        if engine.dialect == "sqlite":
            engine.write(lambda: [_insert(engine, *table) for table in tables(count)], lambda _: False)
        else:
            engine.write(lambda: [_copy(engine, *table) for table in tables(count)], lambda _: False)
            engine._writer().execute("ANALYZE")


def name_of(no: int) -> str:
    return f"case-{no}"


def tables(count: int) -> Iterator[tuple[str, str, Iterator[Row]]]:
    """Each table with its columns and rows."""
    persons = [mark_of(SALT, f"Person {n}", "") for n in range(PERSONS)]
    yield "person", "mark, salt, name, account", ((m, SALT, f"Person {n}", "") for n, m in enumerate(persons))
    heads = "no, id, name, born, year, machine, opened, last, seq, sealed, who, ended, over, cause, remedy, minutes"
    yield "head", f"{heads}, digest", (_head(no, count, persons) for no in range(1, count + 1))
    events = "no, seq, at, who, kind, stamp, body, digest"
    yield "event", events, (row for no in range(1, count + 1) for row in _events(no, count, persons))
    texts = ((no, 4, _note(no), SALT, f"a bang in case {no}") for no in range(1, count + 1))
    yield "text", "no, seq, mark, salt, words", texts
    touches = (row for no in range(1, count + 1) for row in _touches(no, count))
    yield "touch", "machine, rev, no, seq", touches
    rests = ((_machine(no), _rev(no, 3), CARRIED) for no in range(1, count + 1) if not _open(no, count))
    yield "rest", "machine, rev, carried", rests
    last = {_machine(n): _last(n, count) for n in range(1, min(MACHINES, count) + 1)}
    machines = ((machine, _rev(no, len(TOUCHES) - _open(no, count))) for machine, no in last.items())
    yield "machine", "machine, rev", machines
    locks = ((_machine(no), "q1", persons[no % PERSONS], no, 3, 0) for no in range(1, count + 1) if _open(no, count))
    yield "lock_on", "machine, point, who, no, seq, at", locks
    yield "said", "rowid, words", ((no, f"bang {_machine(no)} rare{no}") for no in range(1, count + 1))


def _machine(no: int) -> str:
    return f"m{no % MACHINES}"


def _last(no: int, count: int) -> int:
    """The last case of the machine of this one."""
    return no + (count - no) // MACHINES * MACHINES


def _open(no: int, count: int) -> bool:
    return no > count - OPEN


def _rev(no: int, nth: int) -> int:
    """The state number after so many of a case's entries touched the machine, which were three in each case before."""
    return (no - 1) // MACHINES * 3 + nth


def _note(no: int) -> str:
    return mark_of(SALT, f"a bang in case {no}")


def _at(no: int, seq: int) -> int:
    return micros(START) + (no * 10 + seq) * MINUTE


def _head(no: int, count: int, persons: list[str]) -> Row:
    going = _open(no, count)
    seq = len(KINDS) - going
    who, cause = persons[no % PERSONS], "" if going else f"cause-{no % 30}"
    ended = ("", 0, "", "", 0) if going else ("cured", 1, cause, cause, 30)
    name = name_of(no)
    times = (_at(no, 1), _at(no, seq))
    return (no, f"{no:032x}", name, name, 2026, _machine(no), *times, seq, seq, who, *ended, DIGEST)


def _events(no: int, count: int, persons: list[str]) -> Iterator[Row]:
    who, nth = persons[no % PERSONS], 0
    for n, kind in enumerate(KINDS[: len(KINDS) - _open(no, count)]):
        nth += n in TOUCHES
        rev = _rev(no, nth)
        stamp: dict[str, Any] = {"rev": rev, "role": "electrician"}
        if n in TOUCHES:
            stamp |= {"revs": {_machine(no): rev}, "so": _follows(no, count, kind, who)}
        body = {"text": {"$text": _note(no)}} if kind == "noted" else {"machine": _machine(no)}
        yield no, n + 1, _at(no, n + 1), who, kind, canonical(stamp), canonical(body), DIGEST


def _follows(no: int, count: int, kind: str, who: str) -> dict[str, Any]:
    """The lock of a case that goes on, and the rest that the others end in."""
    if kind == "closed":
        return {"rest": rest_digits(CARRIED)}
    return {"on": [[_machine(no), "q1", who]]} if kind == "gate" and _open(no, count) else {}


def _touches(no: int, count: int) -> Iterator[Row]:
    for nth, n in enumerate(TOUCHES, 1):
        if n < len(KINDS) - _open(no, count):
            yield _machine(no), _rev(no, nth), no, n + 1


def _insert(engine: Any, table: str, columns: str, rows: Iterator[Row]) -> None:
    marks = ", ".join("?" for _ in columns.split(","))
    engine._db.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", rows)


def _copy(engine: Any, table: str, columns: str, rows: Iterator[Row]) -> None:
    db = engine._write_db
    if table == "event":
        db.execute("ALTER TABLE event DISABLE TRIGGER USER")
    if table == "said":
        db.execute("CREATE TEMPORARY TABLE bulk_said (no BIGINT, words TEXT) ON COMMIT DROP")
        table, columns = "bulk_said", "no, words"
    with db.cursor().copy(f"COPY {table} ({columns}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)
    if table == "event":
        db.execute("ALTER TABLE event ENABLE TRIGGER USER")
    if table == "head":
        db.execute("SELECT setval(pg_get_serial_sequence('head', 'no'), (SELECT MAX(no) FROM head))")
    if table == "bulk_said":
        db.execute("INSERT INTO said SELECT no, array_to_tsvector(string_to_array(words, ' ')) FROM bulk_said")
