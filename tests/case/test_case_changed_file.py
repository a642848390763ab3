"""A case that began with an older machine file: what still fits counts, and what does not is told and harms nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_steps import ANN, BOX, Ticking, gate, lock_out, next_of

from diag.case.advice.advice import excluded
from diag.case.case import Case
from diag.case.log import events as e
from diag.case.log.replay import NoCase, replay
from diag.case.snapshot import CaseState
from diag.machine.model import Machine, Role
from diag.safety import Act, Phase


def opened(machine: Machine, *said: tuple[str, str]) -> Case:
    case = Case.open(machine, ANN, clock=Ticking())
    for indication, text in said:
        case.say(indication, text)
    return case


def now(machine: Machine, case: Case) -> CaseState:
    """The case by its entries, with the machine as its file stands now."""
    return replay(machine, case.id, case.entries).projection().state


def lacking(machine: Machine, part: str, *gone: str) -> Machine:
    kept = {id: one for id, one in getattr(machine, part).items() if id not in gone}
    return replace(machine, **{part: kept})  # type: ignore[arg-type]


def test_a_fact_of_what_is_no_longer_in_the_file_is_told(mixer: Machine) -> None:
    case = opened(mixer, ("supply-lamp", "lit"), ("motor-warm", "hot"))
    case.cannot_tell("before-stop")
    state = now(lacking(mixer, "indications", "motor-warm", "before-stop"), case)
    assert [f.indication for f in state.facts] == ["supply-lamp"]
    assert state.cannot_tell == ()
    assert [p.split(" of ")[0] for p in state.problems] == ["Entry 4", "Entry 5"]
    assert state.problems[0].endswith(" UTC no longer fits the machine: motor-warm with that state.")
    assert state.problems[1].endswith(" UTC no longer fits the machine: before-stop.")


def test_a_state_that_is_gone_leaves_the_others_of_a_doubtful_sight(mixer: Machine) -> None:
    case = opened(mixer)
    case.post(e.Found(indication="supply-lamp", seen={"dim": 1.0, "lit": 0.5, "dark": 0.0}))
    lamp = mixer.indications["supply-lamp"]
    fewer = replace(lamp, states=tuple(s for s in lamp.states if s.id != "dim"))
    state = now(replace(mixer, indications={**mixer.indications, lamp.id: fewer}), case)
    assert [dict(f.seen) for f in state.facts] == [{"lit": 0.5}]
    assert state.problems == ()
    none = replace(lamp, states=tuple(s for s in lamp.states if s.id == "dark"))
    gone = now(replace(mixer, indications={**mixer.indications, lamp.id: none}), case)
    assert gone.facts == ()
    assert gone.problems[0].endswith("no longer fits the machine: supply-lamp with that state.")


def test_a_remedy_that_is_gone_waits_for_no_proof(mixer: Machine) -> None:
    case = opened(mixer, ("box-display", "d2"))
    case.post(e.Remedied(remedy="let-cool"))
    assert now(mixer, case).remedy == "let-cool"
    state = now(lacking(mixer, "remedies", "let-cool"), case)
    assert (state.remedy, state.round) == ("", 1)
    assert state.problems[0].endswith("no longer fits the machine: let-cool.")


def test_a_reset_that_is_gone_has_still_begun_a_round(mixer: Machine) -> None:
    case = opened(mixer, ("box-display", "G0"))
    case.post(e.ResetDone(reset="panel-reset"))
    state = now(lacking(mixer, "resets", "panel-reset"), case)
    assert state.round == 2
    assert state.problems[0].endswith("no longer fits the machine: panel-reset.")
    assert now(mixer, case).round == 2


def test_a_gate_that_no_longer_fits_stops_what_stood_on_it(mixer: Machine) -> None:
    case = opened(mixer)
    gate(case, Act.TOLD)
    gate(case, Act.SHUT_DOWN)
    gate(case, Act.OFF_AND_LOCKED, "main-switch-q1")
    box = replace(mixer.zones[BOX], points=("lift-permit",))
    state = now(replace(mixer, zones={BOX: box}), case)
    assert state.lockouts[BOX].phase is Phase.STOP
    assert "no longer fits the machine: off-and-locked at control-box (" in state.problems[0]


def test_what_cannot_be_read_stops_every_zone_that_stood(mixer: Machine) -> None:
    case = opened(mixer)
    lock_out(case)
    hole = e.Unreadable(99, "Entry 99 cannot be read. The others stand.")
    state = replay(mixer, case.id, (*case.entries, hole)).projection().state
    assert state.problems == ("Entry 99 cannot be read. The others stand.",)
    assert state.lockouts[BOX].phase is Phase.STOP


def test_a_case_whose_beginning_cannot_be_read_is_none(mixer: Machine) -> None:
    case = opened(mixer)
    hole = e.Unreadable(1, "Entry 1 cannot be read. The others stand.")
    for entries in ((hole, *case.entries[1:]), case.entries[1:], ()):
        with pytest.raises(
            NoCase, match=f"Case {case.id}: its first entry cannot be read, so the case cannot be opened"
        ):
            replay(mixer, case.id, entries)


# ---------------------------------------------------------------- what one entry changes


def test_what_was_set_aside_or_could_not_be_told_is_open_again_in_the_next_round(mixer: Machine) -> None:
    case = opened(mixer, ("box-display", "G0"))
    case.post(e.Skipped(action="measure-mains"))
    case.post(e.Skipped(action="lamp-failed"))
    case.cannot_tell("main-switch")
    closed = {"measure-mains", "lamp-failed", "ask-main-switch", "see-box-display"}
    assert excluded(mixer, case._projection) == closed
    assert case.state.cannot_tell == ("main-switch",)
    case.post(e.ResetDone(reset="panel-reset"))
    assert case.state.cannot_tell == ()
    assert excluded(mixer, case._projection) == set(), "a reset may have changed what was seen"


def test_what_a_reset_did_is_waited_for_until_it_is_told(mixer: Machine) -> None:
    for tell in (lambda case: case.say("panel-reset", "ran-on"), lambda case: case.cannot_tell("panel-reset")):
        case = opened(mixer, ("box-display", "G0"))
        case.post(e.ResetDone(reset="panel-reset"))
        case.say("smell", "none")
        assert next_of(case).gives == ("panel-reset",)
        tell(case)
        assert next_of(case).gives != ("panel-reset",)


def test_what_could_not_be_told_and_was_found_after_all_is_found(mixer: Machine) -> None:
    case = opened(mixer)
    case.cannot_tell("smell")
    case.cannot_tell("smell")
    assert case.state.cannot_tell == ("smell",)
    case.say("smell", "none", before="Carl")
    assert case.state.cannot_tell == ("smell",), "what was found before tells nothing of now"
    case.say("smell", "none")
    assert case.state.cannot_tell == ()


def test_whom_was_called_is_told_once_and_in_the_order_of_the_last_calls(mixer: Machine) -> None:
    case = opened(mixer)
    for role in (Role.ENGINEER, Role.ELECTRICIAN, Role.ENGINEER):
        case.post(e.Called(role=role))
    assert case.state.called == ("electrician", "engineer")


def test_a_fact_found_after_a_remedy_is_its_proof_until_it_failed(mixer: Machine) -> None:
    case = opened(mixer, ("box-display", "G0"), ("guard-seen", "up"))
    case.post(e.Remedied(remedy="guard-not-down"))
    case.say("box-display", "G0")
    case.say("mains", "401", before="Carl")
    assert [f.proves for f in case.state.facts] == [False, False, True, False]
    case.post(e.RemedyFailed(remedy="guard-not-down"))
    assert not any(f.proves for f in case.state.facts)
    assert case.state.remedy == ""


def test_a_case_handed_over_goes_on_with_whoever_takes_it(mixer: Machine) -> None:
    case = opened(mixer)
    case.post(e.Closed(outcome="handed-over", to="Bob", note="The fuse is warm."))
    assert (case.state.closed, case.state.notes[-1].text) == ("handed-over", "The fuse is warm.")
    case.post(e.TookOver(person="Bob", role=Role.ENGINEER))
    assert (case.state.closed, case.state.lead.name) == ("", "Bob")
