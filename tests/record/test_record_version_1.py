"""Casebooks of version 1 are brought up once, after a copy, and keep every entry. The one here was written by the
program of then: a case that was locked out and back in service, and three others at its machine at the same time."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from diag.case.case import Case
from diag.case.log.events import Stamped, Unreadable
from diag.case.log.stored import entries_of
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.record.verify.verifying import verify

Rows = list[tuple[Any, ...]]
SCRIPT = Path(__file__).with_name("version_1.sql").read_text(encoding="utf-8")
ROWS = "SELECT case_id, seq, kind, body, locks FROM entry ORDER BY case_id, seq"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "book.sqlite3"


def write(path: Path, *statements: str) -> Rows:
    """The old casebook with some statements run in it; its rows."""
    db = sqlite3.connect(path)
    db.executescript(SCRIPT)
    for statement in ("DROP TRIGGER entry_stays", "DROP TRIGGER entry_kept", *statements):
        db.execute(statement)
    db.commit()
    found = db.execute(ROWS).fetchall()
    db.close()
    return found


def test_every_entry_is_kept_and_the_old_file_beside_it(path: Path) -> None:
    rows = write(path)
    with Casebook(path) as book:
        for case, seq, kind, body, _ in rows:
            entry = entries_of(book, case)[seq - 1]
            assert isinstance(entry, Stamped)
            old = json.loads(body)
            said = Stamped.model_validate({**old, "sitting": ""})
            assert (entry.seq, entry.at, entry.by, entry.event) == (seq, said.at, said.by, said.event)
            assert entry.event.kind == kind
        assert sum(head.seq for head in book.all_cases()) == len(rows)
        assert verify(book.engine).faults == ()
        assert {h.name: (h.ended, h.over) for h in book.all_cases()} == {
            "1125-a": ("", False),
            "1125-b": ("handed-over", False),
            "1125-c": ("", False),
            "1125-d": ("running", True),
        }
        assert [(s.what, s.who, s.case) for s in book.locks("mixer")] == [("main-switch-q1", "Bob", "1125-c")]
    copy = sqlite3.connect(path.with_name("book.sqlite3.version-1"))
    assert copy.execute(ROWS).fetchall() == rows
    copy.close()
    Casebook(path).close()
    assert not path.with_name("book.sqlite3.version-1-2").exists(), "it is brought up once"


def test_each_entry_has_what_its_person_had_said_of_themselves(path: Path) -> None:
    write(path)
    with Casebook(path) as book:
        found = {(e.by, e.role, e.authorised, e.qualified) for e in entries_of(book, "1125-a")[1:]}  # type: ignore[union-attr]
    assert found == {("Ann", Role.ELECTRICIAN, True, True)}


def test_a_case_alone_at_its_machine_says_what_it_said_then(path: Path, mixer: Machine) -> None:
    write(path, "DELETE FROM entry WHERE case_id <> '1125-a'")
    with Casebook(path) as book:
        state = Case.read("1125-a", mixer, book=book).state
    assert state.problems == ()
    assert (state.locks, state.energised, state.remedy) == ((), True, "drive-fuse-blown")


def test_where_two_cases_each_had_a_lockout_of_their_own_no_zone_is_proved(path: Path, mixer: Machine) -> None:
    """Then each case had its own; now it is the machine's, and what does not fit together counts as the worst."""
    write(path)
    with Casebook(path) as book:
        for case in ("1125-a", "1125-c"):
            state = Case.read(case, mixer, book=book).state
            assert state.locks == (("main-switch-q1", "Bob"),)
            assert state.banner.level == "stop"


def test_an_entry_that_cannot_be_read_keeps_its_place_and_its_words(path: Path) -> None:
    write(path, "UPDATE entry SET body = 'rubbish' WHERE case_id = '1125-c' AND seq = 6")
    with Casebook(path) as book:
        entries = entries_of(book, "1125-c")
        assert [isinstance(entry, Unreadable) for entry in entries] == [False] * 5 + [True]
        assert (book.entries("1125-c")[5].body or {})["unreadable"] == "rubbish"
        assert [e.seq for _, e in book.machine_entries("mixer") if e.case == "1125-c"] == [2, 3, 4, 5, 6], (
            "since nobody knows what it said, every case takes it in"
        )


def test_looking_changes_nothing(path: Path) -> None:
    write(path)
    before = path.read_bytes()
    with Casebook(path, only_read=True) as book:
        assert book.count() == 4
        assert len(book.entries("1125-a")) == 26
    assert path.read_bytes() == before
    assert [p.name for p in path.parent.iterdir() if "version" in p.name] == []
