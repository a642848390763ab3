"""Two terminals on one case: nothing that one enters changes who sits at the other, nor what that person may do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from case_steps import ANN, BOB, BOX, OLGA, Ticking, gate, lock_out

from diag.case.case import Case
from diag.case.log.events import Called, Closed, Joined, Noted, Remedied, Stamped, TookOver
from diag.case.sitting import Sitting
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook, CasebookError, Conflict
from diag.safety import Act, Person, Phase, Refused


class Plant:
    """One case in one casebook, with a clock for all terminals."""

    def __init__(self, machine: Machine, book: Casebook) -> None:
        self.machine, self.book, self.clock = machine, book, Ticking()

    def first(self, person: Person) -> Case:
        return Case.open(self.machine, Sitting(person), book=self.book, clock=self.clock)

    def beside(self, case: Case, person: Person) -> Case:
        """The same case at another terminal."""
        return Case.resume(case.id, self.machine, Sitting(person), book=self.book, clock=self.clock)


@pytest.fixture
def plant(mixer: Machine, tmp_path: Path) -> Iterator[Plant]:
    with Casebook(tmp_path / "book.sqlite3") as book:
        yield Plant(mixer, book)


def by(case: Case) -> list[tuple[str, str]]:
    return [(e.by, e.event.kind) for e in case.entries if isinstance(e, Stamped)]


def test_an_operators_terminal_stays_the_operators(plant: Plant) -> None:
    olga = plant.first(OLGA)
    ann = plant.beside(olga, ANN)
    assert ann.state.lead == OLGA, "whoever joins has not taken the case in hand"
    ann.post(TookOver(person="Ann", role=ANN.role, authorised=True, qualified=True))
    olga.post(Noted(text="It hummed before."))
    assert by(olga)[-2:] == [("Ann", "took-over"), ("Olga", "noted")]
    assert (olga.state.person, olga.state.lead) == (OLGA, ANN)
    assert not olga.state.steps[BOX], "an operator is offered no step of the gate"
    with pytest.raises(Refused, match="Operators do not lock out"):
        gate(olga, Act.TOLD)


def test_nobody_hands_over_the_case_of_whoever_is_at_work_in_it(plant: Plant) -> None:
    ann = plant.first(ANN)
    lock_out(ann)
    olga = plant.beside(ann, OLGA)
    with pytest.raises(Refused, match="Ann has the case in hand and locks on"):
        olga.post(Closed(outcome="handed-over", to="Bob"))
    ann.follow()
    assert ann.post(Closed(outcome="handed-over", to="Bob")).closed == "handed-over"


def test_a_step_that_somebody_else_confirmed_is_not_confirmed_again_unseen(plant: Plant) -> None:
    """The first terminal has not seen that the second went on: nothing is recorded, and then it sees it."""
    ann = plant.first(ANN)
    bob = plant.beside(ann, BOB)
    ann.follow()
    gate(bob, Act.TOLD)
    gate(bob, Act.SHUT_DOWN)
    before = len(bob.entries)
    with pytest.raises(Conflict):
        gate(ann, Act.TOLD)
    assert len(plant.book.entries(ann.id)) == before, "a refused step leaves no row"
    assert ann.state.person == ANN
    assert ann.state.steps[BOX][0].act is Act.OFF_AND_LOCKED
    gate(ann, Act.OFF_AND_LOCKED, ann.state.steps[BOX][0].target)
    assert {owner for _, owner in ann.state.locks} == {"Ann"}


def test_what_was_only_seen_is_judged_again_and_stored(plant: Plant) -> None:
    ann = plant.first(ANN)
    olga = plant.beside(ann, OLGA)
    ann.post(Called(role=Role.ENGINEER))
    olga.say("supply-lamp", "dark")
    ann.post(Noted(text="Two of us are here."))
    assert by(ann)[-3:] == [("Ann", "called"), ("Olga", "found"), ("Ann", "noted")]


def test_the_other_terminal_learns_that_the_zone_is_dead_no_more(plant: Plant) -> None:
    ann = plant.first(ANN)
    lock_out(ann)
    bob = plant.beside(ann, BOB)
    assert ann.follow()
    assert ann.state.banner.level == "dead"
    assert bob.state.banner.title.startswith("NOT DEAD FOR YOU"), "each terminal shows what its own person may do"
    gate(bob, Act.VOLTAGE_FOUND)
    assert ann.follow()
    assert ann.state.banner.level == "stop"
    assert not ann.follow(), "nothing new since"


def test_whoever_comes_back_tests_again_before_they_touch(plant: Plant) -> None:
    ann = plant.first(ANN)
    lock_out(ann)
    again = plant.beside(ann, ANN)
    assert again.state.lockouts[BOX].phase is Phase.DEAD
    assert again.state.banner.title.startswith("NOT DEAD FOR YOU")
    assert again.state.steps[BOX][0].act is Act.METER_PROVED
    lock_out(again)
    assert again.state.banner.level == "dead"


def test_a_meter_proved_before_the_break_proves_nothing_after_it(plant: Plant) -> None:
    ann = plant.first(ANN)
    while ann.state.steps[BOX][0].act is not Act.TESTED_DEAD:
        step = ann.state.steps[BOX][0]
        while step.target in ann.state.waits and ann.state.waits[step.target] > plant.clock():
            pass
        gate(ann, step.act, step.target)
    again = plant.beside(ann, ANN)
    assert again.state.steps[BOX][0].act is Act.METER_PROVED


def test_a_role_alone_neither_locks_nor_remedies(plant: Plant) -> None:
    """Two people could stand behind `electrician on shift`, and locks are told apart by their owner's name."""
    someone = Person("Electrician  on shift", Role.ELECTRICIAN, authorised=True, qualified=True)
    case = plant.first(someone)
    case.say("supply-lamp", "dark")
    case.post(Called(role=Role.ENGINEER))
    with pytest.raises(Refused, match="name of your own"):
        gate(case, Act.TOLD)
    with pytest.raises(Refused, match="name"):
        case.post(Remedied(remedy=next(iter(plant.machine.remedies))))


