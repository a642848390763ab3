"""The casebook: every entry of every case, in one SQLite file that is only ever added to.

An entry is on the disk (write-ahead log, full synchronisation) before `add` returns, so what a screen shows as recorded
survives a kill or a power cut. Two terminals on one case never overwrite each other: the number of an entry is unique,
and the second one is told. The file refuses changes to what is in it by itself, with triggers.
"""

from __future__ import annotations

import json
import os
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from diag.case.events import Entry, Stamped, Unreadable
from diag.case.words import one_line

MARK = 0x44494147
"""SQLite's application id of our files: the letters DIAG."""
SCHEMA = 1
BUSY_MS = 5000
"""How long one terminal waits for another's entry; each takes about a millisecond."""
MOST_BYTES = 1_000_000
"""No entry that this program writes comes near it."""

YEARS = range(2000, 3000)
"""A time outside them is no time of ours, and may be one that cannot be added to or shown."""

TABLE = """
CREATE TABLE entry (
    case_id TEXT NOT NULL,
    seq INTEGER NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL,
    locks TEXT NOT NULL,
    PRIMARY KEY (case_id, seq)
) WITHOUT ROWID;
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'the casebook is only added to'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'the casebook is only added to'); END;
"""

Locks = tuple[tuple[str, str], ...]


class CasebookError(Exception):
    """The casebook cannot be read or written; one line that says why and what to do."""


class Conflict(CasebookError):
    """Somebody else added an entry to the same case at the same time."""


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One case in the list of cases."""

    id: str
    machine: str
    opened: datetime
    last: datetime
    person: str
    """Who had the keys last."""
    closed: str
    """`cured`, `running`, `handed-over`, or empty while open."""
    locks: Locks
    """Isolation point and person, each lock that is on."""


def default_path() -> Path:
    """`DIAG_CASEBOOK`, or a file in the user's own data folder."""
    named = os.environ.get("DIAG_CASEBOOK", "").strip()
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("diag", appauthor=False) / "casebook.sqlite3"


class Casebook:
    """One file of cases. Safe to use from several threads and by several programs at once.

    Raises `CasebookError` from every method when the file is not ours, not readable or not writable.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = default_path() if path is None else Path(path)
        self._lock = threading.RLock()
        with _plain(self.path):
            self._db = self._open()

    def close(self) -> None:
        """Lets go of the file. What was added is in it already."""
        with self._lock:
            self._db.close()

    # ------------------------------------------------------------ adding

    def begin(self, ids: Iterable[str], entries: Callable[[str], tuple[tuple[Stamped, Locks], ...]]) -> str:
        """Opens a case under the first of `ids` that is free, with its first entries. All or nothing."""
        with self._writing() as db:
            for id in ids:
                if db.execute("SELECT 1 FROM entry WHERE case_id = ?", (id,)).fetchone() is None:
                    for stamped, locks in entries(id):
                        _insert(db, id, stamped, locks)
                    return id
        raise CasebookError("No case name is free for today.")

    def add(self, case_id: str, stamped: Stamped, locks: Locks = ()) -> None:
        """Adds one entry; it is on the disk when this returns. `locks`: those that are on after it.

        Raises `Conflict` when the entry's number is not the next one of its case.
        """
        with self._writing() as db:
            (last,) = db.execute("SELECT COALESCE(MAX(seq), 0) FROM entry WHERE case_id = ?", (case_id,)).fetchone()
            if last + 1 != stamped.seq:
                raise Conflict(f"Somebody else has added to case {case_id} just now. Look at it again, then repeat.")
            _insert(db, case_id, stamped, locks)

    # ------------------------------------------------------------ reading

    def events(self, case_id: str) -> tuple[Entry, ...]:
        """The entries of a case, in order; one that cannot be read keeps its place as `Unreadable`. Raises KeyError."""
        rows = self._rows("SELECT seq, body FROM entry WHERE case_id = ? ORDER BY seq", (case_id,))
        if not rows:
            raise KeyError(case_id)
        return tuple(_read(case_id, seq, body) for seq, body in rows)

    def cases(self) -> tuple[CaseLine, ...]:
        """All cases, the one with the latest entry first."""
        rows = self._rows(
            """
            SELECT case_id, seq, body, locks FROM entry AS e
            WHERE kind IN ('opened', 'took-over', 'closed', 'taken-back')
               OR seq = (SELECT MAX(seq) FROM entry WHERE case_id = e.case_id)
            ORDER BY case_id, seq
            """
        )
        cases: dict[str, list[tuple[Entry, str]]] = {}
        for id, seq, body, locks in rows:
            cases.setdefault(str(id), []).append((_read(str(id), seq, body), locks))
        return tuple(sorted((_line(id, rows) for id, rows in cases.items()), key=lambda c: c.last, reverse=True))

    # ------------------------------------------------------------ the file

    def _open(self) -> sqlite3.Connection:
        new = not self.path.exists() or self.path.stat().st_size == 0
        if new:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        try:
            return self._checked("mode=rwc" if new else "mode=rw")
        except sqlite3.OperationalError:
            # The write-ahead log needs a file beside the casebook. Where none may be made and no log is waiting, nobody
            # else is writing either, and the file may be read as it stands.
            log = self.path.with_name(self.path.name + "-wal")
            if new or _may_write(self.path.parent) or (log.exists() and log.stat().st_size):
                raise
            return self._checked("mode=ro&immutable=1")

    def _checked(self, options: str) -> sqlite3.Connection:
        db = self._connect(options)
        try:
            self._check(db)
            db.execute("PRAGMA synchronous = FULL")
        except BaseException:
            db.close()
            raise
        return db

    def _connect(self, options: str) -> sqlite3.Connection:
        return sqlite3.connect(
            f"{self.path.absolute().as_uri()}?{options}",
            uri=True,
            timeout=BUSY_MS / 1000,
            isolation_level=None,
            check_same_thread=False,
        )

    def _check(self, db: sqlite3.Connection) -> None:
        """Makes a new file ours; refuses another program's, and one of a later version."""
        db.execute("BEGIN")  # one view of the file, while another terminal may be making it
        try:
            known = self._known(db)
        finally:
            db.execute("ROLLBACK")
        if known:
            return
        db.execute("PRAGMA journal_mode = WAL")
        with _transaction(db):
            # Another terminal may have made the tables since.
            if self._known(db):
                return
            for statement in TABLE.split(";\n"):
                if statement.strip():
                    db.execute(statement)
            db.execute(f"PRAGMA application_id = {MARK}")
            db.execute(f"PRAGMA user_version = {SCHEMA}")

    def _known(self, db: sqlite3.Connection) -> bool:
        (mark,) = db.execute("PRAGMA application_id").fetchone()
        (version,) = db.execute("PRAGMA user_version").fetchone()
        (tables,) = db.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()
        if not tables and not version and not mark:
            return False
        if mark != MARK:
            raise CasebookError(f"{_shown(self.path)} is not a casebook. Name another file with DIAG_CASEBOOK.")
        if version != SCHEMA:
            raise CasebookError(f"{_shown(self.path)} was written by another version of diag ({version}). Update diag.")
        return True

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._lock, _plain(self.path), _transaction(self._db):
            yield self._db

    def _rows(self, sql: str, values: tuple[str, ...] = ()) -> list[tuple[Any, ...]]:
        with self._lock, _plain(self.path):
            return self._db.execute(sql, values).fetchall()


