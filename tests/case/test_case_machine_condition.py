"""What is so at a machine, told beside any case: locks, danger signs, resets and open cases, by the casebook alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from diag.case.case import Case
from diag.case.condition import as_object, condition_of, in_words
from diag.case.log import events as e
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety import Person

NOW = datetime(2026, 12, 1, 3, 0, tzinfo=UTC)
ADA = Person("Ada Brandt", Role.ELECTRICIAN, True, True)
OLE = Person("Ole", Role.OPERATOR)


def lock_out(case: Case, zone: str) -> None:
    """Every step up to the first lock of this person."""
    while not case.state.locks:
        step = case.state.steps[zone][0]
        case.post(e.Gate(zone=zone, act=step.act, target=step.target))


def test_nothing_stands_at_a_machine_without_cases(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        found = condition_of(book, mixer, NOW)
        assert list(in_words(found, mixer)) == []


def test_locks_resets_and_open_cases_are_told_with_who_and_since(mixer: Machine, tmp_path: Path) -> None:
    clock = lambda: NOW  # noqa: E731
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, ADA, book=book, clock=clock)
        case.say("box-display", "G0")
        case.post(e.ResetDone(reset="panel-reset"))
        lock_out(case, "control-box")
        found = condition_of(book, mixer, NOW + timedelta(hours=1))
        words = " ".join(in_words(found, mixer))
        ((point, who),) = case.state.locks
        assert f"LOCK ON: {mixer.points[point].title} ({who}, case {case.id}, since" in words
        assert f"Open: case {case.id}, in hand: Ada Brandt" in words
        assert "1 reset in the last 24 h." in words
        assert as_object(found)["locks"][0] == {
            "point": point, "who": "Ada Brandt", "case": case.id, "since": NOW.isoformat()
        }  # fmt: skip
        assert condition_of(book, mixer, NOW + timedelta(hours=25)).resets == 0


def test_a_danger_stands_until_it_is_made_safe(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, ADA, book=book)
        case.say("smell", "burning")
        assert [d.who for d in condition_of(book, mixer, datetime.now(UTC)).dangers] == ["Ada Brandt"]
        case.post(e.MadeSafe(how="aired, and the motor left off"))
        assert not condition_of(book, mixer, datetime.now(UTC)).dangers


def test_a_case_that_was_handed_over_is_open_and_in_nobodys_hand(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, OLE, book=book)
        case.post(e.Closed(outcome="handed-over", to="electrician"))
        found = condition_of(book, mixer, datetime.now(UTC))
        assert [c.handed_over for c in found.cases] == [True]
        assert "handed over by Ole" in " ".join(in_words(found))


def test_a_case_that_is_over_leaves_nothing(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, OLE, book=book)
        case.post(e.Closed(outcome="running"))
        assert not condition_of(book, mixer, datetime.now(UTC)).cases


def test_another_machine_is_not_touched(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, ADA, book=book)
        lock_out(case, "control-box")
        assert condition_of(book, replace(mixer, id="another"), NOW).locks == ()


def test_a_reset_that_was_said_by_mistake_is_counted_and_named(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, ADA, book=book, clock=lambda: NOW)
        case.say("box-display", "G0")
        case.post(e.ResetDone(reset="panel-reset"))
        case.undo()
        found = condition_of(book, mixer, NOW)
        assert "1 reset in the last 24 h, 1 of them said by mistake (Ada Brandt)." in list(in_words(found, mixer))
        assert [one["who"] for one in as_object(found)["resets_by_mistake"]] == ["Ada Brandt"]


def test_a_remedy_that_failed_closes_resets_in_another_open_case(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        tripped, other = Case.open(mixer, ADA, book=book), Case.open(mixer, OLE, book=book)
        tripped.follow()
        tripped.say("box-display", "d2")
        tripped.post(e.Remedied(remedy="let-cool"))
        other.follow()
        other.say("box-display", mixer.indications["box-display"].normal)
        assert other.state.resets[0].may
        tripped.follow()
        tripped.post(e.RemedyFailed(remedy="let-cool"))
        assert other.follow(), "it touches the machine"
        assert not other.state.resets[0].may
        assert "A protective device has operated" in other.state.resets[0].because
