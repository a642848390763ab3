"""Odd sizes do not crash, colours are left out when asked, every key is in the footer, help is on every screen."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from stage import ADA, Hand, Stage

from diag.tui.key_table import Key
from diag.tui.screens import finish, home, who
from diag.tui.screens.case.case_screen import CaseScreen
from diag.tui.screens.case.parts import case_keys
from diag.tui.screens.gate import gate_keys
from diag.tui.screens.gate.gate_screen import GateScreen
from diag.tui.widgets.keybar import KeyBar

sys.path.append(str(Path(__file__).parents[1]))
from terminal import Terminal


@pytest.mark.parametrize(
    "size", [(1, 1), (20, 5), (40, 12), (79, 23), (81, 25), (119, 33), (200, 20), (60, 90), (320, 90)]
)
async def test_odd_sizes(stage: Stage, size: tuple[int, int]) -> None:
    async with stage.run(size=size) as hand:
        await hand.press("enter", *ADA, "3", "1", "t", "t", "right", "tab", "down", "delete")
        await hand.press(
            "g", "enter", "escape", "f", "escape", "slash", "=sup", "escape", "i", "escape", "question_mark"
        )
        await hand.resize(size[0] + 7, size[1] + 3)


async def test_a_terminal_that_changes_its_size(stage: Stage) -> None:
    async with stage.run("mixer", size=(140, 40)) as hand:
        await hand.press(*ADA, "3")
        assert "FOR AND AGAINST" in hand.text
        assert "FACTS 1" in hand.text
        await hand.resize(80, 24)
        assert "LIKELY CAUSES · t for and against" in hand.text
        assert "FOR AND AGAINST" not in hand.text


def shown(hand: Hand) -> tuple[Key, ...]:
    return hand.app.screen.query_one(KeyBar)._keys


@pytest.mark.parametrize("table", [case_keys.TABLE, gate_keys.TABLE, home.TABLE, who.TABLE, finish.TABLE])
def test_every_key_says_what_it_does(table: tuple[Key, ...]) -> None:
    for key in table:
        assert key.shown
        assert key.label
        assert key.help.endswith(".")


async def test_every_key_of_the_case_is_in_its_footer(stage: Stage) -> None:
    """What works is in the footer, and what is in the footer works."""
    always = {"mark", "cannot_tell", "walk", "app.focus_next"}
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
        screen = hand.app.screen
        assert isinstance(screen, CaseScreen)
        names = {key.action for key in shown(hand)}
        bound = {b.action for b in screen.active_bindings.values() for b in [b.binding]}
        for key in case_keys.TABLE:
            assert key.action in bound | always
        assert {"find", "before", "undo", "gate", "reset", "call", "sheet", "finish", "help", "leave"} <= names
        assert all(key.label in hand.text for key in shown(hand))
        await hand.press("g")
        assert isinstance(hand.app.screen, GateScreen)
        assert all(key.label in hand.text for key in shown(hand))


async def test_help_on_every_screen(stage: Stage) -> None:
    async with stage.run() as hand:
        await hand.press("f1")
        assert "HELP · Find the machine" in hand.text
        await hand.press("escape", "enter", "f1")
        assert "HELP · Who is at the machine" in hand.text
        await hand.press("escape", *ADA, "question_mark")
        assert "HELP · The case" in hand.text
        await hand.press("escape", "g", "question_mark")
        assert "HELP · Lockout" in hand.text
        await hand.press("escape", "escape", "f", "f1")
        assert "HELP · Finish" in hand.text
        await hand.press("escape", "escape", "r", "f1")
        assert "HELP · Reset" in hand.text
        await hand.press("escape", "escape", "slash", "f1")
        assert "HELP · Choose from a list" in hand.text
        await hand.press("escape", "escape", "w", "f1")
        assert "HELP · Type an answer" in hand.text
        await hand.press("escape", "escape", "i", "f1")
        assert "HELP · In full" in hand.text


def test_no_color_sends_no_colours(tmp_path: Path, mixer_folder: Path) -> None:
    """https://no-color.org: no colour codes when the variable is there, whatever its value."""
    book = tmp_path / "c"
    book.touch()
    command = [sys.executable, "-m", "diag", "--knowledge", str(mixer_folder.parent), "--casebook", str(book)]
    root = str(Path(__file__).parents[2])
    with Terminal(command, env={"NO_COLOR": "1", "PYTHONPATH": root}) as terminal:
        terminal.wait_for("Dough mixer 4", 120)
        terminal.press("\r")
        terminal.wait_for("WHO IS AT", 120)
        coloured = re.findall(rb"\x1b\[[0-9;]*(?:[34]8;[25]|[;\[](?:3|4|9|10)[0-7](?=[;m]))[0-9;]*m", terminal._bytes)
        assert coloured == []
        terminal.press("\x11")
        assert terminal.ended(20) == 0
