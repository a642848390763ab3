"""The gate's screen where habit would do harm: one Enter too many, a wait that is not over, a key that is held down."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from stage import ADA, Hand, Stage

from diag.case.log.events import Event, Gate
from diag.safety import Act
from diag.tui.screens.case.case_screen import CaseScreen
from diag.tui.screens.case.parts.requests import hint

CASE = "1125-a"
TO_THE_WAIT = (*ADA, "g", *["enter"] * 4)
"""Told, shut down, both points off and locked; the arm, whose label asks for a minute, is due."""


def acts(stage: Stage) -> list[Act]:
    return [e.act for e in stage.events(CASE) if isinstance(e, Gate)]


async def test_enter_at_the_end_of_the_way_back_leads_to_the_case(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT, "b", *["enter"] * 10)
        assert "ENERGISED" in hand.lines[0]
        assert "✓ Back on: Permission feed" in hand.words
        assert "The power is back on. ↵ back to the case." in hand.words
        await hand.press("1", "b", "v", "v", "u")
        assert acts(stage)[-1] is Act.POWER_ON
        await hand.press("enter")
        assert "NEXT" in hand.words
        assert acts(stage)[-1] is Act.POWER_ON
        # Whoever opens the gate again means another lockout.
        await hand.press("g")
        assert "Everyone who works at or near the machine has been told" in hand.words


async def test_a_wait_that_is_not_over_holds_the_gate_and_is_said(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT)
        assert "The label says to wait 1 min. 1:00 of it is left." in hand.words
        stage.clock.on(0.25)
        await hand.press("enter")
        assert "0:45 of the label's wait is left" in hand.status
        assert acts(stage)[-1] is not Act.RELEASED
        await hand.press(*["enter"] * 8)
        assert acts(stage)[-1] is not Act.RELEASED, "pressed again it is refused again"
        assert "LOCKING OUT, not dead" in hand.lines[0]
        assert "label's wait 0:45" in hand.lines[1]
        await hand.press("escape")
        assert "LOCKING OUT, not dead" in hand.lines[0]
        assert "label's wait 0:45" in hand.lines[1]
        stage.clock.on(1)
        await hand.press("g", "enter")
        assert acts(stage)[-1] is Act.RELEASED
        assert "label's wait over: measure" in hand.lines[1]
        assert "LOCKING OUT, not dead" in hand.lines[0]


async def test_a_wait_that_is_over_asks_nothing(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT)
        stage.clock.on(1)
        await hand.press("down", "up")
        assert "It is over; the meter shows whether it was long enough." in hand.words
        await hand.press("enter")
        assert acts(stage)[-1] is Act.RELEASED


async def test_every_press_of_undo_takes_back_and_a_held_one_only_once(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT, "u")
        assert "IS YOUR LOCK OFF" in hand.box, "a lock goes out of the record by a word, not by a key alone"
        await hand.press("1")
        assert Act.RETRACT not in acts(stage)
        await hand.press("u", "2", "u", "2")
        assert acts(stage)[-2:] == [Act.RETRACT, Act.RETRACT]
        stage.seconds.still = True
        await hand.press("u", "u", "u")
        assert "One step back for each press." in hand.status
        assert acts(stage).count(Act.RETRACT) == 3


async def test_a_digit_without_a_step_says_so(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "enter", "enter", "7")
        assert "There is no step 7 here now." in hand.status
        await hand.press("1", "1")
        before = acts(stage)
        assert before[-1] is Act.OFF_AND_LOCKED
        await hand.press("1")
        assert "1 was not taken: one step is due, and Enter confirms it." in hand.status
        assert acts(stage) == before


async def test_what_one_may_is_changed_from_the_gate(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press("=Ada Brandt", "enter", "2", "enter", "g")
        assert "p changes the person, or what you may do." in hand.words
        await hand.press("p")
        assert "1 Ada Brandt: change what I may do" in hand.words
        await hand.press("1", "g", "a", "enter")
        assert "Ada Brandt" in hand.lines[0]
        await hand.press("enter")
        assert acts(stage) == [Act.TOLD]


async def locks_on(hand: Hand) -> None:
    await hand.press(*ADA, "g", "enter", "enter", "1")


async def test_leaving_with_locks_on_is_said_first(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await locks_on(hand)
        await hand.press("q")
        assert "Locks of Ada Brandt are on: Main switch Q1" in hand.status
        await hand.press("escape", "q")
        assert "Locks of Ada Brandt are on" in hand.status, "on the case as well, and said anew"
        assert hand.app.is_running
        await hand.press("q")
        assert not hand.app.is_running


async def test_the_record_of_the_gate_is_not_touched_by_leaving(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await locks_on(hand)
        before: list[Event] = stage.events(CASE)
        await hand.press("q", "q")
    assert [e for e in stage.events(CASE) if isinstance(e, Gate)] == [e for e in before if isinstance(e, Gate)]


async def held(stage: Stage, hand: Hand, key: str = "enter", presses: int = 60) -> None:
    """A key that is held down: it repeats every 30 ms, but for a first wait of half a second."""
    for n in range(presses):
        stage.seconds.ahead += 0.5 if n == 1 else 0.03
        await hand.press(key)


@pytest.mark.parametrize("way", [["g"], ["g", "tab", "tab"]])
async def test_a_held_enter_confirms_no_more_than_one_step(stage: Stage, way: list[str]) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, *way)
        stage.seconds.still = True
        await held(stage, hand)
        assert len(acts(stage)) == 1
        assert "Too quick" in hand.status
        stage.seconds.ahead += 1
        await held(stage, hand)
        assert len(acts(stage)) == 2


async def test_an_enter_that_is_held_from_box_to_box_acknowledges_no_live_work(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "w")
        stage.seconds.still = True
        await held(stage, hand)
        assert Act.LIVE not in acts(stage)


async def test_an_f_that_is_held_does_not_close_the_case(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
        stage.seconds.still = True
        await held(stage, hand, "f")
        assert "closed" not in stage.kinds(CASE)
        await held(stage, hand, "enter")
        assert "closed" not in stage.kinds(CASE)
        stage.seconds.ahead += 1
        await hand.press("2", "enter")
        assert "closed" in stage.kinds(CASE)


async def test_the_program_is_left_with_locks_on_only_while_the_warning_stands(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT, "escape", "q")
        assert "q again leaves. Locks of Ada Brandt are on" in hand.status
        screen = hand.app.screen
        assert isinstance(screen, CaseScreen)
        screen.paint()
        assert "q again leaves" in hand.status, "painting keeps it"
        # Something else is said meanwhile, as by what is found further ahead.
        screen.reply(hint("Looked further ahead."))
        await hand.press("q")
        assert "q again leaves" in hand.status
        assert hand.app.return_code is None
        stage.seconds.still = True
        await held(stage, hand, "q", 10)
        assert hand.app.return_code is None
        stage.seconds.ahead += 1
        await hand.key("q")
        assert hand.app.return_code == 0


@pytest.mark.parametrize("key", ["z", "j", "Z", "space"])
async def test_a_key_without_a_function_says_so(stage: Stage, key: str) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, key)
        assert "does nothing here. ? lists the keys." in hand.status


def live_work(stage: Stage) -> list[tuple[str, str]]:
    return [(e.reason, e.permit) for e in stage.events(CASE) if isinstance(e, Gate) and e.act is Act.LIVE]


async def test_live_work_takes_no_word_that_is_no_reason_and_no_permit_that_nobody_chose(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "w", "=qx", "enter")
        assert "type the reason in three words or more" in hand.text
        await hand.press("ctrl+u", "=power on", "enter")
        assert "by which permit" in hand.text
        assert "▸" not in hand.box
        await hand.press("enter", "enter")
        assert "Choose with a digit" in hand.text
        assert not live_work(stage)
        await hand.press("1")
        permit = "The permit on the board for this machine"
        assert live_work(stage) == [("The fault shows only with the power on", permit)]
        assert "The fault shows only with the power on" in hand.status
        assert permit in hand.status


async def test_live_work_takes_a_reason_and_a_permit_in_other_words(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "w", "=it only trips hot", "enter", "=P-4711", "enter")
    assert live_work(stage) == [("it only trips hot", "P-4711")]


@pytest.fixture
def with_limit(stage: Stage, tmp_path: Path) -> Stage:
    """The mixer with a meter's limit at its test point, what is done before the power goes, and a prop for its arm."""
    folder = tmp_path / "knowledge" / "mixer"
    shutil.copytree(stage.knowledge / "mixer", folder)
    file = folder / "machine.yaml"
    text = file.read_text()
    for old, new in (
        ("expects: 0 V, below: 5 V, terminals: [L1, L2, L3, PE]}", "expects: 0 V, below: 50 V, pairs: [L1-L2, L1-PE]}"),
        ("rest, wait: 1}", "rest, wait: 1, put-back: {do: Take out the prop, inside: true}}"),
        ("    stored: [arm-weight]\n", "    stored: [arm-weight]\n    before-off: [Drive the arm down]\n"),
    ):
        assert old in text
        text = text.replace(old, new)
    file.write_text(text)
    stage.knowledge = folder.parent
    return stage


