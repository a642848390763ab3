"""A whole case by mouse alone: no key is pressed between the first screen and the closed case, but for
a name and what the meter reads."""

from __future__ import annotations

import re
from itertools import count

from stage import Stage

from diag.case.log.events import Closed, Found, Gate
from diag.safety import Act

CASE = "1125-a"
MOST_STEPS = 40
"""Of a lockout or a way back; more is a step that is not taken."""


async def test_a_role_alone_confirms_nothing_at_the_gate(stage: Stage) -> None:
    async with stage.run() as hand:
        await hand.click("Dough mixer 4")
        await hand.click("electrician")
        await hand.click("go by the role")
        await hand.click("authorised to lock out")
        await hand.click("I am electrician on shift")
        assert "electrician on shift" in hand.lines[0]
        await hand.click("g lockout")
        await hand.click("↵ confirm")
        assert "name" in hand.status
    assert not [e for e in stage.events(CASE) if isinstance(e, Gate)]


async def test_from_the_list_to_closed_by_mouse_but_for_the_name(stage: Stage) -> None:
    async with stage.run() as hand:
        await hand.click("Dough mixer 4")
        await hand.press("=Ada Brandt", "enter")
        await hand.click("electrician")
        await hand.click("authorised to lock out")
        await hand.click("qualified for work")
        await hand.click("I am Ada Brandt")
        assert "Ada Brandt" in hand.lines[0]

        await hand.click("3 ○ dark")
        await hand.click("1 on")
        await hand.click("◌ READY")
        await hand.click("2 ○ dark")
        await hand.click("n next")
        # Live work, by clicks on the reason and the permit; then the reading by its band from the list.
        await hand.turn_to_by_mouse("Measure: Mains")
        await hand.click("to the lockout")
        await hand.click("The voltage itself")
        await hand.click("The permit on the board")
        assert "LIVE WORK" in hand.lines[0]
        await hand.click("l list")
        await hand.click("good")
        await hand.click("g lockout")
        await hand.click("e live over")
        await hand.click("esc case")

        await hand.turn_to_by_mouse("Remedy for: 24 V supply unit")
        await hand.click("to the lockout")
        steps = count()
        while "■ DEAD" not in hand.lines[0]:
            assert next(steps) < MOST_STEPS, hand.text
            measured = "Measure L1-L2" in hand.words
            await hand.click("↵ confirm")
            if measured:
                _, pad = hand.where("M  OL")
                for part in "0␣0␣0␣0␣0␣0␣V":
                    await hand.click_at(hand.lines[pad].index(f" {part} ") + 1, pad)
                await hand.click("↵ next, then take")
            stage.clock.on(1)
        await hand.click("↵ back to the case and the work")
        await hand.click("it is done")
        await hand.click("g lockout")
        await hand.click("b restore")
        while "RESTORING POWER" in hand.lines[0]:
            assert next(steps) < MOST_STEPS, hand.text
            await hand.click("↵ confirm")
        assert "↵ confirm" not in hand.keys
        await hand.click("↵ back to the case  ")
        await hand.click("to the lockout")
        await hand.click("The voltage itself")
        await hand.click("The permit on the board")
        await hand.click("l list")
        await hand.click("good")
        await hand.click("g lockout")
        await hand.click("e live over")
        await hand.click("esc case")
        assert re.search(r"\bPROVED\b", hand.text)
        await hand.click("close the case")
        await hand.click("close the case")
        assert "Cured and proved." in hand.text
    events = stage.events(CASE)
    assert [e.outcome for e in events if isinstance(e, Closed)] == ["cured"]
    assert Act.TESTED_DEAD in [e.act for e in events if isinstance(e, Gate)]
    assert {e.indication for e in events if isinstance(e, Found)} >= {"supply-lamp", "mains", "ready-lamp"}


async def test_facts_and_causes_are_clicked(stage: Stage) -> None:
    async with stage.run("mixer", size=(140, 40)) as hand:
        await hand.press("=Ada", "enter", "2", "enter")
        await hand.click("1 ● lit")
        await hand.click("24 V supply unit failed")
        assert hand.text.count("24 V supply unit failed") == 2
        await hand.click("✕")
        assert "Taken back: SUPPLY" in hand.status
