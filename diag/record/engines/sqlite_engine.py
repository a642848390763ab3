"""A casebook in one SQLite file, with a write-ahead log and full synchronisation."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from diag.record.address import not_a_file
from diag.record.engines import schema
from diag.record.engines.engine import Rows, T, Values
from diag.record.errors import CasebookError, Conflict, Moved, NotThere, full, held, only_read
from diag.text import one_line

MODE = 0o600
"""Of a new file: its owner alone reads and writes it."""
BUSY_MS = 5000
"""How long one terminal waits for another's entry; each takes about a millisecond."""
OLDEST = (3, 37)
"""SQLite before it has no strict tables."""
NETWORKS = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "fuse.sshfs", "afs")
"""File systems of other computers. The write-ahead log needs memory that all who write share."""

Bring = Callable[[sqlite3.Connection], None]


class SqliteEngine:
    """One file. Safe to use from several threads and by several programs at once."""

    dialect = "sqlite"

    def __init__(self, path: Path, named_by: str, *, only_read: bool, create: bool, bring: Bring) -> None:
        """`bring` brings the tables of version 1, within a transaction, up to the present ones."""
        self.path, self.shown, self._named_by = path, one_line(str(path)), named_by
        self._lock, self._reading = threading.RLock(), threading.RLock()
        self._writer_thread: int | None = None
        self._seen: int | None = None
        self._db: sqlite3.Connection | None = None
        self._read: sqlite3.Connection
        with self._plain():
            _check_version()
            if not_a_file(path):
                raise CasebookError(f"{self.shown} is not an ordinary file. Name another file with {named_by}.")
            self._open(only_read, create, bring)
        self._identity = self._file()

    # ------------------------------------------------------------ reading and writing

    def run(self, statement: str, values: Values | None = None) -> Rows:
        if self._writer_thread == threading.get_ident():
            assert self._db is not None
            with self._plain():
                return _rows(self._db, statement, values)
        with self._reading, self._plain():
            return _rows(self._read, statement, values)

    def many(self, statement: str, values: Sequence[Values]) -> None:
        assert self._db is not None
        with self._plain():
            self._db.executemany(_own(statement), values)

    def write(self, work: Callable[[], T], stored: Callable[[T], bool]) -> T:
        with self._lock, self._plain():
            db = self._db
            if db is None:
                raise only_read(self.shown, self._named_by)
            self._check_place("Nothing was recorded.")
            db.execute("BEGIN IMMEDIATE")
            self._writer_thread = threading.get_ident()
            try:
                result = work()
                self._check_place("Nothing was recorded.")
                try:
                    db.execute("COMMIT")
                except sqlite3.Error:
                    with suppress(sqlite3.Error):
                        db.execute("ROLLBACK")
                    if not stored(result):
                        raise
            except BaseException:
                if db.in_transaction:
                    db.execute("ROLLBACK")
                raise
            finally:
                self._writer_thread = None
            self._check_place("What was entered just now stands in the file that was moved.")
            return result

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        with self._reading, self._plain():
            if self._read.in_transaction:
                yield
                return
            self._read.execute("BEGIN")
            try:
                yield
            finally:
                self._read.execute("ROLLBACK")

    def changed(self) -> bool:
        self._check_place("What others enter is not seen here any more.")
        with self._reading, self._plain():
            (version,) = self._read.execute("PRAGMA data_version").fetchone()
        before, self._seen = self._seen, version
        return bool(before != version)

    # ------------------------------------------------------------ the file

    def settle(self) -> None:
        if self._db is None or not self._lock.acquire(blocking=False):
            return
        try:
            with suppress(sqlite3.Error):
                self._db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
        finally:
            self._lock.release()

    def clean_out(self) -> None:
        with self._lock, self._plain():
            assert self._db is not None
            self._db.execute("INSERT INTO said(said) VALUES ('rebuild')")
            self._db.execute("VACUUM")
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def close(self) -> None:
        """What was added stands in the file itself then, not in the log beside it."""
        with self._lock, self._reading:
            if self._db is not None:
                self._read.close()
                with suppress(sqlite3.Error, CasebookError):
                    self._check_place("")
                    self._db.execute("PRAGMA busy_timeout = 0")
                    self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
                self._db.close()
            self._read.close()

    def copy_to(self, path: Path) -> None:
        """A sound copy in one new file, while others may write."""
        with self._plain():
            _new_file(path)
            target = sqlite3.connect(path)
            try:
                with self._reading:
                    self._read.backup(target)
                target.execute("PRAGMA journal_mode = DELETE").fetchall()
            except BaseException:
                target.close()
                path.unlink(missing_ok=True)
                raise
            target.close()

    def _open(self, only_read: bool, create: bool, bring: Bring) -> None:
        there = self.path.exists()
        if not there and (only_read or not create):
            raise NotThere(f"There is no casebook {self.shown}.")
        new = not there or self.path.stat().st_size == 0
        if only_read:
            self._read = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
            if new:
                self._make(self._read)
                return
            self._read.close()
            self._read = self._reader(bring)
            return
        if not there:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            # Names of people stand in it. What SQLite makes beside it takes the same mode.
            with suppress(FileExistsError):
                _new_file(self.path)
        if network := _network(self.path):
            raise CasebookError(
                f"{self.shown} lies on another computer ({network}), where entries could be lost."
                " Name a file on this one, or a PostgreSQL database."
            )
        try:
            self._db = self._writer(bring)
        except sqlite3.OperationalError:
            if new or (_may_write(self.path) and _may_write(self.path.parent)):
                raise
        self._read = self._reader(bring)

    def _writer(self, bring: Bring) -> sqlite3.Connection:
        db = self._connect("mode=rw")
        try:
            db.execute("PRAGMA foreign_keys = ON")
            db.execute("PRAGMA secure_delete = ON")
            version = self._version(db)
            if version != schema.VERSION:
                if version == 1:
                    self._keep_copy(db)
                db.execute("PRAGMA journal_mode = WAL").fetchall()
                self._make_or_bring(db, bring)
            db.execute("PRAGMA synchronous = FULL")
            if not _may_write(self.path):
                raise sqlite3.OperationalError("attempt to write a readonly database")
        except BaseException:
            db.close()
            raise
        return db

    def _make_or_bring(self, db: sqlite3.Connection, bring: Bring) -> None:
        db.execute("BEGIN IMMEDIATE")
        try:
            version = self._version(db)  # another terminal may have made the tables since
            if version == 0:
                self._make(db)
            elif version == 1:
                self._make(db)
                bring(db)
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise
        # From now on the file alone is a casebook, whatever becomes of the log beside it.
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def _make(self, db: sqlite3.Connection) -> None:
        for statement in schema.statements("sqlite"):
            db.execute(statement)
        db.execute(f"PRAGMA application_id = {schema.MARK}")
        db.execute(f"PRAGMA user_version = {schema.VERSION}")

    def _reader(self, bring: Bring) -> sqlite3.Connection:
        db = self._connect("mode=rw")
        try:
            version = self._version(db)
        except sqlite3.OperationalError:
            db.close()
            # The write-ahead log needs a file beside the casebook. Where none may be made and no log is waiting, nobody
            # else is writing either, and the file may be read as it stands.
            if not self._log_is_empty() or _may_write(self.path.parent):
                raise
            db = self._connect("mode=ro&immutable=1")
            version = self._version(db)
        except BaseException:
            db.close()
            raise
        if version == 1:  # looking changes nothing, so an older casebook is brought up in memory
            brought = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
            db.backup(brought)
            db.close()
            self._make(brought)
            bring(brought)
            return brought
        db.execute("PRAGMA query_only = ON")
        return db

    def _keep_copy(self, db: sqlite3.Connection) -> None:
        """A copy of an older casebook beside it, before it is brought up."""
        for number in range(1, 1000):
            path = self.path.with_name(f"{self.path.name}.version-1{'' if number == 1 else f'-{number}'}")
            try:
                _new_file(path)
            except FileExistsError:
                continue
            target = sqlite3.connect(path)
            try:
                db.backup(target)
                target.execute("PRAGMA journal_mode = DELETE").fetchall()
            finally:
                target.close()
            return

    def _connect(self, options: str) -> sqlite3.Connection:
        return sqlite3.connect(
            f"{self.path.absolute().as_uri()}?{options}",
            uri=True,
            timeout=BUSY_MS / 1000,
            isolation_level=None,
            check_same_thread=False,
        )

    def _version(self, db: sqlite3.Connection) -> int:
        """The version of the tables, 0 for an empty file; refuses another program's, and one of a later version."""
        own = not db.in_transaction
        if own:
            db.execute("BEGIN")  # one view of the file, while another terminal may be making it
        try:
            (mark,) = db.execute("PRAGMA application_id").fetchone()
            (version,) = db.execute("PRAGMA user_version").fetchone()
            (tables,) = db.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()
        finally:
            if own and db.in_transaction:
                db.execute("ROLLBACK")
        if not tables and not version and not mark:
            return 0
        if mark != schema.MARK:
            raise CasebookError(f"{self.shown} is not a casebook. Name another file with {self._named_by}.")
        if version not in (1, schema.VERSION):
            raise CasebookError(f"{self.shown} was written by another version of diag ({version}). Update diag.")
        return int(version)

    def _file(self) -> tuple[int, int] | None:
        try:
            status = self.path.stat()
        except OSError:
            return None
        return status.st_dev, status.st_ino

    def _check_place(self, then: str) -> None:
        if self._file() != self._identity:
            raise Moved(
                f"The casebook was moved, removed or replaced while diag had it open. {then}"
                f" Put it back, or start diag again. It was {self.shown}."
            )

    def _log_is_empty(self) -> bool:
        log = self.path.with_name(self.path.name + "-wal")
        return not (log.exists() and log.stat().st_size)

    @contextmanager
    def _plain(self) -> Iterator[None]:
        """What SQLite and the system say, as one line for the user."""
        try:
            yield
        except sqlite3.IntegrityError as error:
            if "only added to" in str(error):
                raise CasebookError(f"The casebook {self.shown} is only added to.") from None
            raise Conflict("Somebody else has added to this case just now. Look at it again, then repeat.") from None
        except sqlite3.Error as error:
            raise self._why(error) from None
        except (OSError, UnicodeError) as error:
            text = os.strerror(error.errno) if isinstance(error, OSError) and error.errno else ""
            text = (text or "the system refused it").lower()
            raise CasebookError(f"The casebook {self.shown} cannot be used: {text}.") from None

    def _why(self, error: sqlite3.Error) -> CasebookError:
        name, text, named_by = self.shown, str(error).lower(), self._named_by
        if "not a database" in text:
            return CasebookError(f"{name} is not a casebook. Name another file with {named_by}.")
        if "locked" in text or "busy" in text:
            return held(name)
        if "readonly" in text or "read-only" in text:
            return only_read(name, named_by)
        if "full" in text:
            return full(name)
        if "malformed" in text:
            keep = f"Keep a copy of it, and name another file with {named_by}."
            return CasebookError(f"The casebook {name} is damaged. {keep}")
        return CasebookError(f"The casebook {name} cannot be used: {one_line(text)}.")


