"""What is done before a proof is looked at, and what is said while the fault is gone and nothing runs yet."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_steps import ANN, OLGA, Ticking, gate, go_back, lock_out, next_of

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.sheet import sheet
from diag.machine.model import Energy, Machine, ProofStep, Role
from diag.safety import Act, Refused

REMEDY = "supply-unit-failed"
HOME, RESET, START = "Home the arm", "Press the blue key", "Press START"
TRIALS = ("guard-seen", "motor-warm")
EVERYONE, TRADE = tuple(Role), (Role.ELECTRICIAN, Role.ENGINEER)


@pytest.fixture
def machine(mixer: Machine) -> Machine:
    """The mixer whose new supply unit is proved only once its arm was homed, its fault reset, and it was started."""
    steps = (ProofStep(HOME, TRADE), ProofStep(RESET, EVERYONE, "panel-reset"), ProofStep(START, EVERYONE))
    cause = replace(mixer.causes[REMEDY], proof={"supply-lamp": ("lit",), "ready-lamp": ("lit",)}, proof_first=steps)
    return replace(mixer, causes={**mixer.causes, REMEDY: cause})


def refused(case: Case, event: e.Event) -> str:
    with pytest.raises(Refused) as why:
        case.post(event)
    return str(why.value)


def mended(machine: Machine) -> Case:
    case = Case.open(machine, ANN, clock=Ticking())
    case.say("supply-lamp", "dark")
    lock_out(case)
    case.post(e.Remedied(remedy=REMEDY))
    return case


def test_each_thing_is_done_in_its_order_with_the_machine_closed_and_the_power_on(machine: Machine) -> None:
    case = mended(machine)
    assert case.state.proof_first == (HOME, RESET, START)
    todo = next_of(case)
    assert (todo.kind, todo.title, todo.permission.now, todo.permission.way) == ("do", HOME, False, "restore")
    assert "Return to service first" in refused(case, e.Prepared(text=HOME))
    go_back(case)
    assert next_of(case).permission.now
    for early in (START, RESET, "Dance"):
        assert "not what comes next" in refused(case, e.Prepared(text=early))
    case.post(e.TookOver(person="Olga", role=OLGA.role))
    assert next_of(case).how == ""
    assert "This is for electrician or engineer" in refused(case, e.Prepared(text=HOME))
    case.post(e.TookOver(person="Ann", role=ANN.role, authorised=True, qualified=True))
    case.post(e.Prepared(text=HOME))
    assert "Enter it as a reset" in refused(case, e.Prepared(text=RESET))
    assert next_of(case).gives == ("box-display",), "what the reset wipes is noted first"
    case.say("box-display", "G0")
    assert (next_of(case).kind, next_of(case).id) == ("reset", "panel-reset")
    case.post(e.ResetDone(reset="panel-reset"))
    assert case.state.proof_first == (START,)
    case.post(e.Prepared(text=START))
    assert case.state.proof_first == ()


def test_the_proof_is_looked_at_only_after_all_that_is_done_first(machine: Machine) -> None:
    case = mended(machine)
    go_back(case)
    case.say("supply-lamp", "lit")
    assert case.state.fault_gone
    assert "Fault gone, not yet running." in sheet.plain(case)
    case.say("ready-lamp", "lit")
    assert not case.state.proved
    assert f"First: {HOME}" in refused(case, e.Closed(outcome="cured", cause=REMEDY))
    case.post(e.Prepared(text=HOME))
    case.say("box-display", "G0")
    case.post(e.ResetDone(reset="panel-reset"))
    case.say("panel-reset", "ran-on")
    case.post(e.Prepared(text=START))
    assert "Not proved yet" in refused(case, e.Closed(outcome="cured", cause=REMEDY)), "seen before, and not since"
    case.say("supply-lamp", "lit")
    assert next_of(case).why.startswith("Fault gone, not yet running.")
    case.say("ready-lamp", "lit")
    assert case.state.proved
    case.post(e.Closed(outcome="cured", cause=REMEDY))


def test_a_fault_that_still_shows_is_not_gone_and_the_next_remedy_begins_anew(machine: Machine) -> None:
    case = mended(machine)
    go_back(case)
    case.post(e.Prepared(text=HOME))
    case.say("supply-lamp", "dark")
    assert not case.state.fault_gone
    case.post(e.RemedyFailed(remedy=REMEDY))
    assert case.state.proof_first == ()
    assert "not what comes next" in refused(case, e.Prepared(text=HOME))
    lock_out(case)
    case.post(e.Remedied(remedy=REMEDY))
    assert case.state.proof_first == (HOME, RESET, START)


def test_it_is_taken_back_like_any_entry(machine: Machine) -> None:
    case = mended(machine)
    go_back(case)
    case.post(e.Prepared(text=HOME))
    case.undo()
    assert case.state.proof_first[0] == HOME
    gate(case, Act.TOLD)


@pytest.fixture
def tried(mixer: Machine) -> Machine:
    """The mixer whose new supply unit is proved by two trials, each of which changes the machine, and by a lamp."""
    trials = {
        f"try-{id}": replace(mixer.checks[f"ask-{id}"], id=f"try-{id}", energy=Energy.ON, changes=True, implied=False)
        for id in TRIALS
    }
    proof = {"supply-lamp": ("lit",), **{id: (mixer.indications[id].normal,) for id in TRIALS}}
    kept = {id: check for id, check in mixer.checks.items() if id not in {f"ask-{i}" for i in TRIALS}}
    cause = replace(mixer.causes[REMEDY], proof=proof)
    return replace(mixer, checks={**kept, **trials}, causes={**mixer.causes, REMEDY: cause})


def test_a_trial_does_not_undo_what_another_trial_proved(tried: Machine) -> None:
    case = mended(tried)
    go_back(case)
    for _ in TRIALS:
        todo = next_of(case)
        assert tried.checks[todo.id].changes, "trials come first, since what is looked at is looked at after them"
        case.say(todo.gives[0], tried.indications[todo.gives[0]].normal, check=todo.id)
    assert not case.state.proved
    case.say("supply-lamp", "lit")
    assert case.state.proved
    case.say(TRIALS[0], tried.indications[TRIALS[0]].normal, check=f"try-{TRIALS[0]}")
    assert [i for i, _, found in case.state.proof if not found] == ["supply-lamp"], (
        "a lamp is seen after the last trial"
    )


def test_a_trial_is_made_anew_after_a_lockout(tried: Machine) -> None:
    case = mended(tried)
    go_back(case)
    for id in TRIALS:
        case.say(id, tried.indications[id].normal, check=f"try-{id}")
    lock_out(case)
    go_back(case)
    assert [i for i, _, found in case.state.proof if not found] == ["supply-lamp", *TRIALS]
