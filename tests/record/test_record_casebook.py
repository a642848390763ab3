"""The casebook: durable, added to only, and one clear line for whatever is wrong with it."""

from __future__ import annotations

import os
import sqlite3
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from case.case_steps import ANN, BOB, Ticking, gate, lock_out

from diag.case.case import Case
from diag.case.log.events import Closed, Noted, Stamped, Unreadable
from diag.case.log.stored import cases_in, entries_of
from diag.machine.model import Machine
from diag.record.casebook import Casebook, CasebookError, Conflict, Full, OnlyRead, default_path
from diag.record.engines.sqlite_engine import SqliteEngine
from diag.safety import Act


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "book.sqlite3"


def opened(mixer: Machine, path: Path) -> Case:
    return Case.open(mixer, ANN, book=Casebook(path), clock=Ticking())


def one_line(error: pytest.ExceptionInfo[CasebookError]) -> str:
    text = str(error.value)
    assert text
    assert "\n" not in text
    return text


def test_what_was_entered_is_there_for_another_program(mixer: Machine, path: Path) -> None:
    case = opened(mixer, path)
    case.say("supply-lamp", "dark")
    other = Casebook(path)
    assert entries_of(other, case.id) == case.entries
    assert Case.read(case.id, mixer, book=other).state == case.state
    with pytest.raises(KeyError):
        entries_of(other, "none")


def writer(book: Casebook) -> sqlite3.Connection:
    """The connection that entries are added by."""
    assert isinstance(book.engine, SqliteEngine)
    assert book.engine._db is not None
    return book.engine._db


def test_a_commit_is_synchronised_to_the_disk(path: Path) -> None:
    book = Casebook(path)
    assert writer(book).execute("PRAGMA synchronous").fetchone() == (2,), "FULL"
    assert writer(book).execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_ids_are_unique_in_one_casebook(mixer: Machine, path: Path) -> None:
    ids = [opened(mixer, path).id for _ in range(30)]
    assert len(set(ids)) == 30
    assert ids[1].endswith("-b")


def test_the_list_of_cases(mixer: Machine, path: Path) -> None:
    first, second = opened(mixer, path), opened(mixer, path)
    first.follow()
    for act, target in ((Act.TOLD, ""), (Act.SHUT_DOWN, ""), (Act.OFF_AND_LOCKED, "main-switch-q1")):
        gate(first, act, target)
    second.follow()
    second.post(Closed(outcome="running"))
    second.undo()
    lines = {line.id: line for line in cases_in(Casebook(path))}
    assert lines[first.id].locks == (("main-switch-q1", "Ann"),)
    assert lines[second.id].closed == "", "an end that was taken back is none"
    second.post(Closed(outcome="running"))
    lines = {line.id: line for line in cases_in(Casebook(path))}
    line = lines[second.id]
    assert (line.machine, line.person, line.closed) == ("mixer", "Ann", "running")
    assert (line.opened, line.last) == (second.state.opened, second.state.last)


def test_two_terminals_on_one_case(mixer: Machine, path: Path) -> None:
    here = opened(mixer, path)
    there = Case.resume(here.id, mixer, BOB, book=Casebook(path), clock=Ticking())
    with pytest.raises(Conflict, match="Somebody else has added") as error:
        gate(here, Act.TOLD)
    one_line(error)
    here.say("supply-lamp", "dark")
    there.say("ready-lamp", "dark")
    assert here.follow()
    assert here.state.facts == there.state.facts, "each shows what the other one entered"
    entries = [e for e in entries_of(Casebook(path), here.id) if isinstance(e, Stamped)]
    assert [(e.by, e.event.kind) for e in entries[2:]] == [("Bob", "joined"), ("Ann", "found"), ("Bob", "found")]


