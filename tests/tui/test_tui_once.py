"""What a key says once: a second Enter records nothing twice, a remedy is said twice, a line that is typed in owns its
letters, and a lockout opens where the thing is that was marked."""

from __future__ import annotations

import pytest
from stage import ADA, OLE, Hand, Stage

from diag.case.log.events import Called, Found, Gate, Remedied, RemedyFailed

CASE = "1125-a"


def calls(stage: Stage) -> int:
    return sum(isinstance(e, Called) for e in stage.events(CASE))


def remedies(stage: Stage) -> list[str]:
    return [e.remedy for e in stage.events(CASE) if isinstance(e, Remedied)]


async def test_enter_again_notes_no_second_call(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "slash", "=smell", "enter", "1")
        await hand.turn_to("Call the electrician")
        await hand.press("enter")
        assert calls(stage) == 1
        await hand.turn_to("Wait for the electrician")
        await hand.press("enter", "enter", "enter")
        assert calls(stage) == 1
        assert "That call is noted already. c notes another one." in hand.status
        assert "c I called again" in hand.text
        await hand.press("c", "enter")
        assert calls(stage) == 2, "whoever calls again says so by the key of calls"


async def to_a_remedy(hand: Hand) -> None:
    await hand.press(*OLE)
    await hand.turn_to("Ask who switched it off")


async def test_a_remedy_is_done_when_enter_says_so_again(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_remedy(hand)
        await hand.press("enter")
        assert "Is it done? Enter again confirms: Ask who switched it off" in hand.status
        assert not remedies(stage)
        # The question is gone with whatever is said next, and is asked anew.
        await hand.press("i", "escape", "a", "a", "a", "a")
        await hand.turn_to("Ask who switched it off")
        await hand.press("enter")
        assert not remedies(stage)
        await hand.press("enter")
        assert remedies(stage) == ["switched-off"]
        assert "Now see its proof" in hand.status


async def test_a_held_enter_says_nothing_of_a_remedy(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_remedy(hand)
        stage.seconds.still = True
        await hand.press(*["enter"] * 6)
        assert not remedies(stage)


async def test_a_click_on_the_words_says_it_at_once(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_remedy(hand)
        await hand.click("it is done")
    assert remedies(stage) == ["switched-off"]


async def test_that_a_remedy_did_not_cure_is_said_twice_too(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_remedy(hand)
        await hand.press("enter", "enter")
        await hand.turn_to("The remedy did not cure it")
        assert "NOT CURED" in hand.text
        await hand.press("enter")
        assert "Is the fault still there? Enter again confirms." in hand.status
        assert not [e for e in stage.events(CASE) if isinstance(e, RemedyFailed)]
        await hand.press("enter")
    assert [e for e in stage.events(CASE) if isinstance(e, RemedyFailed)]


async def test_the_footer_of_a_line_that_is_typed_in(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "1", "enter", "=d")
        assert hand.keys.split("  ") == [" ↵ take it", "esc leave the line", "F1 help"]
        assert "l list" not in hand.text
        assert "x can't tell" not in hand.text
        await hand.press("q", "f", "escape")
        assert "f finish" in hand.text
        assert "x can't tell" in hand.text
        await hand.press("enter", "=d2")
        await hand.click("↵ take it")
        assert "drive trip (d2)" in hand.status


async def test_the_footers_of_name_and_note(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        assert hand.keys.split("  ") == [" ↵ go on", "esc back", "F1 help"]
        await hand.press("=Ole", "enter")
        assert "1 operator" in hand.lines[-1]
        await hand.press("1", "enter", "f", "w", "=fan 3")
        assert hand.keys.split("  ") == [" ↵ keep the note", "esc leave the line", "F1 help"]
        await hand.press("escape")
        assert "fan 3" in hand.text, "the line is left, and the note stays"
        assert "w note" in hand.text


@pytest.mark.parametrize(("key", "said"), [("a", "First your role"), ("l", "First your role"), ("x", "Ole stands")])
async def test_a_stray_letter_keeps_the_name_that_was_typed(stage: Stage, key: str, said: str) -> None:
    async with stage.run("mixer") as hand:
        await hand.press("=Ole", "enter", key)
        assert said in hand.words
        assert "authorised to lock out" not in hand.text, "not offered before the role is chosen"
        await hand.press("1", key)
        assert "do not go inside" in hand.words
        await hand.press("enter")
        assert "Ole · operator" in hand.lines[0]


async def test_the_lockout_opens_at_what_is_marked(stacker: Stage) -> None:
    async with stacker.run("pump-set", size=(120, 40)) as hand:
        await hand.press(*ADA, "slash", "=shaft 1", "enter", "g")
        assert "LOCKOUT Pump pit" in hand.text
        # What is marked asks for no zone: the one of the remedy of the cause that is marked.
        await hand.press("escape", "escape", "escape")
        await hand.click("Pump 1 blocked by")
        await hand.press("g")
        assert "LOCKOUT Pump pit" in hand.text
        # A zone in hand goes before that.
        await hand.press("tab", "tab", "enter", "escape", "g")
        zone = next(e.zone for e in stacker.events(CASE) if isinstance(e, Gate))
        assert zone == "bell-box"
        assert "LOCKOUT Bell box" in hand.text or "zone 4 of 4" in hand.text
    assert not [e for e in stacker.events(CASE) if isinstance(e, Found)]


async def test_the_names_of_the_steps_are_whole(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "enter", "enter")
        steps = " ".join(" ".join(row[:48] for row in hand.lines[4:17]).split())
        for words in ("Off and locked: Permission feed from the bowl lift (feeds in from outside)", "control put back"):
            assert words in steps


async def test_a_long_line_of_status_is_whole(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await to_a_remedy(hand)
        await hand.press("enter", "enter")
        assert "switch on only when that person agrees. Now see its proof." in hand.words


async def test_nothing_moves_when_a_line_is_typed_in(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "1")
        before = hand.where("Display", 2)
        await hand.press("enter", "=d")
        assert hand.where("Display", 2) == before


async def test_what_can_be_pressed_beside_a_line_is_whole(stacker: Stage) -> None:
    async with stacker.run("tray-stacker") as hand:
        await hand.press(*OLE, "slash", "=controller display", "enter")
        assert "blank  e draw it  l list  x can't tell" in hand.text


async def test_what_is_odd_does_not_push_out_what_there_is_to_do(stacker: Stage) -> None:
    async with stacker.run("pump-set") as hand:
        await hand.press(*ADA, *"1111", *"2121212", *"11111")
        rows = [row[41:].strip("│ ") for row in hand.lines[3:12]]
        assert rows[0].startswith("≠ No single cause explains this"), hand.text
        assert rows[2] == "Call the engineer", hand.text
        assert rows[3] == "counts 75 min", "the thing to do with its minutes"