async def test_the_meter_s_row_is_typed_with_its_unit_and_enter_alone_is_no_zero(with_limit: Stage) -> None:
    stage = with_limit
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "enter")
        assert "By the controls alone, with the power still on: Drive the arm down." in hand.words
        await hand.press(*["enter"] * 4)
        stage.clock.on(1)
        await hand.press(*["enter"] * 4, "enter")
        assert "Measure L1-L2, L1-PE, in this order. Each reads below 50 V" in hand.text
        for typed, says in (
            ("", "still to be typed"),
            ("0 0", "Type the unit too"),
            ("0 V", "and here is 1"),
        ):
            await hand.press(*([f"={typed}"] if typed else []), "enter")
            assert says in hand.text
            assert Act.TESTED_DEAD not in acts(stage)
            await hand.press(*["backspace"] * len(typed))
        await hand.press("=0.1 0,2 V", "enter")
        (tested,) = [e for e in stage.events(CASE) if isinstance(e, Gate) and e.act is Act.TESTED_DEAD]
        assert tested.values == {"L1-L2": 0.1, "L1-PE": 0.2}
        await hand.press("enter")
        assert "■ DEAD" in hand.lines[0]


async def test_a_row_with_a_voltage_in_it_stops_the_zone(with_limit: Stage) -> None:
    stage = with_limit
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 5)
        stage.clock.on(1)
        await hand.press(*["enter"] * 5, "=0 230 V", "enter")
        assert "STOP, voltage found" in hand.lines[0]
        assert "Voltage or energy found. Keep out and call." in hand.status
        assert acts(stage)[-1] is Act.VOLTAGE_FOUND


