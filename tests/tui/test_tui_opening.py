"""Opening a machine that has an open case: it is joined first, and what is so there is told before anything is done."""

from __future__ import annotations

from stage import ADA, EVA, OLE, Stage

FIRST = "1125-a"


async def test_a_machine_without_an_open_case_opens_at_once(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE)
        assert "Ole" in hand.lines[0]


async def test_an_open_case_is_joined_first(stage: Stage) -> None:
    async with stage.run("mixer") as ada:
        await ada.press(*ADA)
        async with stage.run("mixer") as ole:
            await ole.press("n", "ctrl+u", *OLE)
            assert "THIS MACHINE HAS AN OPEN CASE" in ole.box
            assert "Ada Brandt has it" in ole.box
            await ole.press("1")
            assert f"case {FIRST}" in ole.lines[1]
            assert "Ada Brandt has this case in hand" in ole.status


async def test_a_second_case_begins_under_the_locks_of_the_first(stage: Stage) -> None:
    """It never shows ENERGISED while somebody's lock is on."""
    async with stage.run("mixer") as ada:
        await ada.press(*ADA, "g")
        while "LOCK" not in " ".join(e.act.value.upper() for e in stage.events(FIRST) if e.kind == "gate"):
            await ada.press("enter")
        async with stage.run("mixer", size=(140, 40)) as eva:
            await eva.press("n", "ctrl+u", *EVA)
            assert "LOCK ON:" in eva.box
            assert "(Ada Brandt, case 1125-a, since" in eva.box
            await eva.press("2")
            assert "case 1125-b" in eva.lines[1]
            assert "ENERGISED" not in eva.lines[0]


async def test_a_danger_of_one_case_stands_in_the_other_at_once(stage: Stage) -> None:
    stage.follows = True
    async with stage.run("mixer") as ada:
        await ada.press(*ADA)
        async with stage.run("mixer") as ole:
            await ole.press("n", "ctrl+u", *OLE, "2", "slash", "=smell", "enter", "2")
            await ada.until(lambda: "▲ STOP" in ada.text)
            assert "case 1125-b" in ada.status
        async with stage.run() as home:
            assert "DANGER" in home.text


async def test_the_list_of_machines_leads_to_the_same_question(stage: Stage) -> None:
    async with stage.run("mixer") as ada:
        await ada.press(*ADA)
        async with stage.run() as home:
            await home.press("=dough", "down", "enter", "n", "ctrl+u", *OLE)
            assert "THIS MACHINE HAS AN OPEN CASE" in home.box
            await home.press("escape")
            assert "CASES LEFT OPEN" in home.text
