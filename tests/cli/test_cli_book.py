"""`diag cases` and `diag handover`: what the casebook holds, read and never added to."""

from __future__ import annotations

import json
import os
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from diag.case.case import Case
from diag.case.log.events import Closed, Noted
from diag.cli.group import diag
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety.types import Person
from diag.tui.app_context import AppContext, CannotOpen

MACHINES = Path(__file__).resolve().parents[1] / "machines"
KINDS = Path(__file__).resolve().parents[1] / "kinds"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "book.sqlite3"


KNOWN = ("--no-shipped", "--knowledge", str(MACHINES))


def run(book: Path, *args: str) -> Result:
    return CliRunner().invoke(diag, [*KNOWN, "--casebook", str(book), *args])


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
    own = CliRunner(env={"XDG_DATA_HOME": str(book.parent)})
    assert "No cases yet" in own.invoke(diag, ["cases"]).stdout
    assert json.loads(own.invoke(diag, ["cases", "--json"]).stdout) == []
    assert own.invoke(diag, ["handover", "1125-a"]).exit_code == 2
    assert list(book.parent.iterdir()) == []


@pytest.mark.usefixtures("two_cases")
def test_a_casebook_that_was_mistyped_is_told_with_the_nearest_file(book: Path) -> None:
    wrong = book.with_name("bok.sqlite3")
    for args in (["cases"], ["cases", "--json"], ["handover", "1125-a"], ["start", "mixer", "--case", "1125-a"]):
        result = run(wrong, *args)
        assert result.exit_code == 2
        assert "there is no such casebook: no file or folder" in result.output
        assert "nearest: 'book.sqlite3'" in result.output
    assert not wrong.exists()


def test_a_folder_that_was_mistyped_gets_no_new_casebook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diag.cli.diagnose.start.has_terminal", lambda: True)
    (tmp_path / "plant").mkdir()
    result = run(tmp_path / "plnat" / "book.sqlite3", "start", "mixer")
    assert result.exit_code == 2
    assert "no casebook can be made there" in result.stderr
    assert "nearest: 'plant'" in result.stderr
    assert not (tmp_path / "plnat").exists()


def test_a_case_of_another_machine_is_refused_before_anything_is_asked(book: Path, two_cases: tuple[str, str]) -> None:
    ours = ["--no-shipped", "--knowledge", str(MACHINES), "--knowledge", str(KINDS), "--casebook", str(book)]
    result = CliRunner().invoke(diag, [*ours, "start", "bench", "--case", two_cases[0]])
    assert result.exit_code == 2
    assert f"case {two_cases[0]} is of mixer, not of bench" in result.stderr
    assert f"diag start mixer --case {two_cases[0]}" in result.stderr
    # The right machine comes as far as the terminal that a test does not have.
    for name in ("mixer", "MIXER", str(MACHINES / "mixer")):
        assert (
            "the app needs a terminal"
            in CliRunner().invoke(diag, [*ours, "start", name, "--case", two_cases[0]]).stderr
        )
    wrong = CliRunner().invoke(diag, [*ours, "start", "mixer", "--case", "nosuch"])
    assert "unknown case 'nosuch'" in wrong.stderr


def test_without_a_casebook_none_is_read(book: Path, two_cases: tuple[str, str]) -> None:
    for args in (["cases"], ["handover", two_cases[0]], ["start", "mixer", "--case", two_cases[0]]):
        result = run(book, "--no-casebook", *args)
        assert result.exit_code == 2
        assert "keeps no case" in result.stderr


def test_cases_are_listed_the_latest_first(book: Path, two_cases: tuple[str, str]) -> None:
    first, second = two_cases
    lines = run(book, "cases").stdout.splitlines()
    assert [line.split()[0] for line in lines] == [second, first]
    assert "Dough mixer 4" in lines[0]
    assert "open, Ana Lind" in lines[0]
    assert "running, Jo Weber" in lines[1]
    found = json.loads(run(book, "cases", "--json").stdout)
    assert [(row["id"], row["closed"], row["locks"]) for row in found] == [(second, None, []), (first, "running", [])]