@pytest.mark.parametrize("spelling", ["ann", "  ANN ", "Änn", "aN\u0301n"])
def test_another_spelling_is_the_same_person(plant: Plant, spelling: str) -> None:
    ann = plant.first(ANN)
    gate(ann, Act.TOLD)
    gate(ann, Act.SHUT_DOWN)
    gate(ann, Act.OFF_AND_LOCKED, ann.state.steps[BOX][0].target)
    there = plant.beside(ann, replace(ANN, name=spelling))
    assert there.state.person.name == "Ann"
    assert [p.name for p in there.state.people] == ["Ann"]


def test_authorised_and_qualified_are_said_anew(plant: Plant) -> None:
    """Ann's word at the first terminal says nothing of Ann at the second."""
    ann = plant.first(ANN)
    there = plant.beside(ann, Person("Ann", Role.ELECTRICIAN))
    with pytest.raises(Refused, match="authorised"):
        gate(there, Act.TOLD)
    ann.follow()
    gate(ann, Act.TOLD)


def test_one_confirmation_of_somebody_else_here_is_theirs_alone(plant: Plant) -> None:
    """Two people at one tablet: Bob's entry is in Bob's name, and the terminal stays Ann's."""
    ann = plant.first(ANN)
    gate(ann, Act.TOLD)
    ann.post(Noted(text="I heard it too."), Sitting(BOB))
    assert by(ann)[-2:] == [("Bob", "joined"), ("Bob", "noted")]
    assert (ann.state.person, ann.state.lead) == (ANN, ANN)
    last = ann.entries[-2]
    assert isinstance(last, Stamped)
    assert isinstance(last.event, Joined)


def test_an_entry_never_goes_into_a_later_case_of_the_same_name(mixer: Machine, tmp_path: Path) -> None:
    """Somebody else's clock is a year ahead: their case has the same name, and the entry count is the same."""
    now = datetime(2026, 12, 1, 3, 0, tzinfo=UTC)
    with Casebook(tmp_path / "book.sqlite3") as book:
        ann = Case.open(mixer, Person("Ann", Role.OPERATOR), book=book, clock=lambda: now)
        olga = Case.open(mixer, Person("Olga", Role.OPERATOR), book=book, clock=lambda: now + timedelta(days=365))
        assert ann.id == olga.id
        ann.post(Noted(text="rope torn"))
        olga.follow()
        assert [note.text for note in ann.state.notes] == ["rope torn"]
        assert not olga.state.notes


def test_a_clock_set_back_a_year_opens_no_older_case(mixer: Machine, tmp_path: Path) -> None:
    now = datetime(2026, 12, 1, 3, 0, tzinfo=UTC)
    with Casebook(tmp_path / "book.sqlite3") as book:
        ann = Case.open(mixer, Person("Ann", Role.OPERATOR), book=book, clock=lambda: now)
        olga = Case.open(mixer, Person("Olga", Role.OPERATOR), book=book, clock=lambda: now - timedelta(days=365))
        assert ann.id == olga.id
        assert [n.by for n in olga.entries if isinstance(n, Stamped)] == ["Olga", "Olga"]
        olga.post(Noted(text="mine"))
        ann.follow()
        assert not ann.state.notes


def test_a_case_of_another_machine_is_not_read_as_one_of_this(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, Person("Ann", Role.OPERATOR), book=book)
        with pytest.raises(CasebookError, match="is of"):
            Case.read(case.id, replace(mixer, id="another"), book=book)
