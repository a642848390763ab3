"""The gate's screen where habit would do harm: one Enter too many, a wait that is not over, a key that is held down."""

from __future__ import annotations

from stage import ADA, Hand, Stage

from diag.case.events import Event, Gate
from diag.safety import Act

CASE = "1125-a"
TO_THE_WAIT = (*ADA, "g", *["enter"] * 4)
"""Told, shut down, both points off and locked; the arm, whose label asks for a minute, is due."""


def acts(stage: Stage) -> list[Act]:
    return [e.act for e in stage.events(CASE) if isinstance(e, Gate)]


async def test_enter_at_the_end_of_the_way_back_leads_to_the_case(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT, "b", *["enter"] * 6)
        assert "ENERGISED" in hand.lines[0]
        assert "✓ Power back on" in hand.words
        assert "The power is back on. ↵ back to the case." in hand.words
        await hand.press("1", "b", "v", "v", "u")
        assert acts(stage)[-1] is Act.POWER_ON
        await hand.press("enter")
        assert "NEXT" in hand.words
        assert acts(stage)[-1] is Act.POWER_ON
        # Whoever opens the gate again means another lockout.
        await hand.press("g")
        assert "Everybody who works at or near the machine is told" in hand.words


async def test_a_wait_that_is_not_over_holds_the_gate_and_is_said(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT)
        assert "The label says to wait 1 min. 1:00 of them are left." in hand.words
        stage.clock.on(0.25)
        await hand.press("enter")
        assert "0:45 of the label's wait are left" in hand.status
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
        assert "They are over; the meter says whether it is enough." in hand.words
        await hand.press("enter")
        assert acts(stage)[-1] is Act.RELEASED


async def test_every_press_of_undo_takes_back_and_a_held_one_only_once(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*TO_THE_WAIT, "u", "u")
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
