"""`diag cases` and `diag handover`: what the casebook holds, read and never added to."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from diag.case.case import Case
from diag.case.casebook import Casebook
from diag.case.events import Closed, Noted
from diag.cli.group import diag
from diag.machine.model import Machine, Role
from diag.safety.types import Person

MACHINES = Path(__file__).resolve().parents[1] / "machines"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "book.sqlite3"


def run(book: Path, *args: str) -> Result:
    return CliRunner().invoke(diag, ["--knowledge", str(MACHINES), "--casebook", str(book), *args])


@pytest.fixture
def two_cases(book: Path, mixer: Machine) -> tuple[str, str]:
    """One case closed, then one open; their ids."""
    casebook = Casebook(book)
    first = Case.open(mixer, Person("Jo Weber", Role.ELECTRICIAN), book=casebook)
    first.post(Closed(outcome="running"))
    second = Case.open(mixer, Person("Ana Lind", Role.OPERATOR), book=casebook)
    second.say("supply-lamp", "dark")
    second.post(Noted(text="it was *very* loud \x1b[31m"))
    casebook.close()
    return first.id, second.id


def test_no_casebook_no_cases_and_looking_makes_none(book: Path) -> None:
    assert "No cases yet" in run(book, "cases").stdout
    assert json.loads(run(book, "cases", "--json").stdout) == []
    assert run(book, "handover", "1125-a").exit_code == 2
    assert not book.exists()


def test_cases_are_listed_the_latest_first(book: Path, two_cases: tuple[str, str]) -> None:
    first, second = two_cases
    lines = run(book, "cases").stdout.splitlines()
    assert [line.split()[0] for line in lines] == [second, first]
    assert "mixer" in lines[0]
    assert "open, Ana Lind" in lines[0]
    assert "running, Jo Weber" in lines[1]
    found = json.loads(run(book, "cases", "--json").stdout)
    assert [(row["id"], row["closed"], row["locks"]) for row in found] == [(second, None, []), (first, "running", [])]


def test_a_lock_that_is_on_stands_in_the_list(book: Path, mixer: Machine) -> None:
    casebook = Casebook(book)
    case = Case.open(mixer, Person("Jo Weber", Role.ELECTRICIAN, authorised=True, qualified=True), book=casebook)
    from diag.case.events import Gate
    from diag.safety.types import Act

    zone = next(iter(mixer.zones))
    while not case.state.locks:
        step = case.state.steps[zone][0]
        case.post(Gate(zone=zone, act=step.act, target=step.target))
        assert step.act in (Act.TOLD, Act.SHUT_DOWN, Act.OFF_AND_LOCKED)
    casebook.close()
    assert "LOCKS ON: " in run(book, "cases").stdout
    assert "(Jo Weber)" in run(book, "cases").stdout


def entries(book: Path) -> int:
    with sqlite3.connect(book) as db:
        (count,) = db.execute("SELECT COUNT(*) FROM entry").fetchone()
    return int(count)


def test_the_sheet_is_written_and_nothing_is_added(book: Path, two_cases: tuple[str, str], tmp_path: Path) -> None:
    before = entries(book)
    markdown = run(book, "handover", two_cases[1])
    plain = run(book, "handover", two_cases[1], "--plain")
    out = tmp_path / "sheet.txt"
    saved = run(book, "handover", two_cases[1], "--plain", "--out", str(out))
    assert [markdown.exit_code, plain.exit_code, saved.exit_code] == [0, 0, 0]
    assert entries(book) == before
    for text in (markdown.stdout, plain.stdout):
        assert "Dough mixer 4" in text
        assert "SUPPLY" in text
        assert "\x1b" not in text
    assert out.read_text(encoding="utf-8").strip() == plain.stdout.strip()


def test_a_file_that_is_there_is_left_as_it_is(book: Path, two_cases: tuple[str, str], tmp_path: Path) -> None:
    out = tmp_path / "sheet.txt"
    out.write_text("mine")
    result = run(book, "handover", two_cases[1], "--out", str(out))
    assert result.exit_code == 2
    assert "is there already" in result.stderr
    assert out.read_text() == "mine"
    assert run(book, "handover", two_cases[1], "--out", str(tmp_path / "no" / "where.txt")).exit_code == 1


@pytest.mark.usefixtures("two_cases")
def test_an_unknown_case_is_told_with_the_nearest(book: Path, two_cases: tuple[str, str]) -> None:
    wrong = two_cases[0][:-1] + "z"
    result = run(book, "handover", wrong)
    assert result.exit_code == 2
    assert f"unknown case '{wrong}'; nearest: '" in result.stderr


def test_a_file_that_is_no_casebook_is_one_line(tmp_path: Path) -> None:
    other = tmp_path / "notes.txt"
    other.write_text("not a database, and longer than the hundred bytes of a header would be" * 20)
    for command in (["cases"], ["handover", "x"]):
        result = run(other, *command)
        assert result.exit_code == 1
        assert "is not a casebook" in result.stderr
        assert result.stderr.count("\n") == 1