@contextmanager
def _transaction(db: sqlite3.Connection) -> Iterator[None]:
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")


@contextmanager
def _plain(path: Path) -> Iterator[None]:
    """What SQLite and the system say, as one line for the user."""
    try:
        yield
    except sqlite3.IntegrityError:
        raise Conflict("Somebody else has added to this case just now. Look at it again, then repeat.") from None
    except sqlite3.Error as error:
        raise CasebookError(_why(path, error)) from None
    except (OSError, UnicodeError) as error:
        text = (
            os.strerror(error.errno) if isinstance(error, OSError) and error.errno else ""
        ) or "the system refused it"
        raise CasebookError(f"The casebook {_shown(path)} cannot be used: {text.lower()}.") from None


def _why(path: Path, error: sqlite3.Error) -> str:
    name, text = _shown(path), str(error).lower()
    if "not a database" in text:
        return f"{name} is not a casebook. Name another file with DIAG_CASEBOOK."
    if "locked" in text or "busy" in text:
        return f"The casebook {name} is held by another program. Nothing was recorded; try again."
    if "readonly" in text or "read-only" in text:
        return f"The casebook {name} may only be read. Nothing was recorded."
    if "full" in text:
        return f"No room is left for the casebook {name}. Nothing was recorded."
    if "malformed" in text:
        return f"The casebook {name} is damaged. Keep a copy of it, and name another file with DIAG_CASEBOOK."
    return f"The casebook {name} cannot be used: {one_line(text)}."


def _may_write(folder: Path) -> bool:
    return os.access(folder, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


def _shown(path: Path) -> str:
    return one_line(str(path))


def _insert(db: sqlite3.Connection, id: str, stamped: Stamped, locks: Locks) -> None:
    body = stamped.model_dump_json()
    db.execute(
        "INSERT INTO entry (case_id, seq, kind, body, locks) VALUES (?, ?, ?, ?, ?)",
        (id, stamped.seq, stamped.event.kind, body, json.dumps(locks)),
    )


def _read(id: str, seq: int, body: object) -> Entry:
    """One entry, checked as any other input is."""
    try:
        if not isinstance(body, str) or len(body) > MOST_BYTES:
            raise ValueError
        stamped = Stamped.model_validate_json(body)
        if stamped.seq != seq or stamped.at.tzinfo is None or stamped.at.year not in YEARS:
            raise ValueError
    except (ValidationError, ValueError, RecursionError):
        return Unreadable(seq, f"Entry {seq} of case {one_line(id)} cannot be read. The others stand.")
    return stamped


def _line(id: str, rows: list[tuple[Entry, str]]) -> CaseLine:
    """A case's line from its openings, handovers and ends; whatever cannot be read leaves its place empty."""
    entries = [entry for entry, _ in rows if isinstance(entry, Stamped)]
    taken = {s.event.seq for s in entries if s.event.kind == "taken-back"}
    machine, person, closed = "", "", ""
    for stamped in entries:
        match stamped.event.kind:
            case "opened":
                machine = stamped.event.machine
            case "took-over":
                person = stamped.event.person
                closed = "" if closed == "handed-over" else closed
            case "closed" if stamped.seq not in taken:
                closed = stamped.event.outcome
    times = [stamped.at for stamped in entries] or [datetime.fromtimestamp(0, UTC)]
    return CaseLine(id, machine, times[0], times[-1], person, closed, _locks(rows[-1][1]))


def _locks(text: object) -> Locks:
    try:
        found = json.loads(text) if isinstance(text, str) else []
        return tuple((str(point), str(person)) for point, person in found)
    except (ValueError, TypeError, RecursionError):
        return ()
