"""What entries keep of the advice that their person had: the first that followed advice, and the ending."""

from __future__ import annotations

from pathlib import Path

import pytest
from case_steps import ANN, Ticking, next_of

from diag.case.case import Case
from diag.case.log.events import Advised, CannotTell, Closed, Noted, Stamped
from diag.case.log.stored import entries_of
from diag.case.sheet.log_lines import log_lines
from diag.machine.approval.digest import digest
from diag.machine.load import load
from diag.machine.model import UNLISTED, Machine
from diag.record.casebook import Casebook


@pytest.fixture
def case(mixer: Machine) -> Case:
    return Case.open(mixer, ANN, clock=Ticking())


def kept(case: Case) -> list[Advised | None]:
    return [entry.advice for entry in case.entries if isinstance(entry, Stamped)]


def test_the_first_entry_after_advice_keeps_it(case: Case, mixer: Machine, mixer_folder: Path) -> None:
    advice, todo = case.advice(), next_of(case)
    case.post(Noted(text="What now?"))
    assert not any(kept(case)), "a note is no answer to it"
    case.cannot_tell(todo.gives[0])
    found = kept(case)[-1]
    assert found is not None
    best = [c for c in advice.causes if c.id != UNLISTED][:5]
    assert found.causes == {c.id: round(100 * c.probability, 1) for c in best}
    assert sum(found.causes.values()) + found.unlisted <= 100.5
    assert found.unlisted == round(100 * next(c.probability for c in advice.causes if c.id == UNLISTED), 1)
    assert found.next == f"{todo.kind} {todo.id}"
    assert (found.taken, found.of) == (1, 1)
    assert found.files == mixer.files == digest(load(mixer_folder).written)


def test_something_else_than_was_advised_is_told_as_that(case: Case) -> None:
    todo = next_of(case)
    other = next(i for i in case.machine.indications if i not in todo.gives)
    case.post(CannotTell(indication=other))
    found = kept(case)[-1]
    assert found is not None
    assert (found.taken, found.of) == (0, 1)


def test_the_ending_keeps_how_often_advice_was_followed(case: Case) -> None:
    for _ in range(2):
        case.cannot_tell(next_of(case).gives[0])
    todo = next_of(case)
    case.post(CannotTell(indication=next(i for i in case.machine.indications if i not in todo.gives)))
    ranking = case.ranking()
    case.post(Closed(outcome="running"))
    first, *between, last = (one for one in kept(case)[2:])
    assert first is not None
    assert between == [None, None]
    assert last is not None
    assert (last.taken, last.of) == (2, 3)
    assert max(last.causes, key=lambda cause: last.causes[cause]) == ranking[0].id


def test_where_nobody_asked_for_advice_there_is_none_to_keep(case: Case) -> None:
    case.say("supply-lamp", "lit")
    case.post(Closed(outcome="running"))
    assert kept(case) == [None] * 4


def test_it_is_read_back_from_the_casebook_and_told_in_words(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, ANN, book=book, clock=Ticking())
        case.cannot_tell(next_of(case).gives[0])
        assert entries_of(book, case.id) == case.entries
        *_, line = log_lines(book.entries(case.id), mixer)
    assert "[Advised: " in line
    assert "followed 1 of 1 times" in line
