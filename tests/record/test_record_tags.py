"""What machines of a site share, by its tag: a lock there shows at each of them, and counts for none but its own."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case.case_steps import ANN, BOB, BOX, Ticking, gate, go_back, lock_out

from diag.case.case import Case
from diag.case.condition import as_object, condition_of, in_words
from diag.case.log.stored import cases_in, derive
from diag.case.sheet.sheet import plain
from diag.machine.model import Machine
from diag.record.casebook import Casebook, CasebookError
from diag.record.forgetting import forget
from diag.record.verify.verifying import verify
from diag.safety import Act

CLOCK = Ticking()
Q1 = "main-switch-q1"
TAG = "MCC 3 feeder 7"


def tagged(machine: Machine, tag: str = TAG) -> Machine:
    return replace(machine, points={**machine.points, Q1: replace(machine.points[Q1], tag=tag)})


@pytest.fixture
def here(mixer: Machine) -> Machine:
    return tagged(mixer)


@pytest.fixture
def there(mixer: Machine) -> Machine:
    """Another machine, at the same feeder; its file spells the tag in its own way."""
    return tagged(replace(mixer, id="sorter", title="Sorter"), "mcc 3 FEEDER 7")


def opened(machine: Machine, book: Casebook, who: object = ANN) -> Case:
    return Case.open(machine, who, book=book, clock=CLOCK)  # type: ignore[arg-type]


def texts(case: Case) -> str:
    return " ".join(step.text for step in case.state.steps[BOX])


def test_a_lock_shows_wherever_the_tag_is_named_and_counts_nowhere_else(
    here: Machine, there: Machine, book: Casebook
) -> None:
    ann = opened(here, book)
    lock_out(ann)
    bob = opened(there, book, BOB)
    (lock,) = bob.state.tag_locks
    assert (lock.point, lock.tag, lock.machine, lock.who, lock.case) == (Q1, "mcc 3 FEEDER 7", "mixer", "Ann", ann.id)
    assert not bob.state.locks
    assert bob.state.energised
    assert bob.state.banner.level == "energised"
    gate(bob, Act.TOLD)
    gate(bob, Act.SHUT_DOWN)
    assert f"there is also: lock of Ann at mixer, case {ann.id}." in texts(bob)
    assert [s.target for s in bob.state.steps[BOX] if s.act is Act.OFF_AND_LOCKED] == list(there.zones[BOX].points)
    assert "LOCK ON at mcc 3 FEEDER 7, here Main switch Q1: lock of Ann at mixer" in plain(bob).replace("\n  ", " ")
    assert not ann.state.tag_locks


def test_the_condition_tells_it_and_the_lists_tell_each_lock_once(
    here: Machine, there: Machine, book: Casebook
) -> None:
    ann = opened(here, book)
    lock_out(ann)
    found = condition_of(book, there, CLOCK())
    assert f"LOCK ON at mcc 3 FEEDER 7, which this machine shares: lock of Ann at mixer, case {ann.id}" in " ".join(
        in_words(found, there)
    )
    assert [(t["machine"], t["asset"], t["who"]) for t in as_object(found)["tag_locks"]] == [("mixer", None, "Ann")]
    assert as_object(found)["locks"] == []
    assert [c.locks for c in cases_in(book)] == [tuple(sorted((p, "Ann") for p in here.zones[BOX].points))]
    assert not condition_of(book, here, CLOCK()).tag_locks
    assert not verify(book.engine).faults
    with pytest.raises(CasebookError, match=r"What stands at mixer is in the name of Ann \(lift-permit\)"):
        forget(book.engine, "Ann", derive)


def test_it_goes_with_the_lock(here: Machine, there: Machine, book: Casebook) -> None:
    ann = opened(here, book)
    lock_out(ann)
    go_back(ann)
    assert not condition_of(book, there, CLOCK()).tag_locks
    assert not opened(there, book, BOB).state.tag_locks
    assert not verify(book.engine).faults


def test_a_tag_taken_out_of_the_file_leaves_no_lock_behind(here: Machine, mixer: Machine, book: Casebook) -> None:
    """The lock came off while the file named no tag, so nothing took it off there."""
    ann = opened(here, book)
    lock_out(ann)
    again = Case.resume(ann.id, mixer, ANN, book=book, clock=CLOCK)
    go_back(again)
    assert not condition_of(book, tagged(replace(mixer, id="sorter")), CLOCK()).tag_locks
    assert not verify(book.engine).faults


def test_assets_of_one_file_share_what_it_tags(here: Machine, book: Casebook) -> None:
    both = replace(here, assets=("Mixer 1", "Mixer 2"))
    ann = opened(both.of_asset("Mixer 1"), book)
    lock_out(ann)
    bob = opened(both.of_asset("Mixer 2"), book, BOB)
    assert [lock.machine for lock in bob.state.tag_locks] == ["mixer/mixer 1"]
    assert not bob.state.locks


def test_a_case_that_is_open_hears_of_it(here: Machine, there: Machine, book: Casebook) -> None:
    bob, ann = opened(there, book, BOB), opened(here, book)
    assert bob.news() is None
    lock_out(ann)
    assert ann.news() is None
    assert bob.follow()
    assert [lock.who for lock in bob.state.tag_locks] == ["Ann"]
    assert bob.news() is None
    lock_out(bob)
    assert bob.state.banner.level == "dead"
    assert ann.follow()
    assert [lock.who for lock in ann.state.tag_locks] == ["Bob"]
    assert ann.state.banner.level == "dead"


def test_a_lock_that_somebody_took_off_the_list_of_a_tag_is_noticed(
    here: Machine, there: Machine, book: Casebook
) -> None:
    ann = opened(here, book)
    lock_out(ann)
    book.engine.write(
        lambda: book.engine.run("DELETE FROM lock_on WHERE machine LIKE '/mcc 3 feeder 7'"), lambda _: False
    )
    assert verify(book.engine).faults
    bob = opened(there, book, BOB)
    assert [(lock.point, lock.who) for lock in bob.state.tag_locks] == [(Q1, "")]
    assert "contradicts itself there, so look whose locks are on it" in " ".join(
        in_words(condition_of(book, there, CLOCK()), there)
    )