def test_a_lock_that_is_on_stands_in_the_list(book: Path, mixer: Machine) -> None:
    casebook = Casebook(book)
    case = Case.open(mixer, Person("Jo Weber", Role.ELECTRICIAN, authorised=True, qualified=True), book=casebook)
    from diag.case.log.events import Gate
    from diag.safety.types import Act

    zone = next(iter(mixer.zones))
    while not case.state.locks:
        step = case.state.steps[zone][0]
        case.post(Gate(zone=zone, act=step.act, target=step.target))
        assert step.act in (Act.TOLD, Act.SHUT_DOWN, Act.OFF_AND_LOCKED)
    casebook.close()
    assert "LOCKS ON: Main switch Q1 (Jo Weber)" in run(book, "cases").stdout


def entries(book: Path) -> int:
    with sqlite3.connect(book) as db:
        (count,) = db.execute("SELECT COUNT(*) FROM event").fetchone()
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


def test_what_is_no_ordinary_file_is_no_casebook(tmp_path: Path) -> None:
    pipe, circle = tmp_path / "pipe", tmp_path / "circle"
    os.mkfifo(pipe)
    circle.symlink_to(circle)
    for path in (pipe, circle, Path("/dev/null"), Path("/dev/zero")):
        for command in (["cases"], ["handover", "1125-a"]):
            result = run(path, *command)
            assert result.exit_code == 2
            assert result.stderr == f"diag: {path} is not an ordinary file. Name another file with --casebook.\n"


def test_an_empty_file_is_not_written_to_by_a_look(book: Path) -> None:
    book.touch()
    assert "No cases yet" in run(book, "cases").stdout
    assert run(book, "handover", "1125-a").exit_code == 2
    run(book, "doctor")
    assert book.read_bytes() == b""
    assert list(book.parent.iterdir()) == [book]


def test_the_message_names_what_named_the_file(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book.write_text("not a casebook " * 100)
    assert "Name another file with --casebook" in run(book, "cases").stderr
    with pytest.raises(CannotOpen, match="Name another file with --casebook"):
        AppContext(MACHINES, book, casebook_named_by="--casebook").book()
    monkeypatch.setenv("DIAG_CASEBOOK", str(book))
    assert "Name another file with DIAG_CASEBOOK" in CliRunner().invoke(diag, ["cases"]).stderr


@pytest.mark.skipif(os.name != "posix", reason="modes are of POSIX")
def test_a_new_casebook_is_its_owner_s_alone(book: Path, two_cases: tuple[str, str]) -> None:
    assert book.stat().st_mode & 0o777 == 0o600


ADDRESSES = (
    "postgresql://u:s3cret@h/db",
    "postgresql+psycopg://u:s3cret@h/db",
    "postgresql:/u:s3cret@h/db",
    "postgres:u:s3cret@h/db",
    "postgresql://u%3As3cret@h/db",
    "jdbc:postgresql://h/db?user=u&password=s3cret",
    "mysql://u:s3cret@h/db",
    "host=h password=s3cret",
)


@pytest.mark.parametrize("address", ADDRESSES)
@pytest.mark.parametrize("command", [["cases"], ["cases", "--new"], ["doctor"], ["start", "mixer"]])
def test_a_password_in_an_address_is_never_repeated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, address: str, command: list[str]
) -> None:
    config = tmp_path / "config.toml"
    monkeypatch.setenv("DIAG_CONFIG", str(config))
    machines = ["--no-shipped", "--knowledge", str(MACHINES)]
    results = [CliRunner().invoke(diag, [*machines, "--casebook", address, *command])]
    results.append(CliRunner(env={"DIAG_CASEBOOK": address}).invoke(diag, [*machines, *command]))
    for result in results:
        assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)
        assert "without a password" in result.stderr or "leave the password out" in result.stderr
    config.write_text(f"casebook = {json.dumps(address)}\n")
    results.append(CliRunner().invoke(diag, [*machines, *command]))
    assert results[-1].exit_code in (1, 2)
    assert "line 1" in results[-1].output
    for result in results:
        assert "s3cret" not in result.output
        assert not isinstance(result.exception, Exception)
    assert list(tmp_path.iterdir()) == [config]


