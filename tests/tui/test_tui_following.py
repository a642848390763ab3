"""Two terminals on one case: what the one enters stands on the other at once, and no key lands on what it replaced."""

from __future__ import annotations

import pytest
from stage import ADA, EVA, OLE, Hand, Stage

from diag.record.casebook import CasebookError
from diag.tui.case_session import CaseSession

CASE = "1125-a"


@pytest.fixture
def live(stage: Stage) -> Stage:
    stage.follows = True
    return stage


async def test_a_fact_of_another_terminal_is_painted_at_once(live: Stage) -> None:
    async with live.run("mixer") as ada:
        await ada.press(*ADA)
        async with live.run(case=CASE) as ole:
            await ole.press("n", "ctrl+u", *OLE)
            await ole.press("slash", "=supply", "enter", "1")
            await ada.until(lambda: "● SUPPLY" in ada.text)
            assert "Ole: SUPPLY" in ada.status


async def test_the_question_under_the_reader_stands(live: Stage) -> None:
    async with live.run("mixer") as ada:
        await ada.press(*ADA)
        asked = asked_on(ada)
        async with live.run(case=CASE) as ole:
            await ole.press("n", "ctrl+u", *OLE)
            await ole.press("slash", "=motor housing", "enter", "1")
            await ada.until(lambda: "Ole: Motor housing" in ada.status)
            await ada.settle()
            assert asked_on(ada) == asked


async def test_a_key_aimed_at_what_was_replaced_is_told_and_not_taken(live: Stage) -> None:
    async with live.run("mixer") as ada:
        await ada.press(*ADA)
        live.seconds.still = True
        async with live.run(case=CASE) as ole:
            await ole.press("n", "ctrl+u", *OLE)
            # The very thing that Ada is asked is answered by Ole.
            await ole.press("1")
            await ada.until(lambda: "Ole:" in ada.status)
            before = live.kinds(CASE)
            await ada.press("2")
            assert "changed just now" in ada.status
            assert live.kinds(CASE) == before
            live.seconds.ahead += 1
            await ada.press("x")
            assert len(live.kinds(CASE)) == len(before) + 1


async def test_an_armed_finding_at_the_gate_is_disarmed(live: Stage) -> None:
    """Ada has pressed half of a confirmation when Eva takes a step of her own."""
    async with live.run("mixer") as ada:
        await ada.press(*ADA, "g", "enter")
        async with live.run(case=CASE) as eva:
            await eva.press("n", "ctrl+u", *EVA, "g")
            await ada.press("z")
            await eva.press("enter")
            await ada.settle()
            await ada.until(lambda: "Eva" in ada.status)
    gates = [e for e in live.events(CASE) if e.kind == "gate"]
    assert len(gates) == 2


async def test_a_refused_confirmation_paints_what_is_so_now(stage: Stage) -> None:
    """Without following: Eva was quicker, and Ada is shown what stands now instead of the step that is over."""
    async with stage.run("mixer") as ada:
        await ada.press(*ADA, "g")
        first = ada.text
        async with stage.run(case=CASE) as eva:
            await eva.press("n", "ctrl+u", *EVA, "g", "enter")
        before = stage.kinds(CASE)
        await ada.press("enter")
        assert "Somebody else" in ada.status
        assert stage.kinds(CASE) == before, "a refused confirmation leaves no entry"
        assert ada.text != first


def no_answer(session: CaseSession) -> None:
    raise CasebookError("The casebook does not answer.")


def asked_on(hand: Hand) -> str:
    """What the strip asks, and its numbered answers."""
    from diag.tui.screens.case.panes.answer_strip import AnswerStrip

    strip = hand.app.screen.query_one(AnswerStrip).region
    return "\n".join(hand.lines[strip.y : strip.bottom])


async def test_a_casebook_that_does_not_answer_is_told(live: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    from diag.tui import following

    monkeypatch.setattr(following, "LOST", 0.2)
    async with live.run("mixer") as ada:
        await ada.press(*ADA)
        assert "NOT FOLLOWING" not in ada.text
        with monkeypatch.context() as silent:
            silent.setattr(CaseSession, "news", no_answer)
            await ada.until(lambda: "NOT FOLLOWING" in ada.lines[0])
            assert "Locks stay on. Come out. Begin nothing inside." in ada.lines[1]
        await ada.until(lambda: "NOT FOLLOWING" not in ada.text)


async def test_a_line_about_the_casebook_goes_when_it_is_back(live: Stage) -> None:
    aside = live.book.with_name("aside")
    async with live.run("mixer") as ada:
        await ada.press(*ADA)
        live.book.rename(aside)
        await ada.press("1")
        assert "was moved" in ada.status
        aside.rename(live.book)
        await ada.until(lambda: "The casebook answers again." in ada.status)
        await ada.press("1")
        assert "lit" in ada.status


async def test_a_box_that_stood_open_while_the_machine_changed_enters_nothing(live: Stage) -> None:
    """Ada stands before a reset while Eva switches off: what Ada answers was asked of another machine."""
    async with live.run("mixer") as ada:
        await ada.press(*ADA, "slash", "=display", "enter", "=G0", "enter", "r")
        assert "Fault reset" in ada.box
        async with live.run(case=CASE) as eva:
            await eva.press("n", "ctrl+u", *EVA, "g", "enter", "enter")
        before = live.kinds(CASE)
        await ada.press("enter")
        assert "Not entered" in ada.status
        assert live.kinds(CASE) == before


async def test_bad_news_says_what_it_is_with_the_mark_of_a_stop(live: Stage) -> None:
    async with live.run("mixer") as ada:
        await ada.press(*ADA, "g", "enter", "enter", "enter")
        async with live.run(case=CASE) as ole:
            await ole.press("n", "ctrl+u", *OLE)
            await ole.press("g")
            live.seconds.ahead += 10
            await ole.press("x")
            live.seconds.ahead += 10
            await ole.press("x")
            await ada.until(lambda: "IT MOVED" in ada.status)
            assert ada.status.startswith("✖ Ole: IT MOVED")
            assert "✓" not in ada.status
