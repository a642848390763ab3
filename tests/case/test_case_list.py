"""The list of cases, what a case is found by, and entries as they are read from a casebook that may be damaged."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from case_steps import ANN, BOB, Ticking, go_back, lock_out

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.log.stored import cases_in, derive, entries_of, entry_to_add, event_of, machine_of, stream_of, touching
from diag.case.sitting import Sitting
from diag.machine.model import Machine, Role
from diag.record import entry as record
from diag.record.casebook import Casebook
from diag.safety import Person


@pytest.fixture
def book(tmp_path: Path) -> Casebook:
    return Casebook(tmp_path / "cases.db")


def opened(machine: Machine, book: Casebook, person: Person = ANN) -> Case:
    return Case.open(machine, person, book=book, clock=Ticking())


def handed_over(case: Case) -> None:
    case.post(e.Closed(outcome="handed-over", to="Bob"))


def taken(case: Case) -> None:
    handed_over(case)
    case.post(e.TookOver(person="Bob", role=Role.ENGINEER))


def running(case: Case) -> None:
    case.post(e.Closed(outcome="running"))


def running_and_back(case: Case) -> None:
    running(case)
    case.undo()


def nothing(case: Case) -> None:
    """It is only opened."""


@pytest.mark.parametrize(
    ("entered", "person", "ended"),
    [
        (nothing, "Ann", ""),
        (running, "Ann", "running"),
        (handed_over, "Ann", "handed-over"),
        (taken, "Bob", ""),
        (running_and_back, "Ann", ""),
    ],
)
def test_the_list_says_who_had_the_keys_last_and_how_a_case_ended(
    mixer: Machine, book: Casebook, entered: Any, person: str, ended: str
) -> None:
    case = opened(mixer, book)
    entered(case)
    (line,) = cases_in(book)
    assert (line.id, line.machine, line.person, line.closed) == (case.id, "mixer", person, ended)
    assert (line.opened, line.last) == (case.state.opened, case.state.last)
    assert [one.id for one in cases_in(book, only_open=True)] == ([] if ended == "running" else [case.id])
    assert machine_of(book, case.id) == "mixer"
    with pytest.raises(KeyError):
        machine_of(book, "0101-z")


def test_the_list_tells_the_locks_that_are_on(mixer: Machine, book: Casebook) -> None:
    case = opened(mixer, book)
    lock_out(case)
    assert cases_in(book)[0].locks == (("lift-permit", "Ann"), ("main-switch-q1", "Ann"))
    go_back(case)
    assert cases_in(book)[0].locks == ()


def test_the_case_with_the_latest_entry_stands_first(mixer: Machine, book: Casebook) -> None:
    clock = Ticking()
    first, second = (Case.open(mixer, person, book=book, clock=clock) for person in (ANN, BOB))
    assert [line.id for line in cases_in(book)] == [second.id, first.id]
    first.say("supply-lamp", "lit")
    assert [line.id for line in cases_in(book)] == [first.id, second.id]


@pytest.mark.parametrize(
    "word", ["mixer", "Ann", "Bob", "Tara", "supply-lamp", "shining", "flour", "let-cool", "tired"]
)
def test_a_case_is_found_by_what_was_said_in_it(mixer: Machine, book: Casebook, word: str) -> None:
    case = opened(mixer, book)
    case.say("supply-lamp", "lit")
    case.post(e.Found(indication="ready-lamp", seen={"lit": 1.0}, said="shining"))
    case.post(e.Noted(text="It smelled of flour"))
    case.post(e.Remedied(remedy="let-cool"))
    case.post(e.Joined(person="Tara", role=Role.ENGINEER))
    case.post(e.Closed(outcome="handed-over", to="Bob", note="I am tired"))
    assert [head.name for head in book.search(word)] == [case.id]
    assert book.search("gremlin") == ()


def test_what_is_kept_of_the_end_is_its_cause_its_remedy_and_its_minutes(mixer: Machine, book: Casebook) -> None:
    case = opened(mixer, book)
    case.say("box-display", "d2")
    case.post(e.Remedied(remedy="let-cool"))
    case.say("box-display", "idle")
    case.say("ready-lamp", "lit")
    case.post(e.Closed(outcome="cured", cause="bowl-too-full"))
    head = book.case(case.id)
    took = case.state.last - case.state.opened
    assert (head.ended, head.over, head.cause, head.remedy) == ("cured", True, "bowl-too-full", "let-cool")
    assert head.minutes == took.total_seconds() // 60 > 0


def test_a_remedy_that_failed_or_was_taken_back_cured_nothing(mixer: Machine, book: Casebook) -> None:
    for failed in (True, False):
        case = opened(mixer, book)
        case.say("box-display", "d2")
        case.post(e.Remedied(remedy="let-cool"))
        if failed:
            case.post(e.RemedyFailed(remedy="let-cool"))
        else:
            case.undo()
        case.post(e.Closed(outcome="running"))
        head = book.case(case.id)
        assert (head.ended, head.over, head.remedy, head.cause) == ("running", True, "", "")


def test_lists_can_be_worked_out_anew(mixer: Machine, book: Casebook) -> None:
    case = opened(mixer, book)
    taken(case)
    running(case)
    worked_out = derive(book.entries(case.id))
    assert [one.lead for one in worked_out] == ["Ann", "Ann", "Ann", "Bob", "Bob"]
    assert [one.ended for one in worked_out] == ["", "", "handed-over", "", "running"]
    assert [one.over for one in worked_out] == [False, False, False, False, True]


# ---------------------------------------------------------------- entries


def entry(**changed: object) -> record.Entry:
    plain: dict[str, Any] = {
        "case": "0102-a",
        "seq": 2,
        "at": datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC),
        "who": "Ann",
        "kind": "noted",
        "body": {"text": "x"},
        "stamp": record.Stamp(role="electrician", confirmed=("authorised",), sitting="s1"),
        "revs": {},
        "rev": 1,
        "digest": b"",
    }
    return record.Entry(**{**plain, **changed})


def test_an_entry_is_read_with_what_its_person_said_of_themselves() -> None:
    read = event_of(entry())
    assert isinstance(read, e.Stamped)
    assert (read.seq, read.by, read.sitting, read.event) == (2, "Ann", "s1", e.Noted(text="x"))
    assert (read.role, read.authorised, read.qualified) == (Role.ELECTRICIAN, True, False)
    old = event_of(entry(stamp=record.Stamp()))
    assert isinstance(old, e.Stamped)
    assert (old.role, old.authorised, old.qualified, old.sitting) == (None, False, False, "")


@pytest.mark.parametrize(
    "changed",
    [
        {"body": None},
        {"body": {"text": "x", "more": 1}},
        {"body": {"text": 7}},
        {"kind": "sung"},
        {"stamp": record.Stamp(role="singer")},
    ],
)
def test_an_entry_that_cannot_be_read_keeps_its_place(changed: dict[str, object]) -> None:
    assert event_of(entry(**changed)) == e.Unreadable(2, "Entry 2 of case 0102-a cannot be read. The others stand.")


def test_the_entries_behind_one_are_those_that_came_after_it(mixer: Machine, book: Casebook) -> None:
    case = opened(mixer, book)
    case.say("supply-lamp", "lit")
    assert entries_of(book, case.id) == case.entries
    assert entries_of(book, case.id, 2) == case.entries[2:]
    with pytest.raises(KeyError):
        entries_of(book, "0101-z")


# ---------------------------------------------------------------- entries as they are added


def test_names_and_free_words_are_kept_apart_so_that_they_can_be_forgotten(mixer: Machine) -> None:
    event = e.Found(indication="supply-lamp", seen={"lit": 1.0}, said="bright", before="Carl")
    stamped = e.Stamped(seq=3, at=datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC), by="Ann", event=event)
    body = entry_to_add(mixer, (), stamped, Sitting(ANN)).body
    assert {key: type(value) for key, value in body.items()} == {
        "indication": str,
        "seen": dict,
        "said": record.Text,
        "check": str,
        "before": record.Name,
    }


def test_what_touches_the_machine_touches_it_when_it_is_taken_back(mixer: Machine) -> None:
    at = datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC)
    events = (e.Noted(text="x"), e.ResetDone(reset="panel-reset"), e.Found(indication="smell", seen={"burning": 1.0}))
    before = tuple(e.Stamped(seq=n, at=at, by="Ann", event=event) for n, event in enumerate(events, 1))
    assert [touching(mixer, before, event) for event in events] == [False, True, True]
    assert [touching(mixer, before, e.TakenBack(seq=n)) for n in (1, 2, 3, 4)] == [False, True, True, False]
    assert not touching(mixer, (), e.Found(indication="supply-lamp", seen={"lit": 1.0}))
    assert touching(mixer, (), e.Found(indication="box-display", seen={"idle": 1.0})), "it may show a trip"


def test_a_case_that_is_over_within_the_minute_took_none(mixer: Machine, book: Casebook) -> None:
    at = datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC)
    case = Case.open(mixer, ANN, book=book, clock=lambda: at)
    running(case)
    assert book.case(case.id).minutes == 0


def test_a_machine_comes_to_rest_when_its_locks_are_off_though_the_case_goes_on(mixer: Machine, book: Casebook) -> None:
    first = opened(mixer, book)
    lock_out(first)
    go_back(first)
    later = opened(mixer, book, BOB)
    assert stream_of(book, later.id).carried is not None
    assert len(stream_of(book, later.id).entries) < len(first.entries)
