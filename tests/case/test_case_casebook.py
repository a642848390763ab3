"""The casebook: durable, added to only, and one clear line for whatever is wrong with it."""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from case_steps import ANN, BOB, Ticking, gate, lock_out

from diag.case.case import Case
from diag.case.casebook import Casebook, CasebookError, Conflict, default_path
from diag.case.events import Closed, Noted, Unreadable
from diag.machine.model import Machine
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
    assert other.events(case.id) == case.entries
    assert Case.read(case.id, mixer, book=other).state == case.state
    with pytest.raises(KeyError):
        other.events("none")


def test_a_commit_is_synchronised_to_the_disk(path: Path) -> None:
    book = Casebook(path)
    assert book._db.execute("PRAGMA synchronous").fetchone() == (2,), "FULL"
    assert book._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_ids_are_unique_in_one_casebook(mixer: Machine, path: Path) -> None:
    ids = [opened(mixer, path).id for _ in range(30)]
    assert len(set(ids)) == 30
    assert ids[1].endswith("-b")


def test_the_list_of_cases(mixer: Machine, path: Path) -> None:
    first, second = opened(mixer, path), opened(mixer, path)
    for act, target in ((Act.TOLD, ""), (Act.SHUT_DOWN, ""), (Act.OFF_AND_LOCKED, "main-switch-q1")):
        gate(first, act, target)
    second.post(Closed(outcome="running"))
    second.undo()
    lines = {line.id: line for line in Casebook(path).cases()}
    assert lines[first.id].locks == (("main-switch-q1", "Ann"),)
    assert lines[second.id].closed == "", "an end that was taken back is none"
    second.post(Closed(outcome="running"))
    lines = {line.id: line for line in Casebook(path).cases()}
    line = lines[second.id]
    assert (line.machine, line.person, line.closed) == ("mixer", "Ann", "running")
    assert (line.opened, line.last) == (second.state.opened, second.state.last)


def test_two_terminals_on_one_case(mixer: Machine, path: Path) -> None:
    here = opened(mixer, path)
    there = Case.resume(here.id, mixer, BOB, book=Casebook(path), clock=Ticking())
    with pytest.raises(Conflict, match="Somebody else has added") as error:
        here.say("supply-lamp", "dark")
    one_line(error)
    assert here.state == there.state, "it now shows what the other one entered"
    here.say("supply-lamp", "dark")
    assert len(Casebook(path).events(here.id)) == 5


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
    for statement in ("UPDATE entry SET body = ''", "DELETE FROM entry"):
        with pytest.raises(sqlite3.IntegrityError, match="only added to"):
            db.execute(statement)


@pytest.mark.parametrize(
    "damage",
    [
        "",
        "{",
        "[" * 100_000,
        "null",
        '{"seq": 3}',
        json.dumps({"seq": 3, "at": "2026-11-25T03:00:00Z", "by": "x", "event": {"kind": "bomb"}}),
        json.dumps({"seq": 9, "at": "2026-11-25T03:00:00Z", "by": "x", "event": {"kind": "noted", "text": "x"}}),
        json.dumps({"seq": 3, "at": "2026-11-25T03:00:00", "by": "x", "event": {"kind": "noted", "text": "x"}}),
        json.dumps({"seq": 3, "at": "9999-12-31T23:59:59Z", "by": "x", "event": {"kind": "noted", "text": "x"}}),
        b"\xff\xfe\x00",
    ],
)
def test_an_entry_that_cannot_be_read_loses_no_other(mixer: Machine, path: Path, damage: str | bytes) -> None:
    case = opened(mixer, path)
    db = sqlite3.connect(path)
    db.execute("INSERT INTO entry VALUES (?, 3, 'noted', ?, '[]')", (case.id, damage))
    db.commit()
    book = Casebook(path)
    entries = book.events(case.id)
    assert isinstance(entries[2], Unreadable)
    again = Case.resume(case.id, mixer, BOB, book=book, clock=Ticking())
    again.say("supply-lamp", "dark")
    assert [f.state for f in again.state.facts] == ["dark"]
    assert again.state.problems == (f"Entry 3 of case {case.id} cannot be read. The others stand.",)
    assert [line.id for line in book.cases()] == [case.id]


def test_no_zone_stays_dead_over_an_entry_that_cannot_be_read(mixer: Machine, path: Path) -> None:
    case = opened(mixer, path)
    lock_out(case)
    assert case.state.banner.level == "dead"
    db = sqlite3.connect(path)
    seq = len(case.entries) + 1
    db.execute("INSERT INTO entry VALUES (?, ?, 'gate', 'lost', '[]')", (case.id, seq))
    db.commit()
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
    book = Casebook(path)
    db = sqlite3.connect(path)
    db.execute("INSERT INTO entry VALUES ('x', 1, 'opened', 'lost', 'lost')")
    db.commit()
    with pytest.raises(CasebookError, match="cannot be opened") as error:
        Case.read("x", mixer, book=book)
    one_line(error)
    assert [(line.id, line.machine, line.locks) for line in book.cases()] == [("x", "", ())]


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
    (pages,) = book._db.execute("PRAGMA page_count").fetchone()
    book._db.execute(f"PRAGMA max_page_count = {pages + 4}")
    shown = []

    def fill() -> None:
        for _ in range(100):
            shown.append(case.post(Noted(text="x" * 4000)))

    with pytest.raises(CasebookError, match="No room is left") as error:
        fill()
    one_line(error)
    assert case.state == shown[-1], "what was not recorded is not shown"
    book._db.execute("PRAGMA max_page_count = 1000000")
    assert book.events(case.id) == case.entries
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
                assert book.events(case.id) == kept
                again = Case.read(case.id, mixer, book=book)
                assert again.state.facts
                with pytest.raises(CasebookError, match="may only be read") as error:
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