async def test_each_hold_and_lock_and_point_of_the_way_back_has_its_own_line(with_limit: Stage) -> None:
    stage = with_limit
    async with stage.run("mixer", size=(120, 40)) as hand:
        await hand.press(*ADA, "g", *["enter"] * 5)
        stage.clock.on(1)
        await hand.press("enter", "b")
        for line in (
            "Raised mixing arm: Take out the prop",
            "Tools, test leads and parts out",
            "Lock off: Main switch Q1",
            "Lock off: Permission feed from the bowl lift",
            "A last look: everyone is clear",
            "Back on: Main switch Q1",
        ):
            assert line in hand.words
        await hand.press(*["enter"] * 11)
        assert "The power is back on. ↵ back to the case." in hand.words
        named = [(e.act, e.target) for e in stage.events(CASE) if isinstance(e, Gate)]
        assert named.index((Act.HOLD_OUT, "arm-weight")) < named.index((Act.TOOLS_OUT, ""))
        assert named[-1] == (Act.POWER_ON, "lift-permit")


@pytest.mark.parametrize("size", [(59, 30), (100, 17), (20, 5)])
async def test_a_window_too_small_to_read_a_step_confirms_none(stage: Stage, size: tuple[int, int]) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*ADA, "g", "enter", "1", "enter", "b", "i")
        assert acts(stage) == []
        await hand.resize(60, 18)
        await hand.press("enter")
        assert acts(stage) == [Act.TOLD]
