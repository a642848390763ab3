"""Every kind of entry on the case screen, by keys alone and by mouse alone, and what is kept of it."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from stage import ADA, Hand, Stage, golden

from diag.case.log.events import Found

CASE = "1125-a"


def last(stage: Stage) -> Found:
    return [e for e in stage.events(CASE) if isinstance(e, Found)][-1]


async def find(hand: Hand, words: str) -> None:
    await hand.press("slash", f"={words}", "enter")


@asynccontextmanager
async def at(stage: Stage, words: str = "", size: tuple[int, int] = (80, 24)) -> AsyncIterator[Hand]:
    """Ada at the bench, with the strip on what is called so."""
    async with stage.run("bench", size=size) as hand:
        await hand.press(*ADA)
        if words:
            await find(hand, words)
        yield hand


# ---------------------------------------------------------------- contacts


async def test_a_contact_by_its_ohms_by_keys(bench: Stage) -> None:
    async with at(bench, "relay") as hand:
        assert "e measured" in hand.text
        await hand.press("e")
        assert "A break contact. With its coil released it should be closed." in hand.box
        await hand.press("=12")
        assert "Taken as high resistance" in hand.box
        golden(hand, "reads-ohms")
        await hand.press("enter")
        assert "high resistance (12)" in hand.status
    assert max(last(bench).seen, key=lambda s: last(bench).seen[s]) == "high-resistance"


async def test_a_contact_by_its_volts_by_mouse(bench: Stage) -> None:
    async with at(bench) as hand:
        await hand.click("Guard")
        await hand.click("e measured")
        await hand.click("to common, both sides")
        for figure in "24":
            await hand.click(f" {figure} ")
        await hand.click("next, then take")
        await hand.click(" 0 ")
        assert "Taken as open" in hand.box
        assert "coil is released, or the contact does not work; it should be energised" in hand.box
        await hand.click("next, then take")
    assert last(bench).indication == "guard"
    assert last(bench).seen["open"] == 1.0


async def test_volts_that_say_nothing_are_a_fact_that_says_nothing(bench: Stage) -> None:
    async with at(bench, "guard") as hand:
        await hand.press("e", "3", "=0.1", "enter")
    assert set(last(bench).seen.values()) == {1.0}


async def test_a_lamp_and_a_contact_that_disagree(bench: Stage) -> None:
    async with at(bench, "fault") as hand:
        await hand.press("1")
        await find(hand, "relay")
        await hand.press("2")
        assert "lamp says fault, contact says none" in hand.status
        assert "≠ FAULT and Relay" in hand.words
        await hand.press("i")
        assert "the contact is welded or stuck" in hand.box


# ---------------------------------------------------------------- readings


async def test_a_reading_near_a_limit_says_so(bench: Stage) -> None:
    async with at(bench, "supply") as hand:
        await hand.press("=20.3", "enter")
        assert "low (20.3 V d.c.). Near a limit for this meter" in hand.status
        await hand.press("t", "t")
        assert "low or good" in hand.text
    assert set(last(bench).seen) == {"low", "good"}


async def test_a_reading_by_mouse_alone(bench: Stage) -> None:
    async with at(bench) as hand:
        await hand.click("Supply")
        await hand.click("e keypad")
        for figure in ("2", "9", "←", "3", ".", "9"):
            await hand.click(f" {figure} ")
        await hand.click("next, then take")
    assert last(bench).said == "23.9"
    assert last(bench).seen == {"good": 1.0}


async def test_a_reading_that_cannot_be_is_asked_about_again_on_the_keypad(bench: Stage) -> None:
    async with at(bench, "supply") as hand:
        await hand.press("e", "=480", "enter")
        assert "Enter again takes it" in hand.box
        assert not any(isinstance(e, Found) for e in bench.events(CASE))
        await hand.press("enter")
    assert last(bench).said == "480"


async def test_a_reading_that_is_worked_out(bench: Stage) -> None:
    async with at(bench, "unbalance") as hand:
        await hand.press("e", "=404", "enter", "=400", "enter", "=396")
        assert "Taken as" in hand.box
        golden(hand, "reads-unbalance")
        await hand.press("enter")
    assert set(last(bench).seen) == {"good", "marginal"}
    assert last(bench).said == "1 % from 404, 400, 396"


# ---------------------------------------------------------------- displays


async def test_a_code_that_the_file_does_not_know_is_told_with_what_it_could_be(bench: Stage) -> None:
    async with at(bench, "display") as hand:
        await hand.press("enter", "=E0?", "enter")
        assert "E0? is not a code of this machine file. It could be" in hand.status
        assert "E05 slow" in hand.status
        assert not any(isinstance(e, Found) for e in bench.events(CASE))
        await hand.press("enter")
    assert {"slow", "hot"} <= set(last(bench).seen)


async def test_characters_of_one_shape_need_no_question(bench: Stage) -> None:
    async with at(bench, "display") as hand:
        await hand.press("enter", "=EOS", "enter")
        assert "slow (EOS)" in hand.status
    assert max(last(bench).seen, key=lambda s: last(bench).seen[s]) == "slow"


async def test_a_display_that_is_drawn_with_a_fault_of_its_own(bench: Stage) -> None:
    """The same stroke dark in every digit: the lamp test is the next thing."""
    async with at(bench, "display") as hand:
        await hand.press("e", *"aefg", "right", *"abcef", "right", *"acfg", "enter")
        assert "segment d dark in every digit" in hand.status
        assert "Hold the test button" in hand.lines[16], "above what was said, which takes two rows"
    assert last(bench).seen["slow"] == 1.0


async def test_a_display_drawn_by_mouse(bench: Stage) -> None:
    async with at(bench, "display") as hand:
        await hand.click("e draw it")
        x, y = hand.where("┄┄┄┄┄")
        await hand.click_at(x + 1, y)
        await hand.click("take")
    assert last(bench).indication == "display"


# ---------------------------------------------------------------- alarm lists


async def test_an_alarm_list_is_typed_as_it_is_read_out(bench: Stage) -> None:
    async with at(bench, "alarm") as hand:
        assert "the first one first" in hand.text
        await hand.press("enter", "=A2, A1", "enter")
        assert "stuck (A2, A1)" in hand.status
        await find(hand, "alarm")
        await hand.click("empty")
    assert last(bench).seen == {"empty": 1.0}


# ---------------------------------------------------------------- lamps


async def test_a_lamp_that_is_tapped_along(bench: Stage) -> None:
    async with at(bench, "run") as hand:
        assert "e tap along" in hand.text
        await hand.press("e", "l", "enter")
    assert last(bench).indication == "run-lamp"
    assert last(bench).seen["lit"] == 1.0
    assert last(bench).said == "stays lit"


async def test_the_key_says_when_there_is_no_other_way(bench: Stage) -> None:
    async with at(bench, "fault") as hand:
        assert "e tap along" not in hand.text
        await hand.press("e")
        assert "answered by its digits" in hand.status


@pytest.mark.parametrize("size", [(80, 24), (140, 40)])
async def test_the_bench(bench: Stage, size: tuple[int, int]) -> None:
    async with at(bench, "pair", size) as hand:
        await hand.press("2")
        await find(hand, "relay")
        await hand.press("3")
        await find(hand, "steps")
        await hand.press("enter", "=E04", "enter")
        golden(hand, "reads-bench")
