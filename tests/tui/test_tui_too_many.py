"""One digit too many after a list of choices, a key that begins a code, and who is in the list of whom to call."""

from __future__ import annotations

import re

import pytest
from stage import ADA, OLE, Hand, Stage

from diag.case.log.events import Found
from diag.tui.screens.case.panes.answer_strip import Typed

CASE = "1125-a"


@pytest.mark.parametrize(
    ("who", "offered"), [(OLE, ["engineer", "electrician"]), (ADA, ["engineer", "operator"])], ids=["Ole", "Ada"]
)
async def test_nobody_is_offered_their_own_role_to_call(who: tuple[str, ...], offered: list[str], stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*who, "c")
        assert re.findall(r"\d (engineer|electrician|operator) ", hand.text) == offered
        await hand.press("2")
        assert hand.status.startswith(f"✓ Called: {offered[1]}")


# ---------------------------------------------------------------- one digit too many


async def to_a_code(hand: Hand) -> None:
    """Answered by a digit, and what comes next is a code to type."""
    await hand.press(*OLE, "1")
    assert hand.lines[17].startswith(" NEXT  Display")


async def test_a_digit_too_many_begins_no_code(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        before = stage.events(CASE)
        await hand.press("1")
        assert hand.status == "! 1 was not taken: the list has ended. Enter begins the line here."
        # In one go with it, neither what is no key nor what is one: not even the key that leaves.
        await hand.press("=d2.qu")
        assert hand.app.screen.query_one(Typed).value == ""
        assert not hand.app.screen.query_one(Typed).has_focus
        assert stage.events(CASE) == before
        await hand.press("enter", "=d2", "enter")
        assert hand.status.endswith("Display: drive trip (d2)")


async def test_after_a_moment_a_letter_is_a_key_again(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diag.tui.screens.case.parts.typed_keys.AT_ONCE", 0.0)
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        await hand.press("1", "=d", "u")
        assert hand.status.endswith("Taken back: SUPPLY, lit")
        await hand.press("1")
        found = [e for e in stage.events(CASE) if isinstance(e, Found)]
        assert [e.indication for e in found] == ["supply-lamp", "supply-lamp"]


async def test_a_digit_that_ends_a_box_begins_no_code_either(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        await hand.press("escape", "c", "1", "1", "2")
        assert hand.status == "! 2 was not taken: the list has ended. Enter begins the line here."
        assert hand.app.screen.query_one(Typed).value == ""


@pytest.mark.parametrize("keys", [("=d2",), ("escape", "=2d"), ("enter", "=2d"), ("slash", "=display", "enter", "=2d")])
async def test_what_is_meant_for_the_line_begins_it(keys: tuple[str, ...], stage: Stage) -> None:
    """A letter at once; a figure once any other key came, such as Enter, Escape or a find."""
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        await hand.press(*keys)
        assert hand.app.screen.query_one(Typed).value == keys[-1][1:]


# ---------------------------------------------------------------- a key of the screen that begins a code


@pytest.fixture
def held_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """Long enough that only what is pressed ends it."""
    monkeypatch.setattr("diag.tui.screens.case.parts.typed_keys.HOLD", 20.0)


@pytest.mark.usefixtures("held_long")
async def test_a_code_that_begins_with_a_key_is_typed_without_enter(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        before = stage.events(CASE)
        await hand.press("a")
        assert hand.status == "a … type the rest of the code, or wait for: other."
        await hand.press("3")
        assert hand.app.screen.query_one(Typed).value == "a3"
        assert stage.events(CASE) == before
        await hand.press("enter")
        assert hand.status.endswith("Display: start up (a3)")


@pytest.mark.usefixtures("held_long")
async def test_g_and_a_digit_open_no_gate_and_confirm_nothing(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        await hand.press("=g0", "enter")
        assert hand.status.endswith("Display: guard open (g0)")
        assert "gate" not in stage.kinds(CASE)


@pytest.mark.usefixtures("held_long")
async def test_a_held_letter_that_is_no_code_does_what_its_key_does_before_the_next(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        await hand.press("g", "escape")
        assert hand.app.screen.id != "gate", "g opened the gate, and Escape left it"
        await hand.press("g", "question_mark")
        assert "Each step is confirmed by the person who did it" in hand.words
        assert "gate" not in stage.kinds(CASE)


async def test_a_held_letter_alone_is_a_key_in_a_moment(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        await hand.press("g")
        assert hand.app.screen.id == "gate"


async def test_escape_gives_up_a_code_that_is_wrong(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_code(hand)
        await hand.press("enter", "=q9", "enter")
        assert "not a code of this machine file" in hand.status
        await hand.press("escape")
        assert hand.app.screen.query_one(Typed).value == ""
        assert hand.status == ""
        await hand.press("=d2", "enter")
        assert hand.status.endswith("Display: drive trip (d2)")
