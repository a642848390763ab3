"""Machines of one kind that share a file: what is physically so is of one of them, and an old casebook goes on."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case.case_steps import ANN, BOB, BOX, Ticking, gate, lock_out

from diag.case.case import Case
from diag.case.condition import condition_of
from diag.case.log.events import Closed, Found, ResetDone
from diag.case.log.stored import cases_in
from diag.case.phrases import gone
from diag.case.sheet.sheet import plain
from diag.machine.assets import NoSuchAsset, parted, recorded_as
from diag.machine.model import Machine
from diag.record.casebook import Casebook, CasebookError
from diag.record.verify.verifying import verify
from diag.safety import Act, Refused

CLOCK = Ticking()
BURNING = Found(indication="smell", seen={"burning": 1.0})


@pytest.fixture
def two(mixer: Machine) -> Machine:
    """The mixer's file, serving two of them."""
    return replace(mixer, assets=("Mixer 1", "Mixer 2"))


def test_what_is_so_at_one_asset_is_not_so_at_another(two: Machine, book: Casebook) -> None:
    first = Case.open(two.of_asset("Mixer 1"), ANN, book=book, clock=CLOCK)
    first.say("box-display", "G0")
    first.post(ResetDone(reset="panel-reset"))
    lock_out(first)
    first.post(BURNING)
    second = Case.open(two.of_asset("Mixer 2"), BOB, book=book, clock=CLOCK)
    assert first.state.locks
    assert first.state.danger
    assert second.state.energised
    assert not second.state.locks
    assert not second.state.danger
    assert [r.done for r in second.state.resets if r.id == "panel-reset"] == [0]
    assert [r.done for r in first.state.resets if r.id == "panel-reset"] == [1]
    one, other = (condition_of(book, two.of_asset(name), CLOCK()) for name in two.assets)
    assert one.locks
    assert one.dangers
    assert [c.id for c in one.cases] == [first.id]
    assert not other.locks
    assert not other.dangers
    assert [c.id for c in other.cases] == [second.id]
    assert [(c.machine, c.asset, c.danger) for c in cases_in(book)] == [
        ("mixer", "mixer 2", False),
        ("mixer", "mixer 1", True),
    ]
    assert not verify(book.engine).faults


def test_a_second_case_of_the_same_asset_begins_under_its_locks(two: Machine, book: Casebook) -> None:
    first = Case.open(two.of_asset("Mixer 1"), ANN, book=book, clock=CLOCK)
    lock_out(first)
    again = Case.open(two.of_asset("mixer  1"), BOB, book=book, clock=CLOCK)
    assert again.state.locks == first.state.locks
    assert again.state.asset == "Mixer 1"


def test_a_machine_without_assets_is_known_by_its_id_alone(mixer: Machine) -> None:
    assert mixer.recorded_as == "mixer"
    assert mixer.of_asset("") == mixer
    with pytest.raises(NoSuchAsset, match="names no assets"):
        mixer.of_asset("mixer 1")


def test_an_unknown_asset_is_refused_with_the_nearest(two: Machine) -> None:
    with pytest.raises(NoSuchAsset, match="unknown asset 'Mixr 2' of 'mixer'; nearest: 'Mixer 2'"):
        two.of_asset("Mixr 2")
    with pytest.raises(NoSuchAsset, match="say which asset of mixer is meant: Mixer 1, Mixer 2"):
        two.of_asset("")


def test_a_file_with_one_asset_needs_no_choice(mixer: Machine) -> None:
    assert replace(mixer, assets=("mixer 1",)).of_asset("").asset == "mixer 1"


@pytest.mark.parametrize("asset", ["", "Mixer 1", "MIXER\u00a0 1"])
def test_what_the_record_knows_comes_apart_again(asset: str) -> None:
    assert parted(recorded_as("mixer", asset)) == ("mixer", "mixer 1" if asset else "")


def test_no_case_is_begun_without_an_asset(two: Machine, book: Casebook) -> None:
    with pytest.raises(Refused, match="say which asset"):
        Case.open(two, ANN, book=book, clock=CLOCK)
    assert book.count() == 0


def test_a_case_of_one_asset_is_not_opened_as_another(two: Machine, book: Casebook) -> None:
    case = Case.open(two.of_asset("Mixer 1"), ANN, book=book, clock=CLOCK)
    with pytest.raises(CasebookError, match="is of mixer, mixer 1, not of mixer, mixer 2"):
        Case.resume(case.id, two.of_asset("Mixer 2"), BOB, book=book, clock=CLOCK)


def test_a_case_of_an_asset_that_the_file_drops_goes_on_and_says_so(two: Machine, book: Casebook) -> None:
    case = Case.open(two.of_asset("Mixer 2"), ANN, book=book, clock=CLOCK)
    lock_out(case)
    assert not gone(case.machine)
    dropped = replace(two, assets=("Mixer 1",)).as_recorded("mixer 2")
    again = Case.resume(case.id, dropped, BOB, book=book, clock=CLOCK)
    assert again.state.locks == case.state.locks
    assert "knows no asset mixer 2 any more. It names Mixer 1." in gone(again.machine)
    assert gone(again.machine) in plain(again).replace("\n", " ").replace("  ", " ")
    gate(again, Act.BACK)
    assert again.state.lockouts[BOX].phase == "back"
    with pytest.raises(Refused, match="unknown asset"):
        Case.open(dropped, BOB, book=book, clock=CLOCK)


def test_a_case_from_before_the_file_named_assets_goes_on(mixer: Machine, two: Machine, book: Casebook) -> None:
    case = Case.open(mixer, ANN, book=book, clock=CLOCK)
    lock_out(case)
    again = Case.resume(case.id, two.as_recorded(""), BOB, book=book, clock=CLOCK)
    assert again.state.locks == case.state.locks
    assert "no machine without a named asset" in gone(again.machine)


def test_an_asset_that_is_spelled_otherwise_is_the_same(two: Machine, book: Casebook) -> None:
    case = Case.open(two.of_asset("Mixer 1"), ANN, book=book, clock=CLOCK)
    lock_out(case)
    spelled = replace(two, assets=("MIXER 1", "Mixer 2")).of_asset("Mixer 1")
    assert Case.open(spelled, BOB, book=book, clock=CLOCK).state.locks == case.state.locks


def test_the_cases_of_an_asset_travel(two: Machine, book: Casebook, tmp_path_factory: pytest.TempPathFactory) -> None:
    from diag.case.log.stored import derive
    from diag.record.copies.importing import import_file
    from diag.record.copies.moving import export

    case = Case.open(two.of_asset("Mixer 1"), ANN, book=book, clock=CLOCK)
    case.post(Closed(outcome="running"))
    folder = tmp_path_factory.mktemp("there")
    export(book.engine, (), folder / "cases.jsonl")
    with Casebook(folder / "other.sqlite3") as other:
        assert import_file(other.engine, folder / "cases.jsonl", derive).added == (case.id,)
        assert [(c.machine, c.asset) for c in cases_in(other)] == [("mixer", "mixer 1")]
