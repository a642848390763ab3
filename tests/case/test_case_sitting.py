"""Who enters is said by the sitting; the casebook's file, its mode, and the machine that a case belongs to."""

from __future__ import annotations

import shutil
import stat
from pathlib import Path

import pytest
from case_steps import ANN, BOB, OLGA, Ticking

from diag.case.case import Case
from diag.case.log.events import Called, Closed, Gate, Noted, Stamped, TookOver
from diag.case.log.replay import replay
from diag.case.log.stored import cases_in, entries_of, machine_of
from diag.case.sitting import Sitting, sitting_here
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety import Refused


def entered(case: Case) -> list[tuple[str, str]]:
    return [(e.by, e.event.kind) for e in case.entries if isinstance(e, Stamped)]


def test_an_entry_is_made_in_the_name_of_its_sitting(mixer: Machine) -> None:
    here, there = Sitting(ANN, host="a", terminal="/dev/pts/1"), Sitting(BOB)
    case = Case.open(mixer, here, clock=Ticking())
    case.post(Called(role=Role.ENGINEER), there)
    case.say("supply-lamp", "dark", there)
    case.cannot_tell("smell", sitting=here)
    case.undo(here)
    assert entered(case)[2:] == [
        ("Bob", "joined"),
        ("Bob", "called"),
        ("Bob", "found"),
        ("Ann", "cannot-tell"),
        ("Ann", "taken-back"),
    ]
    assert case.state.people == (ANN, BOB)
    assert case.state.facts[-1].by == "Bob"
    assert (case.state.person, case.state.lead) == (ANN, ANN), "nothing that Bob entered moved him to this terminal"


def test_whoever_takes_over_sits_there_from_then_on(mixer: Machine) -> None:
    case = Case.open(mixer, Sitting(ANN), clock=Ticking())
    case.post(TookOver(person="Bob", role=BOB.role, authorised=True, qualified=True))
    case.post(Noted(text="x"))
    assert entered(case)[2:] == [("Bob", "took-over"), ("Bob", "noted")]


def test_the_rule_is_asked_for_the_person_of_the_sitting(mixer: Machine) -> None:
    """An operator at a second terminal does not enter in the name of the electrician who has the keys."""
    case = Case.open(mixer, Sitting(ANN), clock=Ticking())
    before = case.entries
    zone = next(iter(mixer.zones))
    step = case.state.steps[zone][0]
    with pytest.raises(Refused):
        case.post(Gate(zone=zone, act=step.act, target=step.target), Sitting(OLGA))
    assert case.entries == before, "nor does a refused entry leave anything behind"


def test_nobody_goes_on_in_a_closed_case_by_sitting_elsewhere(mixer: Machine) -> None:
    case = Case.open(mixer, Sitting(ANN), clock=Ticking())
    case.post(Closed(outcome="handed-over", to="Bob"))
    with pytest.raises(Refused, match="closed"):
        case.post(Noted(text="x"), Sitting(BOB))
    assert case.state.closed == "handed-over"


def test_a_sitting_here_knows_the_computer() -> None:
    here = sitting_here(ANN)
    assert here.person == ANN
    assert here.version


def test_one_entry_more_gives_what_a_replay_of_all_gives(mixer: Machine) -> None:
    case = Case.open(mixer, Sitting(ANN), clock=Ticking())
    for said in (("supply-lamp", "dark"), ("main-switch", "on"), ("supply-lamp", "lit")):
        case.say(*said)
        assert case.state == replay(mixer, case.id, case.entries).projection().state
    case.undo()
    assert case.state == replay(mixer, case.id, case.entries).projection().state
    assert case.state.current["supply-lamp"] == "dark"


# ------------------------------------------------------------ the file


def test_the_file_alone_is_whole_after_a_clean_leave(mixer: Machine, tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    with Casebook(path) as book:
        case = Case.open(mixer, Sitting(ANN), book=book, clock=Ticking())
        case.say("supply-lamp", "dark")
        other = Casebook(path)
        entries_of(other, case.id)
    copied = tmp_path / "copy.sqlite3"
    shutil.copy(path, copied)  # while another program still has it open
    other.close()
    assert entries_of(Casebook(copied), case.id) == case.entries
    assert not path.with_name("book.sqlite3-wal").exists()


def test_only_its_owner_reads_a_new_file(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    with Casebook(path) as book:
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert all(stat.S_IMODE(p.stat().st_mode) == 0o600 for p in tmp_path.iterdir())
        assert cases_in(book) == ()


def test_a_casebook_knows_which_machine_a_case_belongs_to(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, Sitting(ANN), book=book, clock=Ticking())
        assert machine_of(book, case.id) == "mixer"
        with pytest.raises(KeyError):
            machine_of(book, "0101-z")
