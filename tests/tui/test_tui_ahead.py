"""What looking further ahead does to the screen: at once it may change what is asked for; later it only stands by."""

from __future__ import annotations

from pathlib import Path

import pytest
from stage import EVA, Stage

from diag.tui.screens.case import advice_thread as screen

ALWAYS, NEVER = -1.0, 1e9
"""Seconds after which somebody has begun to read."""


@pytest.fixture
def labeller(tmp_path: Path) -> Stage:
    """A machine on which two looks pay only together, with time to find that out."""
    return Stage(Path(__file__).parents[1] / "ahead", tmp_path / "cases.sqlite3", ahead=60.0)


async def test_what_nobody_has_read_yet_changes_places(labeller: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(screen, "READ", NEVER)
    async with labeller.run("two-lamps", size=(140, 40)) as hand:
        await hand.press(*EVA)
        assert "Look at the feed lamp" in hand.words
        assert "Looked further ahead: about" in hand.words
        await hand.press("2")
        assert "FEED: dark" in hand.status


async def test_what_is_being_read_stays_and_the_better_thing_stands_beside(
    labeller: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(screen, "READ", ALWAYS)
    async with labeller.run("two-lamps") as hand:
        await hand.press(*EVA)
        assert "TIME TO CALL" in hand.text
        assert "a Look at the feed lamp" in hand.words
        assert "Looked further ahead" in hand.status
        await hand.press("a")
        assert "─NEXT─" in hand.lines[2]
        assert "Look at the feed lamp" in hand.lines[3]


async def test_no_seconds_no_looking(labeller: Stage) -> None:
    labeller.ahead = 0.0
    async with labeller.run("two-lamps") as hand:
        await hand.press(*EVA)
        assert "TIME TO CALL" in hand.text
        assert "Looked further ahead" not in hand.words