def test_many_threads_open_cases_at_once(mixer: Machine, path: Path) -> None:
    ids: list[str] = []
    threads = [threading.Thread(target=lambda: ids.append(opened(mixer, path).id)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(ids)) == 8


def test_nothing_is_changed_or_removed(mixer: Machine, path: Path) -> None:
    opened(mixer, path)
    db = sqlite3.connect(path)
    for statement in ("UPDATE event SET body = ''", "DELETE FROM event"):
        with pytest.raises(sqlite3.IntegrityError, match="only added to"):
            db.execute(statement)


def spoil(path: Path, case: str, seq: int, body: object, at: int | None = None) -> None:
    """Writes something else into an entry, as a fault of the disk or a hand would."""
    db = sqlite3.connect(path)
    db.execute("PRAGMA ignore_check_constraints = ON")
    db.execute("DROP TRIGGER event_stays")
    (no,) = db.execute("SELECT no FROM head WHERE name = ?", (case,)).fetchone()
    db.execute("UPDATE event SET body = ? WHERE no = ? AND seq = ?", (body, no, seq))
    if at is not None:
        db.execute("UPDATE event SET at = ? WHERE no = ? AND seq = ?", (at, no, seq))
    db.commit()
    db.close()


@pytest.mark.parametrize(
    "damage",
    [
        "",
        "{",
        "[" * 100_000,
        "null",
        "[]",
        "{}",
        '{"text": 3}',
        '{"text": "x", "more": 1}',
        '{"text": {"$text": ["x"]}}',
        '{"text": {"$person": 7}}',
        '{"kind": "bomb"}',
    ],
)
def test_an_entry_that_cannot_be_read_loses_no_other(mixer: Machine, path: Path, damage: str) -> None:
    case = opened(mixer, path)
    case.post(Noted(text="x"))
    spoil(path, case.id, 3, damage)
    unreadable_at_three(mixer, path, case.id)


@pytest.mark.parametrize("at", [-1, 0, 32_503_680_000_000_000, 1 << 62])
def test_an_entry_of_a_time_that_nobody_wrote_loses_no_other(mixer: Machine, path: Path, at: int) -> None:
    case = opened(mixer, path)
    case.post(Noted(text="x"))
    spoil(path, case.id, 3, '{"text": "x"}', at)
    unreadable_at_three(mixer, path, case.id)


def unreadable_at_three(mixer: Machine, path: Path, id: str) -> None:
    book = Casebook(path)
    entries = entries_of(book, id)
    assert isinstance(entries[2], Unreadable)
    again = Case.resume(id, mixer, BOB, book=book, clock=Ticking())
    again.say("supply-lamp", "dark")
    assert [f.state for f in again.state.facts] == ["dark"]
    assert again.state.problems == (f"Entry 3 of case {id} cannot be read. The others stand.",)
    assert [line.id for line in cases_in(book)] == [id]


def test_no_zone_stays_dead_over_an_entry_that_cannot_be_read(mixer: Machine, path: Path) -> None:
    case = opened(mixer, path)
    lock_out(case)
    assert case.state.banner.level == "dead"
    case.post(Noted(text="x"))
    spoil(path, case.id, len(case.entries), "lost")
    again = Case.resume(case.id, mixer, ANN, book=Casebook(path), clock=Ticking())
    assert again.action("test-drive-fuse").how == ""
    assert again.state.locks == case.state.locks
    assert again.state.banner.level == "stop", "points are off: nothing may call it energised"
    assert not again.state.energised
    gate(again, Act.ISOLATE_AGAIN, reason="an entry is lost; the shift lead has every step done again")
    assert again.action("test-drive-fuse").how == ""
    lock_out(again)
    assert again.action("test-drive-fuse").how, "all is confirmed anew"


def test_a_case_without_its_beginning(mixer: Machine, path: Path) -> None:
    case = opened(mixer, path)
    spoil(path, case.id, 1, "lost")
    book = Casebook(path)
    with pytest.raises(CasebookError, match="cannot be opened") as error:
        Case.read(case.id, mixer, book=book)
    one_line(error)
    assert [(line.id, line.machine, line.locks) for line in cases_in(book)] == [(case.id, "mixer", ())]


def test_files_that_are_no_casebook(path: Path) -> None:
    path.parent.mkdir()
    path.write_text("a shopping list, " * 100)
    with pytest.raises(CasebookError, match="is not a casebook") as error:
        Casebook(path)
    one_line(error)
    assert path.read_text() == "a shopping list, " * 100

    other = path.with_name("other.sqlite3")
    db = sqlite3.connect(other)
    db.execute("CREATE TABLE songs (title)")
    db.commit()
    with pytest.raises(CasebookError, match="is not a casebook"):
        Casebook(other)
    with pytest.raises(CasebookError) as error:
        Casebook(path.parent)
    one_line(error)
    with pytest.raises(CasebookError) as error:
        Casebook(path / "below-a-file")
    one_line(error)


def test_a_casebook_of_a_later_version(path: Path) -> None:
    Casebook(path).close()
    db = sqlite3.connect(path)
    db.execute("PRAGMA user_version = 99")
    db.commit()
    with pytest.raises(CasebookError, match="another version of diag"):
        Casebook(path)


def test_a_full_disk_records_nothing_and_says_so(mixer: Machine, path: Path) -> None:
    book = Casebook(path)
    case = Case.open(mixer, ANN, book=book, clock=Ticking())
    (pages,) = writer(book).execute("PRAGMA page_count").fetchone()
    writer(book).execute(f"PRAGMA max_page_count = {pages + 4}")
    shown = []

    def fill() -> None:
        for _ in range(100):
            shown.append(case.post(Noted(text="x" * 4000)))

    with pytest.raises(Full, match="no room is left") as error:
        fill()
    one_line(error)
    assert case.state == shown[-1], "what was not recorded is not shown"
    writer(book).execute("PRAGMA max_page_count = 1000000")
    assert entries_of(book, case.id) == case.entries
    case.post(Noted(text="there is room again"))


@contextmanager
def as_nobody() -> Iterator[None]:
    """Files are read as a user without rights; the superuser may write to everything."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_a_casebook_that_may_only_be_read(mixer: Machine) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "book.sqlite3"
        case = opened(mixer, path)
        case.say("supply-lamp", "dark")
        kept = case.entries
        case._book.close()  # type: ignore[union-attr]
        path.chmod(0o444)
        Path(folder).chmod(0o555)
        try:
            with as_nobody():
                book = Casebook(path)
                assert entries_of(book, case.id) == kept
                again = Case.read(case.id, mixer, book=book)
                assert again.state.facts
                with pytest.raises(OnlyRead, match="Ask for the right to write to it, or name") as error:
                    Case.resume(case.id, mixer, BOB, book=book)
                one_line(error)
                with pytest.raises(CasebookError) as error:
                    Casebook(Path(folder) / "new.sqlite3")
                one_line(error)
        finally:
            Path(folder).chmod(0o755)


def test_the_environment_names_the_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAG_CASEBOOK", str(path))
    assert default_path() == path
    monkeypatch.delenv("DIAG_CASEBOOK")
    assert default_path().name == "casebook.sqlite3"


def test_an_entry_that_no_longer_fits_the_machine(mixer: Machine, path: Path) -> None:
    case = opened(mixer, path)
    case.say("supply-lamp", "dark")
    case.say("ready-lamp", "dark")
    fewer = {i: ind for i, ind in mixer.indications.items() if i != "ready-lamp"}
    smaller = replace(mixer, indications=fewer)
    again = Case.read(case.id, smaller, book=Casebook(path))
    assert [f.indication for f in again.state.facts] == ["supply-lamp"]
    assert "no longer fits" in again.state.problems[0]
