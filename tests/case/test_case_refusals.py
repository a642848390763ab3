"""What may not be entered now, and the one line that says why and what to do."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_steps import ANN, BOX, OLGA, Ticking, gate, lock_out

from diag.case.case import Case
from diag.case.log import events as e
from diag.machine.model import UNLISTED, Machine, Role
from diag.safety import Act, Person

NOBODY = Person("electrician on shift", Role.ELECTRICIAN, authorised=True, qualified=True)


def case_of(machine: Machine, person: Person = ANN, *said: tuple[str, str]) -> Case:
    case = Case.open(machine, person, clock=Ticking())
    for indication, text in said:
        case.say(indication, text)
    return case


def found(indication: str, state: str, **more: str) -> e.Found:
    return e.Found(indication=indication, seen={state: 1.0}, **more)


@pytest.mark.parametrize(
    ("event", "says"),
    [
        (e.Opened(machine="mixer", revision="1"), "This case is open already."),
        (e.TookOver(person="", role=Role.ENGINEER), "Say who you are first."),
        (e.Joined(person=" ", role=Role.ENGINEER), "Say who you are first."),
        (e.Skipped(action="sing"), "There is no check or remedy 'sing'."),
        (e.Noted(text=" "), "There is nothing to note."),
        (e.TakenBack(seq=99), "That cannot be taken back."),
        (e.RemedyFailed(remedy="let-cool"), "No such remedy waits for its proof."),
        (e.Did(tree="first-look", text="Sing"), "No tree gives that instruction."),
        (e.Did(tree="no-tree", text="Sing"), "No tree gives that instruction."),
        (e.MadeSafe(how="aired"), "No danger sign stands."),
        (e.Closed(outcome="handed-over"), "Say who takes over."),
        (e.Closed(outcome="cured"), "Say which cause it was, or that it is not in this file."),
        (
            e.Closed(outcome="cured", cause="lamp-failed"),
            "Its remedy was not entered as done. Enter it first, or close as running, cause not found.",
        ),
        (
            e.Closed(outcome="cured", cause=UNLISTED),
            "Not proved yet: nothing that would prove it. See it, or close as running.",
        ),
        (
            found("supply-lamp", "lit", check="measure-mains"),
            "Measure: Mains at the supply terminals does not tell SUPPLY.",
        ),
        (e.Found(indication="supply-lamp", seen={"lit": 0.0}), "No state could look like that."),
        (e.Found(indication="supply-lamp", seen={}), "No state could look like that."),
        (found("panel-reset", "ran-on"), "Fault reset: it was not done in this case."),
        (
            found("mains", "good"),
            "Mains at the supply terminals: Measure: Mains at the supply terminals is how this is found, and it is "
            "inside. If it was found earlier, enter by whom.",
        ),
        (
            found("guard-contact", "open", check="try-guard-contact"),
            "Guard contact: First lock out Control box and prove it dead. If it was found earlier, enter by whom.",
        ),
        (e.ResetDone(reset="panel-reset"), "Note first, because a reset wipes it: Display"),
        (e.Remedied(remedy="lamp-failed"), "First lock out Control box and prove it dead."),
    ],
)
def test_a_refusal_says_why(mixer: Machine, event: e.Event, says: str) -> None:
    assert case_of(mixer).refusal(event) == says


@pytest.mark.parametrize(
    ("event", "names"),
    [
        (found("lamp", "lit"), "indication"),
        (found("supply-lamp", "purple"), "state of SUPPLY"),
        (found("supply-lamp", "lit", check="look"), "check"),
        (e.CannotTell(indication="lamp"), "indication"),
        (e.CannotTell(indication="supply-lamp", check="look"), "check"),
        (e.ResetDone(reset="kick"), "reset"),
        (e.Remedied(remedy="kick"), "remedy"),
        (e.Closed(outcome="cured", cause="gremlin"), "cause"),
    ],
)
def test_a_name_that_does_not_exist_is_told_with_those_that_do(mixer: Machine, event: e.Event, names: str) -> None:
    says = case_of(mixer).refusal(event)
    assert says.startswith(f"unknown {names} '")
    assert says.endswith(".")


def test_a_state_may_be_found_by_any_way_that_is_open(mixer: Machine) -> None:
    """From outside at any time by whoever may; from inside past the gate, and by its own check alone."""
    case = case_of(mixer)
    assert case.refusal(found("supply-lamp", "lit")) == ""
    assert case.refusal(found("supply-lamp", "lit", check="see-supply-lamp")) == ""
    assert case.refusal(found("mains", "good", before="Carl")) == ""
    lock_out(case)
    assert case.refusal(found("guard-contact", "open", check="try-guard-contact")) == ""
    by_itself = case.refusal(found("guard-contact", "open"))
    assert by_itself.startswith("Guard contact: Guard contact, measured is how this is found, and it is inside.")
    theirs = replace(mixer.checks["see-supply-lamp"], who=(Role.ENGINEER,))
    case = case_of(replace(mixer, checks={**mixer.checks, theirs.id: theirs}))
    assert case.refusal(found("supply-lamp", "lit")).startswith("SUPPLY: This is for an engineer. Call.")


def test_after_the_end_nothing_is_entered_but_what_opens_it_again(mixer: Machine) -> None:
    case = case_of(mixer)
    case.post(e.Closed(outcome="running"))
    assert case.refusal(e.Noted(text="x")) == "This case is closed."
    assert case.refusal(e.TookOver(person="Bob", role=Role.ENGINEER)) == "This case is closed."
    case = case_of(mixer)
    case.post(e.Closed(outcome="handed-over", to="Bob"))
    assert case.refusal(e.Noted(text="x")) == "This case is closed. Take it over to go on."
    assert case.refusal(e.Joined(person="Bob", role=Role.ENGINEER)) == ""
    assert case.refusal(e.TookOver(person="Bob", role=Role.ENGINEER)) == ""


def test_a_case_ends_when_the_machine_is_back_in_service(mixer: Machine) -> None:
    case = case_of(mixer)
    gate(case, Act.TOLD)
    assert case.refusal(e.Closed(outcome="running")) == (
        "The return to service is not finished: Control box. Finish it first, or hand over."
    )
    assert case.refusal(e.Closed(outcome="handed-over", to="Bob")) == ""
    gate(case, Act.SHUT_DOWN)
    gate(case, Act.OFF_AND_LOCKED, "main-switch-q1")
    assert case.refusal(e.Closed(outcome="running")) == (
        "Locks of this case are on: Main switch Q1 (Ann). Return to service first, or hand over."
    )


def test_a_danger_sign_leaves_little_to_enter(mixer: Machine) -> None:
    case = case_of(mixer, ANN, ("supply-lamp", "lit"), ("box-display", "d1"))
    note = next(a.title for a in [case.advice().next] if a)
    case.say("smell", "burning")
    stands = "A danger sign stands. "
    assert case.refusal(e.Did(tree="first-look", text=note)) == f"{stands}Keep away and call."
    assert case.refusal(e.Remedied(remedy="let-cool")) == f"{stands}Keep away and call."
    assert case.refusal(e.Gate(zone=BOX, act=Act.TOLD)) == f"{stands}Keep away and call."
    assert case.refusal(e.Closed(outcome="running")) == f"{stands}Hand over, or have it made safe first."
    assert case.refusal(found("ready-lamp", "dark")) == "", "it may have been seen"
    assert case.refusal(e.MadeSafe(how=" ")) == "Say how it was made safe."
    assert case.refusal(e.MadeSafe(how="The motor was pulled and is cold")) == ""
    by_name = "An electrician or an engineer says by name that it was made safe. Call one."
    for person in (OLGA, NOBODY):
        case = case_of(mixer, person, ("smell", "burning"))
        assert case.refusal(e.MadeSafe(how="aired")) == by_name


def test_a_remedy_is_entered_by_name_and_waits_for_its_proof(mixer: Machine) -> None:
    case = case_of(mixer, NOBODY)
    assert case.refusal(e.Remedied(remedy="let-cool")) == (
        "A remedy is entered by name, not by a role. Say your name first."
    )
    case = case_of(mixer, ANN, ("box-display", "d2"))
    case.post(e.Remedied(remedy="let-cool"))
    assert case.refusal(e.Remedied(remedy="mains-lost")) == "Say first whether the last remedy cured it."
    assert case.refusal(e.RemedyFailed(remedy="mains-lost")) == "No such remedy waits for its proof."
    assert case.refusal(e.Closed(outcome="cured", cause="drive-overload")) == (
        "Not proved yet: Display and READY. See it, or close as running."
    )
    case.say("box-display", "idle")
    assert case.refusal(e.Closed(outcome="cured", cause="bowl-too-full")) == (
        "Not proved yet: READY. See it, or close as running."
    )
    case.say("ready-lamp", "lit")
    assert case.refusal(e.Closed(outcome="cured", cause="bowl-too-full")) == ""


def test_instructions_are_those_of_all_branches_of_a_tree(mixer: Machine) -> None:
    case = case_of(mixer)
    assert case.refusal(e.Did(tree="first-look", text="Note the code, and ask what was in the bowl")) == ""
    assert case.refusal(e.Did(tree="no-supply", text="Note the code, and ask what was in the bowl")) != ""


def test_words_are_kept_as_said_but_steer_no_terminal(mixer: Machine) -> None:
    case = case_of(mixer)
    case.post(e.Noted(text="  two\nlines\x1b[2J  "))
    assert case.state.notes[-1].text == "two\nlines [2J"
    case.post(e.Found(indication="supply-lamp", seen={"lit": 1.0}, said=" lit\x07 ", before=" Carl\nof the day "))
    fact = case.state.facts[-1]
    assert (fact.said, fact.before) == (" lit  ", "Carl of the day")
    case.post(e.Called(role=Role.ENGINEER))
    case.post(e.TookOver(person="  bOB ", role=Role.ENGINEER))
    case.post(e.TookOver(person="Bob", role=Role.ENGINEER))
    assert {person.name for person in case.state.people} == {"Ann", "bOB"}, "the spelling that came first"
