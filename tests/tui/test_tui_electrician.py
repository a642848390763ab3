"""A whole case of an electrician by keys: live reading, lockout, remedy, return to service, proof, closed."""

from __future__ import annotations

import re

import pytest
from stage import ADA, Hand, Stage

from diag.case.log.events import Closed, Found, Gate, Remedied
from diag.safety import Act

CASE = "1125-a"


METER = ("enter", "=0 0 0 0 0 0 V", "enter")
"""The step of the mixer's test point, with what the meter reads there, pair by pair."""


async def on_to_dead(hand: Hand) -> None:
    """The next step of the gate; what the meter reads is typed."""
    await hand.press(*(METER if "Measure L1-L2" in hand.words else ["enter"]))


async def to_dead(stage: Stage, hand: Hand) -> None:
    """Each step of the mixer's gate; after the locks the minute that the arm's label asks for."""
    await hand.press(*["enter"] * 4)
    stage.clock.on(1)
    await hand.press(*["enter"] * 4, *METER, "enter")


async def to_the_remedy(hand: Hand) -> None:
    """Nothing lit, switch on, mains there, no 24 V: each fact one or a few keys."""
    await hand.press("3", "1", "2")  # SUPPLY dark, switch on, READY dark
    assert "Measure: Mains at the supply" in hand.text
    await hand.press("enter", "1", "1", "4", "=01", "enter")  # live work: reason, permit; 401 V
    await hand.press("slash", "=24 v", "enter", "enter", "=0,3 V", "enter")
    assert "absent (0,3 V)" in hand.status


async def test_from_dark_lamps_to_closed(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
        await to_the_remedy(hand)
        await hand.press("g", "e", "escape")
        assert "ENERGISED" in hand.lines[0]

        # The remedy is named and leads to the lockout; how it is done is not shown yet.
        await hand.turn_to("Remedy for: 24 V supply unit")
        assert "Replace the supply unit" not in hand.text
        await hand.press("enter")
        assert "LOCKOUT Control box" in hand.text
        await to_dead(stage, hand)
        assert "■ DEAD: Control box" in hand.lines[0]
        await hand.press("enter")
        assert "Replace the supply unit" in hand.text

        await hand.press("enter")
        assert "Is it done? Enter again confirms" in hand.status
        assert not [e for e in stage.events(CASE) if isinstance(e, Remedied)]
        await hand.press("enter")
        assert "Now see its proof" in hand.status
        await hand.press("g", "b", *["enter"] * 12, "escape")
        assert "ENERGISED" in hand.lines[0]
        assert "PROOF" in hand.text
        await hand.press("f", "f")
        assert "1 ● cured" in hand.text
        assert "Not proved yet" in hand.status
        await hand.press("escape", "1")  # SUPPLY lit
        for _ in range(9):
            if not re.search(r"\bPROVED\b", hand.text):
                await prove(hand)
        await hand.press("f")
        assert "24 V supply unit failed" in hand.text
        await hand.press("enter")
        assert "Cured and proved." in hand.text
    events = stage.events(CASE)
    assert [e for e in events if isinstance(e, Closed)] == [Closed(outcome="cured", cause="supply-unit-failed")]
    assert [e.remedy for e in events if isinstance(e, Remedied)] == ["supply-unit-failed"]
    gate = [e.act for e in events if isinstance(e, Gate)]
    assert gate.index(Act.TESTED_DEAD) < gate.index(Act.BACK) < gate.index(Act.POWER_ON)


async def prove(hand: Hand) -> None:
    """Whatever proof is asked for, found as it should be."""
    if "to the lockout" in hand.text:
        await hand.press("enter", "1", "1")
    elif any(line.startswith(" NEXT  24 V supply") for line in hand.lines):
        await hand.press("enter", "=24.1", "enter")
    else:
        await hand.press("1")


async def test_wrong_keys_change_nothing(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
        before = stage.kinds(CASE)
        await hand.press("9", "z", "k", "enter", "tab", "tab", "tab", "escape", "delete", "f5")
        await hand.press("u")
        assert "nothing to take back" in hand.status
        assert stage.kinds(CASE) == before


async def test_a_reading_that_is_not_understood_keeps_what_was_typed(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "3", "1", "2", "enter", "1", "1")
        await hand.press("enter", "=1,234", "enter")
        assert "1.234 or 1234" in hand.status
        assert "1,234" in hand.text
        await hand.press("ctrl+u", "=4000", "enter")
        assert "Is it 400 V" in hand.status
        await hand.press("enter")
        found = [e for e in stage.events(CASE) if isinstance(e, Found)]
        assert found[-1].said == "4000 V a.c."


async def test_before_the_gate_there_is_no_place_for_an_inside_answer(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "slash", "=drive fuse", "enter")
        assert "b it was found before this case" in hand.text
        await hand.press("2", "enter", "=5", "x")
        assert not [e for e in stage.events(CASE) if isinstance(e, Found)]
        await hand.press("escape", "slash", "=drive fuse", "enter", "b", "=Bo", "enter")
        assert "before this case, by Bo" in hand.text
        await hand.press("enter", "=OL", "enter")
        found = [e for e in stage.events(CASE) if isinstance(e, Found)]
        assert [(f.indication, f.before, f.said) for f in found] == [("drive-fuse", "Bo", "OL")]


@pytest.mark.parametrize(("key", "act"), [("v", Act.VOLTAGE_FOUND), ("m", Act.METER_FAILED), ("x", Act.MOVED)])
async def test_a_finding_stops_the_zone_and_calls(stage: Stage, key: str, act: Act) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 6, key)
        assert "again to confirm" in hand.status
        assert act not in [e.act for e in stage.events(CASE) if isinstance(e, Gate)]
        await hand.press(key)
        assert "STOP" in hand.lines[0]
        assert "Keep out and call" in hand.text
        assert [e.act for e in stage.events(CASE) if isinstance(e, Gate)][-1] is act
        await hand.press("escape")
        assert "TIME TO CALL" in hand.text


async def test_a_held_key_does_not_confirm_a_lockout(stage: Stage) -> None:
    stage.seconds.still = True
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 8)
        assert "Too quick" in hand.status
        assert stage.kinds(CASE).count("gate") == 1


