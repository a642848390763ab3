"""A proof of dead is made again when the shift changes: by the times that the site says, or else when a case changes
hands. What was done may be entered all the same, and the way back stays open."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from case.case_steps import ANN, BOB, BOX, OLGA, START, Ticking, gate, go_back, lock_out

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.log.ageing import next_change
from diag.machine.model import Access, Machine
from diag.record.casebook import Casebook
from diag.safety import Act, Phase

SHIFTS = ("06:00", "14:00", "22:00")
NOTE = e.Noted(text="loud")


@pytest.fixture(autouse=True)
def here(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A site three hours ahead of UTC: the clock of the tests begins at 06:00 there."""
    monkeypatch.setenv("TZ", "XXX-3")
    time.tzset()
    yield
    monkeypatch.delenv("TZ")
    time.tzset()


def inside(machine: Machine) -> str:
    return next(r.id for r in machine.remedies.values() if r.access is Access.DEAD and r.zone == BOX)


def dead(machine: Machine, at: str, shifts: tuple[str, ...] = SHIFTS) -> tuple[Case, Ticking]:
    """A case in which Ann has proved the box dead, at about that time of day."""
    clock = Ticking()
    case = Case.open(machine, ANN, clock=clock, shifts=shifts)
    hour, minute = map(int, at.split(":"))
    clock.now = START + timedelta(hours=hour - 6, minutes=minute - 20)
    lock_out(case)
    assert case.state.banner.level == "dead"
    return case, clock


def again(case: Case) -> None:
    gate(case, Act.METER_PROVED)
    lock_out(case)


def test_the_change_of_shift_closes_what_is_begun_and_not_what_was_done(mixer: Machine) -> None:
    remedy = inside(mixer)
    case, clock = dead(mixer, "13:50")
    assert case.action(remedy).how
    assert not case.tick()
    clock.now = START + timedelta(hours=8)  # 14:00 here
    assert case.tick()
    assert case.state.banner.title.startswith("PROVED 13:")
    assert case.state.banner.allows == "The shift changed at 14:00. Test again before you touch."
    assert case.action(remedy).how == ""
    because = "The shift changed at 14:00. Test again before you touch anything."
    assert case.action(remedy).permission.because == because
    assert any(way.act is Act.BACK for way in case.state.ways[BOX])
    case.post(e.Remedied(remedy=remedy))
    assert case.state.remedy == remedy
    go_back(case)
    assert case.state.lockouts[BOX].phase is Phase.NONE


def test_a_new_test_holds_until_the_next_change(mixer: Machine) -> None:
    case, clock = dead(mixer, "13:50")
    clock.now = START + timedelta(hours=8)
    case.tick()
    again(case)
    assert case.state.banner.level == "dead"
    assert not case.tick()
    assert case.state.proof_ends[BOX] - case.state.last < timedelta(minutes=60)


def test_a_clock_that_goes_back_opens_nothing(mixer: Machine) -> None:
    case, clock = dead(mixer, "13:50")
    clock.now = START + timedelta(hours=8)
    case.tick()
    clock.now -= timedelta(hours=1)
    assert not case.tick()
    case.post(NOTE)
    assert case.state.banner.allows.startswith("The shift changed at 14:00.")
    assert case.action(inside(mixer)).how == ""
    again(case)
    assert case.state.banner.level == "dead", "the new test counts, by whatever clock"


def test_a_proof_that_is_too_old_by_its_minutes_says_so(mixer: Machine) -> None:
    case, clock = dead(mixer, "08:00")
    clock.now = START + timedelta(hours=4)
    case.tick()
    assert case.state.banner.allows == "Test again before you touch."
    assert "more than 60 min ago" in case.action(inside(mixer)).permission.because


def test_without_shifts_a_take_over_of_the_case_counts_as_one(mixer: Machine, tmp_path: Path) -> None:
    clock = Ticking()
    with Casebook(tmp_path / "book.sqlite3") as book:
        olga = Case.open(mixer, OLGA, book=book, clock=clock)
        ann = Case.open(mixer, ANN, book=book, clock=clock)
        lock_out(ann)
        olga.follow()
        Case.resume(olga.id, mixer, OLGA, book=book, clock=clock)
        ann.follow()
        assert ann.state.banner.level == "dead", "whoever had it goes on with it"
        Case.open(mixer, BOB, book=book, clock=clock)
        ann.follow()
        assert ann.state.banner.level == "dead", "another case was opened, and none changed hands"
        olga.follow()
        olga.post(e.TookOver(person="Bob", role=BOB.role, authorised=True, qualified=True))
        ann.follow()
        assert ann.state.banner.title.startswith("PROVED 06:")
        assert ann.state.banner.allows.startswith("The case was taken over at 0")
        assert ann.state.banner.allows.endswith("Test again before you touch.")
        assert ann.action(inside(mixer)).permission.now
        again = Case.read(ann.id, mixer, book=book, clock=clock, shifts=SHIFTS)
        assert again.state.banner.level == "dead", "where the site names shifts, they alone count"


def test_the_person_who_takes_over_ones_own_case_tests_again(mixer: Machine) -> None:
    case, _ = dead(mixer, "08:00", shifts=())
    case.post(e.TookOver(person="Bob", role=BOB.role, authorised=True, qualified=True))
    case.post(e.TookOver(person="Ann", role=ANN.role, authorised=True, qualified=True))
    assert case.state.banner.title.startswith("PROVED")


def test_two_people_at_one_terminal_who_go_on_in_turn_are_of_one_shift(mixer: Machine) -> None:
    case, _ = dead(mixer, "08:00", shifts=())
    bob = e.TookOver(person="Bob", role=BOB.role, authorised=True, qualified=True)
    case.post(bob)
    lock_out(case)
    assert case.state.banner.level == "dead"
    case.post(e.TookOver(person="Ann", role=ANN.role, authorised=True, qualified=True))
    assert case.state.banner.level == "dead"
    case.post(bob)
    assert case.state.banner.level == "dead"


@pytest.mark.source("PEP 495, times that come twice and times that are left out", found="read in the standard library")
def test_a_shift_begins_by_the_clock_on_the_wall(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()

    def after(*words: int, begins: str) -> str:
        return f"{next_change(datetime(2026, *words, tzinfo=UTC), (begins,))[0]:%d %H:%M}"  # type: ignore[arg-type]

    assert after(7, 1, 3, 59, begins="06:00") == "01 04:00"
    assert after(7, 1, 4, 0, begins="06:00") == "02 04:00"
    assert after(12, 1, 4, 0, begins="06:00") == "01 05:00"
    assert after(10, 25, 0, 0, begins="02:30") == "25 00:30", "the hour that comes twice, its first time"
    assert after(10, 25, 0, 45, begins="02:30") == "25 01:30", "and its second"
    assert after(3, 29, 0, 0, begins="02:30") in ("29 00:30", "29 01:00", "29 01:30"), "the hour that is left out"
    assert after(3, 29, 3, 0, begins="06:00") == "29 04:00"
