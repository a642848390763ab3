"""Danger tags and the lock of an absent owner by keys: asked in order, told first to whoever comes back."""

from __future__ import annotations

import pytest
from stage import ADA, EVA, OLE, Hand, Stage, golden

from diag.case.case import Case
from diag.case.log.events import Gate, OwnerAbsent, OwnerTold, TagDown, TagFound
from diag.case.sitting import Sitting
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety import Act, Person

CASE = "1125-a"
HER = Person("Ada Brandt", Role.ELECTRICIAN, True, True)
ENGINEER = Person("Eva", Role.ENGINEER, True, True)
ANSWERS = (
    *("=Ruth Kern", "enter", "=badge out at 2", "enter", "=rang twice", "enter"),
    *("enter", "=Ole and I looked", "enter"),
)
"""What the employer's procedure asks for, line by line; who takes it off is Eva, at the keys."""
COMES = ("n", "ctrl+u", *EVA)
"""Eva comes to the case after somebody else."""


def locked(stage: Stage, machine: Machine, absent: bool = False) -> None:
    """Ada's lock is on the main switch, and she has gone; `absent`: it has been taken off."""
    with Casebook(stage.book) as book:
        ada = Case.open(machine, Sitting(HER), book=book, clock=stage.clock)
        for act, target in ((Act.TOLD, ""), (Act.SHUT_DOWN, ""), (Act.OFF_AND_LOCKED, "main-switch-q1")):
            ada.post(Gate(zone="control-box", act=act, target=target))
        stage.clock.on(600)
        if absent:
            eva = Case.resume(ada.id, machine, Sitting(ENGINEER), book=book, clock=stage.clock)
            said = {"directed_by": "Ruth Kern", "off_site": "badge", "tried": "rang", "checked": "looked"}
            eva.post(OwnerAbsent(owner="Ada Brandt", locks=("main-switch-q1",), removed_by="Eva", **said))
            stage.clock.on(600)


async def test_the_lock_of_an_absent_owner_comes_off_step_by_step(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer)
    async with stage.run(case=CASE) as hand:
        await hand.press(*COMES)
        assert "y tags" in hand.keys
        await hand.press("y")
        golden(hand, "owners-what")
        await hand.press("1")
        golden(hand, "owners-absent")
        await hand.press("=Eva", *ANSWERS[1:2], "enter")
        assert "Not on site: still to be typed" in hand.text
        await hand.press(*ANSWERS[2:])
        assert "are two people" in hand.text, "why it is refused is said in the box"
        assert "badge out at 2" in hand.box, "and nothing that was typed is lost"
        assert line_of(hand) == "ask-0", "the line that it is about"
        await hand.press("end", "ctrl+u", "=Ruth Kern", *["enter"] * 5)
        assert "IS IT OFF?" in hand.box
        assert "owner-absent" not in stage.kinds(CASE)
        await hand.press("2")
        assert "Ada Brandt is to be told" in hand.words
        assert "to be told: Ada Brandt" in hand.lines[1]
        await hand.press("y", "1")
        assert "The lock at Main switch Q1 was taken off" in hand.box
        assert "How was Ada Brandt told, and by whom?" in hand.box
        await hand.press("=by telephone", "enter")
        assert "to be told" not in hand.lines[1], "somebody else may enter it"
    (event,) = [e for e in stage.events(CASE) if isinstance(e, OwnerAbsent)]
    assert (event.owner, event.locks, event.directed_by) == ("Ada Brandt", ("main-switch-q1",), "Ruth Kern")
    assert (event.removed_by, event.authorised, event.qualified) == ("Eva", True, True)
    assert [e.how for e in stage.events(CASE) if isinstance(e, OwnerTold)] == ["by telephone"]


def line_of(hand: Hand) -> str:
    """The line of the form that is typed in."""
    return str(getattr(hand.app.focused, "id", ""))


async def test_no_line_of_the_form_is_passed_over(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer)
    async with stage.run(case=CASE) as hand:
        await hand.press(*COMES, "y", "1", *ANSWERS[:6])
        assert line_of(hand) == "ask-3", "who takes it off is filled in, and still gone through"
        assert "↑↓ line" in hand.box
        await hand.press("up", "up")
        assert line_of(hand) == "ask-1"
        await hand.press("end", "ctrl+u", "=x", "down", "down", "down", "down")
        assert line_of(hand) == "ask-4"
        await hand.press("=Ada Brandt", "enter")
        assert "too short to tell" in hand.box
        assert line_of(hand) == "ask-1"
        await hand.press("end", "ctrl+u", "=badge out at 2", *["enter"] * 4)
        assert "leave Ada Brandt out" in hand.box
        assert line_of(hand) == "ask-4"
        assert "badge out at 2" in hand.box


async def to_the_question(hand: Hand) -> None:
    await hand.press(*COMES, "y", "1", *ANSWERS)
    assert "IS IT OFF?" in hand.box


async def test_whether_it_is_off_takes_a_digit_of_its_own_and_no_typing(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer)
    async with stage.run(case=CASE) as hand:
        await to_the_question(hand)
        stage.seconds.still = True
        await hand.press("=off: 2", "enter", "down", "enter")
        assert "IS IT OFF?" in hand.box, "what is typed on from the box before answers nothing"
        assert "read it, then press its digit" in hand.box
        assert "owner-absent" not in stage.kinds(CASE)
        stage.seconds.ahead += 0.6
        await hand.press("2")
        assert "IS IT OFF?" in hand.box
        stage.seconds.ahead += 0.8
        await hand.press("2")
        assert "is to be told" in hand.words
    assert stage.kinds(CASE).count("owner-absent") == 1