def _rows(db: sqlite3.Connection, statement: str, values: Values | None) -> Rows:
    """The rows that a statement gives. A text that is no UTF-8 any more was altered: what can be read of it stays, so
    that it is found by its digest and the others stand."""
    try:
        return db.execute(_own(statement), values or {}).fetchall()
    except sqlite3.OperationalError as error:
        if "decode to utf-8" not in str(error).lower():
            raise
    db.text_factory = lambda found: found.decode("utf-8", "replace")
    return db.execute(_own(statement), values or {}).fetchall()


def _own(statement: str) -> str:
    return statement.replace("{lock}", "")


def _new_file(path: Path) -> None:
    """An empty file that its owner alone reads. Raises FileExistsError."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, MODE))


def _may_write(path: Path) -> bool:
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


def _check_version() -> None:
    if sqlite3.sqlite_version_info < OLDEST:
        raise CasebookError(f"SQLite {sqlite3.sqlite_version} is too old to keep a casebook; 3.37 or later is needed.")


def _network(path: Path) -> str:
    """The kind of file system that the file lies on, where that is another computer's; else empty."""
    try:
        mounts = Path("/proc/self/mounts").read_text(encoding="utf-8", errors="replace").splitlines()
        whole = path.resolve()
    except OSError:
        return ""
    found, kind = "", ""
    for line in mounts:
        _, place, type_ = line.split(" ")[:3]
        place = place.replace("\\040", " ")
        if len(place) >= len(found) and whole.is_relative_to(place):
            found, kind = place, type_
    return kind if kind in NETWORKS else ""
