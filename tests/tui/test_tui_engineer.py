"""An engineer takes over: a case resumed, facts found before it, one taken back, closed as running."""

from __future__ import annotations

from stage import ADA, EVA, OLE, Stage

from diag.case.log.events import Closed, Found, Joined, TakenBack, TookOver

CASE = "1125-a"


async def test_resumed_and_closed_as_running(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "1")
        # The terminal is closed here, in the middle of it.
    stage.clock.on(30)
    async with stage.run() as hand:
        assert "CASES LEFT OPEN" in hand.text
        assert "30 min ago" in hand.text
        await hand.press("enter")
        assert "WHO IS AT THE MACHINE" in hand.text
        await hand.press("n", "ctrl+u", *EVA)
        assert "● SUPPLY" in hand.text
        await hand.press("b", "1", "slash", "=motor", "enter", "1")
        assert "before, by" in hand.text.replace("…", "") or "Motor housing: cool" in hand.status
        await hand.press("t", "t")
        assert "FACTS 2" in hand.text
        await hand.press("tab", "delete")
        assert "Taken back: Motor housing" in hand.status
        await hand.press("w", "=bowl lift was moved", "enter")
        await hand.press("f", "2", "w", "=ran on after a restart", "enter", "enter")
        assert "Running, cause not found." in hand.text
    events = stage.events(CASE)
    assert [e.person for e in events if isinstance(e, TookOver)] == ["Ole"]
    assert [e.person for e in events if isinstance(e, Joined)] == ["Eva"]
    assert [e.before for e in events if isinstance(e, Found)] == ["", "Ole"]
    assert len([e for e in events if isinstance(e, TakenBack)]) == 1
    assert [e.note for e in events if isinstance(e, Closed)] == ["ran on after a restart"]


async def test_the_panel_is_walked_and_marked_with_one_key_each(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "right")
        assert hand.lines[17].startswith(" PANEL")
        await hand.press("left", "1", "2")
        assert "● SUPPLY" in hand.text
        assert "○ READY" in hand.text
        await hand.press("=G0", "enter")
        assert hand.status.endswith("Display: guard open (G0)")


async def test_a_case_is_not_closed_as_cured_without_its_proof(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "1", "enter", "=G0", "enter", "f", "1", "enter")
        assert hand.status.startswith("! ")
        assert "remedy was not entered as done" in hand.status
        await hand.press("escape")
    assert "closed" not in stage.kinds(CASE)
