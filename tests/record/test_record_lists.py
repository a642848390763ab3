"""The lists of what stands at a machine are held against its entries, and a sheet's digits against the record."""

from __future__ import annotations

import re

import pytest
from case.case_steps import ANN, BOX, OLGA, Ticking, lock_out
from record.tampering import damage

from diag.case.case import Case
from diag.case.log.events import Found, Noted
from diag.case.sheet.sheet import markdown
from diag.machine.model import Machine
from diag.record.casebook import Casebook
from diag.record.verify.verifying import verify
from diag.safety import Phase


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM lock_on WHERE point = 'main-switch-q1'",
        "INSERT INTO lock_on SELECT machine, 'another', who, no, seq, at FROM lock_on WHERE point = 'main-switch-q1'",
        "INSERT INTO danger_on SELECT machine, 'smell', no, seq, at FROM lock_on WHERE point = 'main-switch-q1'",
    ],
)
def test_lists_that_do_not_fit_the_entries_leave_no_zone_proved(book: Casebook, mixer: Machine, statement: str) -> None:
    case = Case.open(mixer, ANN, book=book, clock=Ticking())
    lock_out(case)
    sound = Case.read(case.id, mixer, book=book).state
    assert (sound.lockouts[BOX].phase, sound.problems) == (Phase.DEAD, ())
    damage(book, statement)
    state = Case.read(case.id, mixer, book=book).state
    assert state.lockouts[BOX].phase is Phase.STOP
    assert len(state.problems) == 1
    assert "No zone counts as proved" in state.problems[0]
    assert state.locks == sound.locks, "a lock that was entered still counts as on"


def test_a_danger_that_was_taken_off_the_list_is_noticed(book: Casebook, mixer: Machine) -> None:
    case = Case.open(mixer, OLGA, book=book, clock=Ticking())
    case.post(Found(indication="smell", seen={"burning": 1.0}))
    damage(book, "DELETE FROM danger_on")
    state = Case.read(case.id, mixer, book=book).state
    assert state.danger
    assert state.problems


def test_the_digits_of_a_sheet_are_those_of_the_record(book: Casebook, mixer: Machine) -> None:
    case = Case.open(mixer, ANN, book=book, clock=Ticking())
    case.post(Noted(text="A bang"))
    found = re.search(r'"(\S+ 3 [0-9a-f ]{19})"', markdown(case).replace("\\", ""))
    assert found is not None
    case.post(Noted(text="Another"))
    assert verify(book.engine, [found[1]]).digits == 1
    damage(book, "UPDATE event SET kind = 'called' WHERE seq = 3")
    assert verify(book.engine, [found[1]]).faults


def test_a_case_that_is_kept_nowhere_has_no_digits(mixer: Machine) -> None:
    assert "Record" not in markdown(Case.open(mixer, ANN, clock=Ticking()))
