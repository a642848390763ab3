"""Each screen as it was approved, as plain lines, at 80 x 24 and at 140 x 40. `DIAG_GOLDENS=new` approves anew."""

from __future__ import annotations

import pytest
from stage import ADA, OLE, VOLTS, Stage, golden

SIZES = pytest.mark.parametrize("size", [(80, 24), (140, 40)], ids=lambda s: f"{s[0]}x{s[1]}")
Size = tuple[int, int]


@SIZES
async def test_home(stage: Stage, size: Size) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "3")
    stage.clock.on(95)
    async with stage.run(size=size) as hand:
        golden(hand, "home")
        await hand.press("=doh mixr")
        golden(hand, "home-found")


@SIZES
async def test_who(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press("=Ada Brandt", "enter", "2", "a")
        golden(hand, "who")


@SIZES
async def test_case(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*ADA, "3", "1", "2")
        golden(hand, "case-live-asked")
        await hand.press("slash", "=display", "enter", "enter", "=d2", "enter", "t")
        golden(hand, "case-why")
        await hand.press("t", "right")
        golden(hand, "case-facts")


@SIZES
async def test_stop(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*OLE, "slash", "=smell", "enter", "2")
        golden(hand, "stop")


@SIZES
async def test_time_to_call(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*OLE, "1", "enter", "=--", "enter")
        golden(hand, "call")


@SIZES
async def test_gate(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*ADA, "g", "enter", "enter")
        golden(hand, "gate-points")
        await hand.press("1", "enter")
        golden(hand, "gate-wait")
        stage.clock.on(1)
        await hand.press(*["enter"] * 5, *VOLTS, "enter")
        golden(hand, "gate-dead")
        await hand.press("b", "enter")
        golden(hand, "gate-back")


@SIZES
async def test_reset(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*OLE, "r")
        golden(hand, "reset")


@SIZES
async def test_finish(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*ADA, "3", "2", "enter")
        stage.clock.on(12)
        await hand.press("f", "1")
        golden(hand, "finish")


@SIZES
async def test_help_and_find(stage: Stage, size: Size) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*ADA, "question_mark")
        golden(hand, "help")
        await hand.press("escape", "slash", "=sup")
        golden(hand, "find")
        await hand.press("escape", "i")
        golden(hand, "in-full")
        await hand.press("escape", "b")
        golden(hand, "before")


async def test_the_stacker_at_80_by_24(stacker: Stage) -> None:
    """The embedded machine fits: its whole front, the next thing, the causes and three rows of keys."""
    async with stacker.run("tray-stacker") as hand:
        await hand.press(*ADA)
        for label in ("RED", "RESTORE", "PHASES", "SUPPLY", "GUARDS", "HEALTH", "CELL", "REPEATS", "LIFT", "TURN"):
            assert label in hand.text
        assert "NEXT" in hand.text
        assert "LIKELY CAUSES" in hand.text
        assert "leave" in hand.lines[-1]