def test_somebody_is_forgotten_and_what_is_blanked_is_told_first(book: Path, mixer: Machine) -> None:
    with Casebook(book) as casebook:
        case = Case.open(mixer, Person("Jo Weber", Role.ELECTRICIAN), book=casebook)
        case.post(Noted(text="jo weber heard it"))
        case.post(Noted(text="it was quiet"))
    for words in ("quiet", "it", "jo", ""):
        result = run(book, "cases", "--forget", words, "--blank")
        assert (result.exit_code, result.stdout) == (2, "")
        assert result.stderr == f"diag: nobody in the casebook is called {words!r}\n"
    lines = run(book, "cases", "--forget", "JO WEBER", "--blank").stdout.splitlines()
    assert lines[:3] == [
        f"will be blanked: entry 3 of case {case.id}: jo weber heard it",
        "forgotten in 1 cases: Jo Weber",
        "1 texts blanked",
    ]
    assert "quiet" in run(book, "cases", "--log", case.id).stdout
    assert "weber" not in run(book, "cases", "--log", case.id).stdout.lower()
    again = run(book, "cases", "--forget", "Jo Weber")
    assert (again.exit_code, again.stdout) == (2, "")


@pytest.mark.usefixtures("two_cases")
def test_a_file_without_a_name_is_told(book: Path) -> None:
    for option in ("--backup", "--export", "--import"):
        result = run(book, "cases", option, "")
        assert (result.exit_code, result.stdout) == (2, "")
        assert result.stderr == f"diag: {option} needs the name of a file\n"


def test_a_name_that_is_no_utf_8_stops_neither_list_nor_verifying(book: Path, two_cases: tuple[str, str]) -> None:
    with sqlite3.connect(book) as db:
        db.execute("UPDATE person SET name = CAST(x'ff41' AS TEXT) WHERE name = 'Jo Weber'")
    listed, verified = run(book, "cases"), run(book, "cases", "--verify")
    assert [line.split()[0] for line in listed.stdout.splitlines()] == list(reversed(two_cases))
    assert "open, Ana Lind" in listed.stdout
    assert (listed.exit_code, verified.exit_code) == (0, 1)
    assert f"of case {two_cases[0]} was changed" in verified.stdout
    assert f"of case {two_cases[1]} was" not in verified.stdout
    assert verified.stderr == ""


def test_a_machine_whose_lists_do_not_agree_is_repaired_and_recorded(book: Path, two_cases: tuple[str, str]) -> None:
    args = ("cases", "--repair", "mixer", "--by", "Jo Weber", "--role", "electrician")
    assert "Nothing is to be repaired" in run(book, *args).stdout
    with sqlite3.connect(book) as db:
        db.execute("DELETE FROM touch WHERE rev > 2")
    db.close()
    told = run(book, "handover", two_cases[1])
    assert told.exit_code == 1
    assert "diag cases --repair mixer" in told.stderr
    asked = CliRunner().invoke(diag, [*KNOWN, "--casebook", str(book), *args], input="n\n")
    assert asked.exit_code == 1
    assert "changes: Entry 2 of case" in asked.stdout
    assert "Nothing was changed." in asked.stdout
    assert "Nothing was changed." in run(book, *args).stdout, "nobody can answer"
    done = CliRunner().invoke(diag, [*KNOWN, "--casebook", str(book), *args], input="y\n")
    assert done.exit_code == 0, done.output
    assert "records it and is open" in done.stdout
    assert run(book, "handover", two_cases[1]).exit_code == 0
    lines = run(book, "cases").stdout
    case = lines.split()[0]
    log = run(book, "cases", "--log", case).stdout
    assert "repaired the casebook's lists of the machine, 1 row. No zone counts as proved." in log
    assert "Nothing is to be repaired" in run(book, *args, "--yes").stdout


@pytest.mark.usefixtures("two_cases")
def test_a_repair_is_in_somebodys_name_and_of_a_known_machine(book: Path) -> None:
    assert "add --by NAME and --role ROLE" in run(book, "cases", "--repair", "mixer").stderr
    wrong = run(book, "cases", "--repair", "mixr", "--by", "Jo", "--role", "engineer")
    assert wrong.exit_code == 2
    assert "mixer" in wrong.stderr
    assert "nearest: 'engineer'" in run(book, "cases", "--repair", "mixer", "--by", "Jo", "--role", "enginer").stderr
    assert "--by goes with --repair" in run(book, "cases", "--by", "Jo").stderr
