"""Who is at a terminal: nobody becomes somebody else by a list, one entry by somebody beside, namesakes, who has it in
hand."""

from __future__ import annotations

import pytest
from stage import ADA, EVA, OLE, Stage

from diag.case.log.events import Gate, Joined, MadeSafe, TookOver
from diag.case.log.stored import entries_of
from diag.record.casebook import Casebook

CASE = "1125-a"


async def test_somebody_of_another_terminal_says_anew_here_what_they_may_do(stage: Stage) -> None:
    """Ada said at her own terminal that she locks out. Her name in the list of Ole's terminal gives that to nobody."""
    async with stage.run("mixer") as ada:
        await ada.press(*ADA)
        async with stage.run(case=CASE) as ole:
            await ole.press("n", "ctrl+u", *OLE, "p")
            assert "Ada Brandt" in ole.box
            assert "at another terminal" in ole.box
            await ole.press("2")
            assert "WHO IS AT THE MACHINE" in ole.text
            await ole.press("2", "enter")
            assert "ARE YOU THE SAME PERSON?" in ole.box
            await ole.press("1")
            assert "Ada Brandt · electrician" in ole.lines[0]
            assert "locks out" not in ole.lines[0]


async def test_somebody_beside_makes_one_entry_and_the_keys_go_back(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "enter", "p")
        assert "somebody beside me makes one entry" in hand.box
        await hand.press("2", *EVA)
        assert "Eva" in hand.lines[0]
        assert "ONE ENTRY" in hand.lines[0]
        await hand.press("enter")
        assert "Confirmed by Eva" in hand.status
        assert "Ada Brandt" in hand.lines[0]
        assert "ONE ENTRY" not in hand.lines[0]
        await hand.press("enter")
        assert "Confirmed by Ada Brandt" in hand.status
    assert [e.by for e in entries_of(Casebook(stage.book), CASE) if isinstance(e.event, Gate)][1:] == [
        "Eva",
        "Ada Brandt",
    ]


async def test_somebody_beside_who_enters_nothing_gives_the_keys_back(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "p", "2", *EVA)
        assert "Eva" in hand.lines[0]
        await hand.press("p", "1")
        assert "Ole · operator" in hand.lines[0]
    assert not [e for e in stage.events(CASE) if isinstance(e, Joined)]


async def test_a_namesake_is_another_person_with_a_mark(stage: Stage) -> None:
    async with stage.run("mixer") as one:
        await one.press(*ADA)
        async with stage.run(case=CASE) as two:
            await two.press("n", "ctrl+u", "=ada  brandt", "enter", "2", "enter")
            assert "ARE YOU THE SAME PERSON?" in two.box
            await two.press("2")
            assert "ada brandt (2)" in two.lines[0]


async def test_whoever_has_a_lock_on_is_asked_with_its_title(stage: Stage) -> None:
    async with stage.run("mixer") as one:
        await one.press(*ADA, "g", *["enter"] * 3)
        assert "LOCKING OUT" in one.lines[0]
        async with stage.run(case=CASE) as two:
            await two.press("s", "enter")
            assert "yes, I am Ada Brandt" in two.box
            assert "locks on: Main switch Q1" in two.box
            assert "main-switch-q1" not in two.text


async def test_people_of_other_days_are_found_by_a_row_and_by_typing(stage: Stage) -> None:
    """Ada has the case in hand and her lock on; Ole joined her two days ago and was not seen since."""
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 3)
    async with stage.run(case=CASE) as hand:
        await hand.press("n", "ctrl+u", *OLE)
    stage.clock.on(60 * 48)
    async with stage.run(case=CASE) as hand:
        await hand.press("n", "ctrl+u", *EVA, "p")
        assert "2 Ada Brandt" in hand.box
        assert "Ole" not in hand.box
        await hand.press("=ole")
        assert "Ole was here before" in hand.box
        await hand.press("escape", "p", "6")
        assert "1 Ole" in hand.box


async def test_whoever_joined_later_is_told_whose_the_latest_entry_is(stage: Stage) -> None:
    async with stage.run("mixer") as one:
        await one.press(*ADA, "1")
        async with stage.run(case=CASE) as two:
            await two.press("n", "ctrl+u", *EVA, "u")
            assert two.status == "The latest entry is Ada Brandt's. u takes back your own, and you have none yet."
            await two.press("slash", "=smell", "enter", "2")
        async with stage.run(case=CASE) as three:
            await three.press("n", "ctrl+u", *OLE, "u")
            assert three.status.startswith("Eva raised it, and nobody else takes it back")


async def test_a_first_name_alone_asks_which_is_meant(stage: Stage) -> None:
    async with stage.run("mixer") as one:
        await one.press(*ADA)
        async with stage.run(case=CASE) as two:
            await two.press("n", "ctrl+u", "=Ada", "enter", "2", "enter")
            assert "yes, I am Ada Brandt" in two.box
            await two.press("2")
            assert "Ada · electrician" in two.lines[0]


