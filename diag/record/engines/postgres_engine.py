"""A casebook in a PostgreSQL database, for a plant. psycopg is loaded only here."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any

from diag.record.engines import schema
from diag.record.engines.engine import Rows, T, Values
from diag.record.errors import Away, CasebookError, Conflict, InDoubt, NotThere, full, held, only_read
from diag.text import one_line

try:
    import psycopg
    from psycopg import errors as pg
except ImportError:  # pragma: no cover - the message is all there is to it
    raise CasebookError("A casebook in PostgreSQL needs the extra: pip install 'diag[plant]'") from None

SCHEMA = "diag"
"""Where our tables stand in the database."""
CONNECT_SECONDS = 5
HELD_MS = 5000
"""How long one terminal waits for another's entry."""
DOUBT_SECONDS = 15.0
"""How long to go on asking whether an entry was stored, after the connection broke while it was being stored."""
HEARTBEAT = 1.0
"""Seconds after which a database that tells of nothing is asked whether it is there."""
SAFE = ("fsync", "full_page_writes", "synchronous_commit")
"""Settings without which an entry that was shown as recorded can be lost."""
_NAMED = re.compile(r"(?<!:):([a-z_]+)")
_OPTIONS = f"-c search_path={SCHEMA} -c lock_timeout={HELD_MS} -c idle_in_transaction_session_timeout=60000"

Connection = psycopg.Connection[tuple[Any, ...]]


