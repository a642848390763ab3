"""The written pages in the app: opened from the list of machines and from any help, read, and left."""

from __future__ import annotations

from stage import OLE, Stage

from diag.pages import topics


async def test_from_the_list_of_machines_and_back(stage: Stage) -> None:
    async with stage.run() as hand:
        assert "F2 pages" in hand.keys
        await hand.press("f2")
        assert all(title in hand.text for _, title in topics())
        await hand.press("down", "enter")
        name, title = topics()[1]
        assert hand.lines[0].strip().startswith(f"{title}   page 2 of {len(topics())}"), name
        await hand.press("escape", "escape")
        assert "Dough mixer 4" in hand.text


async def test_from_the_help_of_a_case(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "question_mark", "f2")
        assert "PAGES" in hand.lines[0]
        await hand.press("f2", "escape", "escape")
        assert "ENERGISED" in hand.lines[0], "a second press opens no second list"


async def test_a_page_is_scrolled_and_turned(stage: Stage) -> None:
    async with stage.run() as hand:
        await hand.press("f2", "enter")
        top = hand.text
        await hand.press("down")
        assert hand.text != top
        await hand.press("space", "pageup", "up")
        assert hand.text == top
        await hand.press("n")
        assert f"page 2 of {len(topics())}" in hand.lines[0]
        await hand.press("p", "p")
        assert f"page {len(topics())} of {len(topics())}" in hand.lines[0]


async def test_a_page_is_chosen_with_the_mouse(stage: Stage) -> None:
    async with stage.run() as hand:
        await hand.click("F2 pages")
        await hand.click(topics()[2][1])
        assert "page 3 of" in hand.lines[0]


async def test_pages_and_help_never_stand_twice(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE)
        await hand.press("f2", "f1")
        assert "HELP" in hand.text
        await hand.press("f2")
        assert "PAGES" in hand.lines[0]
        await hand.press("enter", "f1", "f2")
        assert "page 1 of" in hand.lines[0]
        await hand.press("escape", "escape")
        assert "ENERGISED" in hand.lines[0], "no second list stood behind the first"
        # From the help to the pages, to their help, and back.
        await hand.press("f1", "f2", "f1")
        assert "HELP" in hand.text
        await hand.press("f1", "ctrl+t", "f1", "ctrl+t", "f2", "f2", "escape", "f1")
        assert "ENERGISED" in hand.lines[0], "the help of the case was closed"