async def test_the_case_is_taken_in_hand_by_an_entry_and_not_by_joining(stage: Stage) -> None:
    async with stage.run("mixer") as one:
        await one.press(*OLE)
        async with stage.run(case=CASE, size=(140, 40)) as two:
            await two.press("n", "ctrl+u", *EVA)
            assert "in hand: Ole" in two.lines[1]
            await two.press("p", "3")
            assert "has the case in hand" in two.status
            assert "in hand: Ole" not in two.lines[1]
    assert [e.person for e in stage.events(CASE) if isinstance(e, TookOver)] == ["Ole", "Eva"]


async def test_a_danger_is_over_by_a_named_persons_word_and_not_by_an_operators(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "slash", "=smell", "enter", "2", "o", "=aired it", "enter")
        assert "An electrician or an engineer says by name" in hand.status
        assert "▲ STOP" in hand.text
        await hand.press("escape", "p", "=Eva", "enter", "3", "enter", "o", "=Aired, fan motor replaced", "enter")
        assert "▲ STOP" not in hand.text
    assert [e.how for e in stage.events(CASE) if isinstance(e, MadeSafe)] == ["Aired, fan motor replaced"]


async def test_taking_back_a_danger_asks_whether_it_is_over(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*EVA, "slash", "=smell", "enter", "2", "u", "2", "=aired it", "enter")
        assert "▲ STOP" not in hand.text
    kinds = stage.kinds(CASE)
    assert "taken-back" not in kinds
    assert "made-safe" in kinds


async def test_a_danger_of_somebody_else_is_not_taken_back_here_nor_is_a_lock(stage: Stage) -> None:
    """Ada's latest entry is her lock; what Ole raised in another case is no reason to take it back."""
    stage.follows = True
    async with stage.run("mixer") as ada:
        await ada.press(*ADA, "g", *["enter"] * 3, "escape")
        async with stage.run("mixer") as ole:
            await ole.press("n", "ctrl+u", *OLE, "2", "slash", "=smell", "enter", "2")
            await ada.until(lambda: "▲ STOP" in ada.text)
        assert "Ole, " in ada.words
        assert "case 1125-b" in ada.words
        assert "Your locks stay on:" in ada.words
        before = stage.kinds(CASE)
        await ada.press("u")
        assert "It is taken back there" in ada.status
        assert stage.kinds(CASE) == before


async def test_a_step_of_the_lockout_is_not_taken_back_by_a_key_of_the_case(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 3, "escape", "u")
        assert "g, then u takes it back there" in hand.status
    assert [e.act.value for e in stage.events(CASE) if isinstance(e, Gate)][-1] == "off-and-locked"


async def test_somebody_elses_lock_is_named_before_the_return_begins(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 4, "p", "=Eva", "enter", "3", "a", "enter")
        await hand.press("b")
        assert "Locks of Ada Brandt are on" in hand.status
        assert "back" not in [e.act.value for e in stage.events(CASE) if isinstance(e, Gate)]


async def test_a_name_that_begins_with_a_key_is_a_name(stage: Stage) -> None:
    """Ada was here last. Sven types his name: nothing that she said of herself becomes his."""
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
    async with stage.run("mixer") as hand:
        await hand.press("=sven", "enter")
        assert "sven" in hand.text
        await hand.press("1", "enter", "2")
        assert "sven · operator" in hand.lines[0]


@pytest.mark.parametrize("name", ["nora", "rolf", "sara", "arne", "lena"])
async def test_every_letter_lands_in_the_name(stage: Stage, name: str) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "m")
        await hand.press("=mixer", "enter", f"={name}")
        assert hand.app.screen.query_one("#who-name").value == name


async def test_without_a_name_the_role_alone_is_reached_by_keys(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press("enter")
        assert "r goes by it alone" in hand.status
        await hand.press("1", "r", "enter")
        assert "operator on shift" in hand.lines[0]


async def test_a_name_that_stands_is_no_role_and_r_says_so(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press("=Ada", "enter", "2", "r")
        assert "r is for whoever goes without a name. Ada stands" in hand.status
        await hand.press("backspace", "=Bo", "enter")
        assert "I am Bo" in hand.text


async def test_what_is_needed_at_the_gate_is_said_before(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press("=Ada", "enter", "2")
        assert "to open and test, or work live" in hand.text
        await hand.press("a", "enter", "g")
        assert "Further on, opening and testing are for a person who is qualified" in hand.words
        await hand.press("p", "1", "l", "enter")
        assert "Further on" not in hand.words


async def test_delete_on_a_fact_that_raised_a_danger_asks_too(stage: Stage) -> None:
    async with stage.run("mixer", size=(140, 40)) as hand:
        await hand.press(*EVA, "slash", "=smell", "enter", "2")
        await hand.click("✕", hand.text.count("✕"))
        assert "WAS IT NEVER THERE" in hand.text.upper()
    assert "taken-back" not in stage.kinds(CASE)


async def test_a_reset_that_was_taken_back_stays_in_the_count_by_name(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "slash", "=display", "enter", "=G0", "enter", "r", "enter", "u", "r")
        assert "1 more was said by mistake, Ole. It counts." in hand.text