class PostgresEngine:
    """One database. Safe to use from several threads; each terminal takes up to two connections."""

    dialect = "postgres"

    def __init__(self, address: str, *, only_read: bool, create: bool) -> None:
        self.address, self._only_read = address, only_read
        self.shown = one_line(address.partition("?")[0])
        self._lock, self._reading = threading.RLock(), threading.RLock()
        self._writer_thread: int | None = None
        self._write_db: Connection | None = None
        self._read_db: Connection | None = None
        self._backend: tuple[int, str] = (0, "")
        self._listening = False
        self._heard = 0.0
        self._texts: dict[str, str] = {}
        with self._plain():
            self._prepare(create)

    # ------------------------------------------------------------ reading and writing

    def run(self, statement: str, values: Values | None = None) -> Rows:
        if self._writer_thread == threading.get_ident():
            assert self._write_db is not None
            with self._plain():
                return self._rows(self._write_db, statement, values)
        with self._reading, self._plain():
            db = self._reader()
            try:
                return self._rows(db, statement, values)
            except psycopg.OperationalError:
                if not db.closed:
                    raise
            return self._rows(self._reader(), statement, values)  # the database was started anew since

    def many(self, statement: str, values: Sequence[Values]) -> None:
        assert self._write_db is not None
        with self._plain(), self._write_db.cursor() as cursor:
            cursor.executemany(self._own(statement), values)

    def write(self, work: Callable[[], T], stored: Callable[[T], bool]) -> T:
        with self._lock, self._plain():
            if self._only_read:
                raise only_read(self.shown)
            db = self._begin()
            self._writer_thread = threading.get_ident()
            try:
                result = work()
            except BaseException:
                with suppress(psycopg.Error):
                    db.execute("ROLLBACK")
                raise
            finally:
                self._writer_thread = None
            try:
                db.execute("COMMIT")
            except psycopg.Error:
                if not self._was_stored(lambda: stored(result)):
                    raise
            return result

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        with self._reading, self._plain():
            db = self._reader()
            if db.info.transaction_status != psycopg.pq.TransactionStatus.IDLE:
                yield
                return
            db.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            try:
                yield
            finally:
                with suppress(psycopg.Error):
                    db.execute("ROLLBACK")

    def changed(self) -> bool:
        with self._reading, self._plain():
            fresh = self._read_db is None or self._read_db.closed or not self._listening
            db = self._reader()
            if fresh:
                db.execute(f"LISTEN {schema.CHANNEL}")
                self._listening, self._heard = True, time.monotonic()
                return True  # what came before it listened was not heard
            told = bool(list(db.notifies(timeout=0)))
            if time.monotonic() - self._heard >= HEARTBEAT:
                db.execute("SELECT 1")
                self._heard = time.monotonic()
            return told

    def settle(self) -> None:
        """A server settles by itself."""

    def clean_out(self) -> None:
        with self._lock, self._plain():
            db = self._writer()
            for table in ("person", "text", "said"):
                db.execute(f"VACUUM FULL {table}")

    def close(self) -> None:
        with self._lock, self._reading:
            for db in (self._write_db, self._read_db):
                if db is not None:
                    with suppress(psycopg.Error):
                        db.close()

    # ------------------------------------------------------------ the connection

    def _connect(self) -> Connection:
        db = psycopg.connect(
            self.address,
            autocommit=True,
            connect_timeout=CONNECT_SECONDS,
            options=_OPTIONS,
            application_name="diag",
            keepalives_idle=5,
            keepalives_interval=2,
            keepalives_count=3,
            tcp_user_timeout=10_000,
        )
        db.prepare_threshold = 3
        return db

    def _reader(self) -> Connection:
        if self._read_db is None or self._read_db.closed:
            self._listening = False
            self._read_db = self._connect()
        return self._read_db

    def _writer(self) -> Connection:
        if self._write_db is None or self._write_db.closed:
            db = self._connect()
            row = db.execute(
                "SELECT pid, backend_start::text FROM pg_stat_activity WHERE pid = pg_backend_pid()"
            ).fetchone()
            assert row is not None
            self._write_db, self._backend = db, (row[0], row[1])
        return self._write_db

    def _begin(self) -> Connection:
        """The connection in a new transaction. One that broke while nothing was going on is made anew."""
        db = self._writer()
        try:
            db.execute("BEGIN")
        except psycopg.OperationalError:
            if not db.closed:
                raise
            db = self._writer()
            db.execute("BEGIN")
        return db

    def _was_stored(self, stored: Callable[[], bool]) -> bool:
        """Whether what was to be stored is there, once the transaction is over for certain. Raises `InDoubt`."""
        pid, start = self._backend
        end = time.monotonic() + DOUBT_SECONDS
        while time.monotonic() < end:
            try:
                with self._reading:
                    going = self._reader().execute(
                        "SELECT 1 FROM pg_stat_activity WHERE pid = %s AND backend_start::text = %s", (pid, start)
                    )
                    if self._write_db is not None and self._write_db.closed and going.fetchone():
                        time.sleep(0.1)  # the server still works on it
                        continue
                return stored()
            except (psycopg.Error, Away):
                if self._read_db is not None:
                    self._read_db.close()
                time.sleep(0.1)
        raise InDoubt(
            f"The database {self.shown} went away while it recorded, and whether it did is not known."
            " Look at the case again."
        )

    def _rows(self, db: Connection, statement: str, values: Values | None) -> Rows:
        cursor = db.execute(self._own(statement), values or {})
        return cursor.fetchall() if cursor.description is not None else []

    def _own(self, statement: str) -> Any:
        found = self._texts.get(statement)
        if found is None:
            found = _NAMED.sub(r"%(\1)s", statement.replace("%", "%%")).replace("{lock}", " FOR UPDATE")
            self._texts[statement] = found
        return found

    # ------------------------------------------------------------ the tables

    def _prepare(self, create: bool) -> None:
        db = self._reader()
        for setting in SAFE:
            row = db.execute(f"SHOW {setting}").fetchone()
            if row is None or row[0] == "off":
                raise CasebookError(
                    f"The database {self.shown} could lose entries: {setting} is off. Turn it on first."
                )
        version = self._version(db)
        if version is None:
            if self._only_read or not create:
                raise NotThere(f"There is no casebook in the database {self.shown}.")
            self._make()
            version = self._version(db)
        if version != schema.VERSION:
            raise CasebookError(f"{self.shown} was written by another version of diag ({version}). Update diag.")

    def _version(self, db: Connection) -> int | None:
        row = db.execute("SELECT to_regclass(%s)", (f"{SCHEMA}.book",)).fetchone()
        if row is None or row[0] is None:
            return None
        row = db.execute("SELECT version FROM book WHERE one = 1").fetchone()
        return None if row is None else int(row[0])

    def _make(self) -> None:
        db = self._writer()
        db.execute("BEGIN")
        try:
            db.execute("SELECT pg_advisory_xact_lock(%s)", (schema.MARK,))  # another terminal may make them too
            if self._version(db) is None:
                db.execute(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}")
                for statement in schema.statements("postgres"):
                    db.execute(statement.encode())
            db.execute("COMMIT")
        except BaseException:
            with suppress(psycopg.Error):
                db.execute("ROLLBACK")
            raise

    @contextmanager
    def _plain(self) -> Iterator[None]:
        """What PostgreSQL says, as one line for the user."""
        try:
            yield
        except psycopg.Error as error:
            raise self._why(error) from None
        except UnicodeError:
            raise CasebookError(f"The casebook {self.shown} cannot keep a character of this.") from None

    def _why(self, error: psycopg.Error) -> CasebookError:
        name, text = self.shown, one_line(str(error)).rstrip(".")
        match error:
            case pg.UniqueViolation() | pg.SerializationFailure():
                return Conflict("Somebody else has added to this case just now. Look at it again, then repeat.")
            case pg.RaiseException():
                return CasebookError(f"The casebook {name} is only added to.")
            case pg.LockNotAvailable() | pg.DeadlockDetected() | pg.QueryCanceled():
                return held(name)
            case pg.DiskFull() | pg.OutOfMemory():
                return full(name)
            case pg.InsufficientPrivilege() | pg.ReadOnlySqlTransaction():
                return only_read(name)
            case pg.InvalidPassword() | pg.InvalidAuthorizationSpecification() | pg.InvalidCatalogName():
                return CasebookError(f"The database {name} cannot be opened: {text}.")
            case psycopg.OperationalError() | psycopg.InterfaceError():
                return Away(f"Nothing was recorded: the database does not answer. Try again. {name} said: {text}.")
            case _:
                return CasebookError(f"The casebook {name} cannot be used: {text}.")
