"""A whole case of a night-shift operator by keys: only what can be seen from outside, resets, the call, the sheet."""

from __future__ import annotations

from pathlib import Path

from stage import OLE, Stage

from diag.case.log.events import Called, Closed, Found, Gate, ResetDone
from diag.machine.model import Role

CASE = "1125-a"


async def test_from_a_trip_to_the_call(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE)
        assert "Ole · operator" in hand.lines[0]
        await hand.press("1", "enter", "=d2", "enter")  # SUPPLY lit, the display's code
        assert "drive trip (d2)" in hand.status
        # A protective device has operated: no reset before its cause is found.
        await hand.press("r")
        assert "No reset until the cause is found" in hand.box
        assert "it is done" not in hand.box
        await hand.press("enter", "escape")
        while "TIME TO CALL" not in hand.text:
            await hand.press("enter" if "it is done" in hand.text else "1")
            assert "■ locked out" not in hand.text
            assert "◆ live work" not in hand.text
        await hand.press("c", "1")
        assert "TIME TO CALL" not in hand.text
        await hand.press("h")
        assert "Written: " in hand.status
        await hand.press("f", "3", "1", "enter")
        assert "Handed over." in hand.text
    events = stage.events(CASE)
    assert not [e for e in events if isinstance(e, Gate | ResetDone)]
    assert [e.role for e in events if isinstance(e, Called)] == [Role.ELECTRICIAN]
    assert [e.outcome for e in events if isinstance(e, Closed)] == ["handed-over"]
    sheet = Path("mixer-1125-a.md").read_text(encoding="utf-8")
    assert "d2" in sheet
    assert "Ole" in Path("mixer-1125-a.txt").read_text(encoding="utf-8")


async def test_after_a_call_two_keys_hand_the_case_over(stage: Stage) -> None:
    """Two keys close a case for good, so they must not say that the machine runs when nobody saw it run."""
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "1", "c", "1", "f")
        assert "3 ● handed over" in hand.text
        assert "To: engineer" in hand.words
        await hand.press("f")
    (closed,) = [e for e in stage.events(CASE) if isinstance(e, Closed)]
    assert (closed.outcome, closed.to) == ("handed-over", "engineer")


async def test_a_danger_sign_goes_before_everything(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "slash", "=smell", "enter", "2")
        assert "▲ DANGER SIGN" in hand.lines[0]
        assert "▲ STOP" in hand.text
        assert "Keep away from the mixer" in hand.text
        assert "Duty engineer, extension on the board by the door" in hand.words
        assert "Look at" not in hand.text
        await hand.press("enter", "1", "r")
        assert "danger sign stands" in hand.box
        await hand.press("escape", "c", "1")
        assert "✓ Called: engineer" in hand.text
        await hand.press("u", "1", "u", "1")
        assert "▲ STOP" not in hand.text


async def test_a_call_to_somebody_else_is_no_call_for_the_danger_sign(stage: Stage) -> None:
    """The sign says whom to call; who was called for something else before is not that."""
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "c", "2", "slash", "=smell", "enter", "2")
        assert "record the call to: engineer" in hand.words
        assert "✓ Called" not in hand.text
        await hand.press("h")
        sheet = next(Path.cwd().glob("*.txt")).read_text()
        head = " ".join(sheet.split("WHOM TO CALL")[0].split())
        assert "DANGER SIGN: Keep away from the mixer" in head
        assert "Call the engineer: not called yet." in head
        await hand.press("c", "1")
        assert "✓ Called: engineer" in hand.text


async def test_what_stood_before_the_danger_is_no_reason_for_it(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "slash", "=smell", "enter", "1", "slash", "=smell", "enter", "2")
        because = hand.words.split("Because: ")[1].split("record the call")[0]
        assert "burning" in because
        assert because.count(";") == 0, "the answer from before is not among the reasons"
        assert "r reset" not in hand.lines[-1] + hand.lines[-2]
        assert "g lockout" not in hand.lines[-1] + hand.lines[-2]


async def test_resets_are_counted_and_end_in_a_call(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "slash", "=display", "enter", "enter", "=A1", "enter")
        for _ in range(2):
            await hand.press("r")
            assert "Press the blue key beside the display once" in hand.text
            await hand.press("enter")
            assert "what came of it" in hand.status
            assert "back at once" in hand.text
            await hand.press("1")
            await hand.press("slash", "=display", "enter", "enter", "=A1", "enter")
        assert "No reset is left: call." in hand.lines[1]
        await hand.press("r")
        assert "the limit here is 2" in hand.box
        assert "it is done" not in hand.box
        await hand.press("enter")
    assert stage.kinds(CASE).count("reset-done") == 2


async def test_a_reset_asks_for_its_note_first(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "r")
        assert "Note first, because a reset wipes it: Display" in hand.box
        await hand.press("enter", "escape")
    assert "reset-done" not in stage.kinds(CASE)


async def test_an_operator_never_gets_into_the_gate(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "g")
        assert "Operators do not lock out" in hand.text
        await hand.press("enter", "1", "w", "v", "b", "escape")
        await hand.press("slash", "=24 v", "enter", "enter", "=24")
        await hand.press("escape")
    events = stage.events(CASE)
    assert not [e for e in events if isinstance(e, Gate | Found)]


async def test_i_cannot_tell_is_an_answer(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "0")
        assert "can't tell" in hand.status
        assert "? SUPPLY" in hand.text
        await hand.press("u")
        assert "◌ SUPPLY" in hand.text
