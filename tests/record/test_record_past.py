"""What is over, what came from elsewhere, and what is dated ahead: none of it is taken for what is so now."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from case.case_steps import ANN, BOB, START, Ticking, lock_out
from click.testing import CliRunner

from diag.case.case import Case
from diag.case.log.events import Closed, Elsewhere, Found, Noted
from diag.case.log.stored import cases_in, derive
from diag.cli.group import diag
from diag.machine.model import Machine
from diag.record.casebook import Casebook
from diag.record.copies.importing import import_file
from diag.record.copies.moving import export
from diag.record.verify.verifying import verify
from diag.safety import Person

BURNING = Found(indication="smell", seen={"burning": 1.0})
RUNNING = Closed(outcome="running")


def opened(machine: Machine, book: Casebook, who: Person, clock: Ticking) -> Case:
    return Case.open(machine, who, book=book, clock=clock)


def test_an_old_case_is_read_up_to_its_end(mixer: Machine, book: Casebook) -> None:
    clock = Ticking()
    first = opened(mixer, book, ANN, clock)
    beside = opened(mixer, book, BOB, clock)
    first.follow()
    first.post(RUNNING)
    beside.follow()
    lock_out(beside)
    beside.post(BURNING)
    old = Case.resume(first.id, mixer, BOB, book=book, clock=clock)
    assert old.only_read
    assert [one.case for one in old.stream if isinstance(one, Elsewhere)] == [beside.id]
    assert (old.state.locks, old.state.danger, old.state.problems) == ((), "", ())
    assert old.state.energised
    assert len(book.stream(first.id, to_end=True).entries) < len(book.stream(first.id).entries)
    assert old.news() is None
    again = Case.read(beside.id, mixer, book=book, clock=clock)
    assert again.state.locks
    assert again.state.danger


def test_a_case_that_ended_here_goes_on_with_all_that_was_entered_since(mixer: Machine, book: Casebook) -> None:
    """Its end can be taken back, and then it stands under the locks that are on by now."""
    clock = Ticking()
    first = opened(mixer, book, ANN, clock)
    first.post(RUNNING)
    beside = opened(mixer, book, BOB, clock)
    lock_out(beside)
    first.follow()
    first.undo()
    assert not first.state.closed
    assert first.state.locks == beside.state.locks


def test_a_case_from_elsewhere_is_read_by_itself(mixer: Machine, book: Casebook, tmp_path: Path) -> None:
    clock = Ticking()
    with Casebook(tmp_path / "laptop.sqlite3") as laptop:
        for _ in range(3):
            there = opened(mixer, laptop, ANN, clock)
            there.post(RUNNING)
        export(laptop.engine, (there.id,), tmp_path / "cases.jsonl")
    for _ in range(2):
        here = opened(mixer, book, BOB, clock)
    lock_out(here)
    import_file(book.engine, tmp_path / "cases.jsonl", derive, START + timedelta(days=1))
    read = Case.read(there.id, mixer, book=book, clock=clock)
    assert all(not isinstance(one, Elsewhere) for one in read.stream)
    assert (read.state.locks, read.state.problems) == ((), ())


def test_one_list_that_contradicts_its_entries_is_told_and_hides_no_other(mixer: Machine, book: Casebook) -> None:
    clock = Ticking()
    ann = opened(mixer, book, ANN, clock)
    lock_out(ann)
    assert [c.doubtful for c in cases_in(book)] == [False]
    book.engine.write(lambda: book.engine.run("DELETE FROM lock_on"), lambda _: False)
    assert [(c.id, c.doubtful) for c in cases_in(book)] == [(ann.id, True)]


def dated(machine: Machine, at: datetime, folder: Path) -> tuple[Path, str]:
    """An export with a case that was opened at that time, by the clock there."""
    clock = Ticking()
    clock.now = at
    with Casebook(folder / "laptop.sqlite3") as laptop:
        case = opened(machine, laptop, ANN, clock)
        case.post(Noted(text="loud"))
        case.post(RUNNING)
        export(laptop.engine, (), folder / "cases.jsonl")
    return folder / "cases.jsonl", case.id


def test_a_case_that_is_dated_ahead_is_told_and_never_stands_for_one_of_today(
    mixer: Machine, book: Casebook, tmp_path: Path
) -> None:
    clock = Ticking()
    here = opened(mixer, book, BOB, clock)
    file, name = dated(mixer, START.replace(year=START.year + 4), tmp_path)
    assert name == here.id, "the same day of another year"
    found = import_file(book.engine, file, derive, START + timedelta(days=1))
    assert found.added == (f"{name}.ahead",)
    (remark,) = found.remarks
    assert remark.startswith(f"Case {name}: 4 entries are dated ahead of this clock, from 2030-11-25 03:01 UTC on.")
    assert f"It is called {name}.ahead here." in remark
    assert book.case(here.id).opened.year == START.year
    assert [h.name for h in book.all_cases()] == [f"{name}.ahead", here.id]
    assert import_file(book.engine, file, derive, START + timedelta(days=1)).known == (name,)
    assert not verify(book.engine).faults


def test_a_case_that_ends_ahead_is_told(mixer: Machine, book: Casebook, tmp_path: Path) -> None:
    file, name = dated(mixer, START, tmp_path)
    found = import_file(book.engine, file, derive, START + timedelta(minutes=2))
    assert found.added == (name,)
    assert found.remarks == (f"Case {name}: 1 entry is dated ahead of this clock, from 2026-11-25 03:03 UTC on.",)


@pytest.mark.parametrize("days", [400, 4000])
def test_the_list_of_cases_puts_what_is_dated_ahead_last(mixer: Machine, tmp_path: Path, days: int) -> None:
    file, name = dated(mixer, datetime.now(UTC) + timedelta(days=days), tmp_path)
    at = tmp_path / "book.sqlite3"
    with Casebook(at) as book:
        here = Case.open(mixer, BOB, book=book)
        import_file(book.engine, file, derive)
    lines = CliRunner().invoke(diag, ["--casebook", str(at), "cases"]).stdout.splitlines()
    assert [line.split()[0] for line in lines] == [here.id, f"{name}.ahead"]