async def test_nothing_answers_it_right_after_it_opened(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer)
    async with stage.run(case=CASE) as hand:
        await hand.press(*COMES, "y", "1", *ANSWERS[:-1])
        stage.seconds.still = True
        await hand.press("enter", "2")
        assert "IS IT OFF?" in hand.box
        await hand.press("escape")
    assert "owner-absent" not in stage.kinds(CASE)


async def test_an_owner_who_is_at_work_here_comes_last_and_is_reached_first(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer)
    stage.clock.on(-580)
    async with stage.run(case=CASE) as hand:
        await hand.press(*COMES, "y")
        assert "2 Ada Brandt is absent" in " ".join(hand.box.split())
        assert "entered something at" in hand.box
        await hand.press("2")
        assert "Ada Brandt entered something here at" in hand.status
        assert "Reach them first" in hand.status
        assert "ABSENT OWNER" not in hand.text


async def test_the_owners_own_terminal_says_stop(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer)
    stage.follows = True
    async with stage.run(case=CASE) as ada:
        await ada.press("n", "ctrl+u", "=Ada Brandt", "enter", "2", "a", "enter", "1")
        assert "Ada Brandt · electrician" in ada.lines[0]
        stage.clock.on(60)
        async with stage.run(case=CASE) as eva:
            await to_the_question(eva)
            await eva.press("2")
            await ada.until(lambda: "as absent" in ada.status)
            assert "! Your lock at Main switch Q1 was taken off as absent on" in ada.text
            assert "Come out; you are not protected." in ada.words
            assert "✖ STOP, your lock was taken off" in ada.text
            assert "STOP, your lock" not in eva.text, "it is the owner's alone"
        await ada.press("y", "1", "=Eva told me", "enter")
        assert "STOP, your lock" not in ada.text


async def test_the_owner_reads_it_first_on_sitting_down(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer, absent=True)
    async with stage.run("mixer") as hand:
        await hand.press("n", "ctrl+u", "=Ada", "enter", "2", "a", "enter", "2")
        assert "READ THIS FIRST" in hand.box, "a first name alone may be hers"
        golden(hand, "owners-read-first")
        await hand.press("escape")
        assert "owner-told" not in stage.kinds(CASE)
        assert hand.app.screen.id == "home", "whoever has not read it sits nowhere"
        await hand.press("=mixer", "enter", "n", "ctrl+u", "=Ada", "enter", "2", "a", "enter", "1")
        assert "Ada Brandt · electrician" in hand.lines[0]
        assert "to be told" not in hand.lines[1]
    (told,) = [e for e in stage.events(CASE) if isinstance(e, OwnerTold)]
    assert told.owner == "Ada Brandt"


async def test_what_stands_is_said_when_a_case_is_opened(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer, absent=True)
    async with stage.run(case=CASE) as hand:
        await hand.press(*COMES)
        assert "to be told: Ada Brandt. y says what stands" in hand.status
        assert "to be told: Ada Brandt" in hand.lines[1]


async def test_the_owner_reads_it_before_they_get_the_keys_of_an_open_case(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer, absent=True)
    async with stage.run(case=CASE) as hand:
        await hand.press(*COMES, "p", "2", "2", "a", "enter", "1")
        assert "READ THIS FIRST" in hand.box
        await hand.press("1")
        assert "Ada Brandt · electrician" in hand.lines[0]
    assert "owner-told" in stage.kinds(CASE)


async def test_a_danger_tag_is_found_and_the_person_on_it_takes_it_down(stage: Stage) -> None:
    async with stage.run("mixer", size=(140, 40)) as hand:
        await hand.press(*OLE, "y", "1", "1", "=do not switch on", "enter", "=Eva")
        golden(hand, "owners-tag")
        await hand.press("enter")
        assert "DANGER TAG: Eva" in hand.lines[1]
        await hand.press("r")
        assert "A danger tag names Eva" in hand.text
        await hand.press("escape", "u")
        assert "of a tag or an absent owner, and stays" in hand.status
        await hand.press("y")
        assert "my danger tag" not in hand.box
        await hand.press("1")
        assert "An electrician or an engineer enters this" in hand.status, "an operator is told at once"
        await hand.press("p", "=Eva", "enter", "3", "enter", "y", "1", "=it is mended", "enter")
        assert "DANGER TAG" not in hand.lines[1]
    assert [e.says for e in stage.events(CASE) if isinstance(e, TagFound)] == ["do not switch on"]
    assert [e.person for e in stage.events(CASE) if isinstance(e, TagDown)] == ["Eva"]


async def test_the_gate_says_whose_lock_it_waits_for_and_which_key_helps(stage: Stage, mixer: Machine) -> None:
    locked(stage, mixer)
    async with stage.run(case=CASE) as hand:
        await hand.press(*COMES, "g", "b", "b", *["enter"] * 4)
        assert "Locks are still on: Ada Brandt." in hand.words
        assert "y where one is absent" in hand.words
        assert "y tags" in hand.keys
        await hand.resize(58, 20)
        await hand.press("y", "1")
        assert "too small" in hand.text
    assert "owner-absent" not in stage.kinds(CASE)


@pytest.mark.parametrize(("size", "says"), [((80, 24), "DANGER TAG"), ((140, 40), "DANGER TAG: Eva")], ids=str)
async def test_the_tag_stays_in_the_banner_while_a_wait_runs(stage: Stage, size: tuple[int, int], says: str) -> None:
    async with stage.run("mixer", size=size) as hand:
        await hand.press(*ADA, "y", "1", "1", "=do not", "enter", "=Eva", "enter")
        await hand.press("g", *["enter"] * 5)
        assert f"{says} · wait 1:0" in hand.lines[1]