async def test_two_people_at_the_gate_without_typing_twice(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g")
        await to_dead(stage, hand)
        assert "DEAD" in hand.lines[0]
        await hand.press("p", "=Bo", "enter", "2", "a", "l", "enter")
        assert "NOT DEAD FOR YOU" in hand.lines[0]
        for _ in range(8):
            if "■ DEAD" not in hand.lines[0]:
                await on_to_dead(hand)
        assert "■ DEAD: Control box" in hand.lines[0]
        await hand.press("p", "2")
        assert "Ada Brandt" in hand.lines[0]
        assert "■ DEAD: Control box" in hand.lines[0]


async def test_a_proof_that_has_become_too_old_is_told_without_a_key(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g")
        await to_dead(stage, hand)
        await hand.press("escape")
        assert "■ DEAD: Control box" in hand.lines[0]
        stage.clock.on(61)
        await hand.until(lambda: "PROVED" in hand.lines[0])
        assert "Test again before you touch." in hand.lines[1]


async def test_the_change_of_shift_is_told_without_a_key(stage: Stage) -> None:
    stage.shifts = ("03:30", "15:00")
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g")
        await to_dead(stage, hand)
        await hand.press("escape")
        assert "■ DEAD: Control box" in hand.lines[0]
        stage.clock.on(20)
        await hand.until(lambda: "PROVED 03:1" in hand.lines[0])
        assert "The shift changed at 03:30. Test again before you touch." in hand.lines[1]


async def test_power_for_a_test_and_back_to_dead(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g")
        await to_dead(stage, hand)
        await hand.press("t")
        assert "RESTORING POWER" in hand.lines[0]
        assert "Back on: Main switch Q1, for the test" in hand.text
        await hand.press(*["enter"] * 12)
        assert "POWER ON FOR A TEST" in hand.lines[0]
        assert "Power is back on for the test. ↵ back to the case." in hand.text
        await hand.press("enter", "g", "enter")
        for _ in range(10):
            if "■ DEAD" not in hand.lines[0]:
                stage.clock.on(1)  # the power was on again: the wait on the label begins anew with the locks
                await on_to_dead(hand)
        assert "■ DEAD: Control box" in hand.lines[0]
    acts = [e.act for e in stage.events(CASE) if isinstance(e, Gate)]
    assert acts.index(Act.TEST_POWER) < acts.index(Act.POWER_ON) < acts.index(Act.ISOLATE_AGAIN)


async def test_after_a_stop_the_proof_starts_again_with_the_sites_words(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 8, "v", "v", "i", "1")
        assert "Confirmed by Ada Brandt" in hand.status
        gate = [e for e in stage.events(CASE) if isinstance(e, Gate)]
        assert gate[-1].act is Act.ISOLATE_AGAIN
        assert "duty engineer decided" in gate[-1].reason


async def test_a_lock_that_is_on_goes_over_to_the_next_shift(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "enter", "enter", "1", "escape", "f", "2", "enter")
        assert "Locks of this case are on" in hand.status
        await hand.press("3", "=Bo Lind", "enter", "h")
        assert "▲ Locks on: Main switch Q1 (Ada Brandt)" in hand.text
        await hand.press("enter")
        assert "Handed over." in hand.text
    closed = [e for e in stage.events(CASE) if isinstance(e, Closed)]
    assert [(c.outcome, c.to) for c in closed] == [("handed-over", "Bo Lind")]
    async with stage.run() as hand:
        assert "LOCKS ON" in hand.text
