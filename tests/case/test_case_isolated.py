"""What is dark, blank or without air because somebody isolated it is no evidence, on the machine that is shipped."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from case_steps import ANN, Ticking, go_back, lock_out

from diag.case.case import Case
from diag.case.log.events import Closed, Prepared, Remedied
from diag.machine.load import read
from diag.machine.model import Access, Kind, Machine
from diag.safety import Refused

STACKER = Path(__file__).parents[2] / "knowledge" / "tray-stacker"
FED = [
    "axis-named",
    "screen-asks",
    "guard-named",
    "positions",
    "stations",
    "halt-note",
    "module-list",
    "clock",
    "alarm-list",
    "program-mark",
    "fan-sound",
    "outlet-air",
    "air-gauge",
    "hiss",
    "clamps",
    "air-valve-handle",
    "p7-lamp",
    "line-desk",
]
"""What needs the power or the air that the gate takes away, though a person is asked for it."""


@pytest.fixture(scope="module")
def stacker() -> Machine:
    return read(STACKER)


@pytest.mark.parametrize("indication", FED)
def test_it_says_nothing_while_the_machine_is_isolated(stacker: Machine, indication: str) -> None:
    states = stacker.indications[indication].state_ids
    off_normal = next(s for s in states if s != stacker.indications[indication].normal)
    case = Case.open(stacker, ANN, clock=Ticking())
    lock_out(case, "frame")
    before = case.advice().causes
    case.say(indication, "0 bar" if indication == "air-gauge" else off_normal)
    assert not case.state.facts[-1].counts
    assert case.state.facts[-1].why
    assert case.advice().causes == before


def test_the_next_thing_while_dead_needs_no_power(stacker: Machine) -> None:
    """An electrician who has just locked out is not sent to read a screen that is off, without being told so."""
    case = Case.open(stacker, ANN, clock=Ticking())
    for indication, state in [("danger-sign", "none"), ("supply-lamp", "dark"), ("dc-lamp", "dark")]:
        case.say(indication, state)
    lock_out(case, "cabinet")
    for action in (case.advice().next, *case.advice().others):
        assert action is not None
        fed = any(i in FED or stacker.indications[i].kind is Kind.DISPLAY for i in action.gives)
        assert not (fed and action.permission.now), action.id


def test_proof_begins_with_what_is_seen_from_outside(stacker: Machine) -> None:
    """A new end plug on the bus of the post: lamps and display before the ohms, which need it locked out again."""
    case = Case.open(stacker, ANN, clock=Ticking())
    case.say("supply-lamp", "dark")
    lock_out(case, "small-boxes")
    remedy = stacker.causes["post-terminator-missing"].remedy
    assert remedy is not None
    case.post(Remedied(remedy=remedy.id))
    go_back(case, "small-boxes")
    for step in case.state.proof_first:
        case.post(Prepared(text=step))
    asked = [a for a in (case.advice().next, *case.advice().others) if a is not None and a.kind in ("look", "check")]
    assert [a.access for a in asked] == [Access.OUTSIDE, Access.OUTSIDE, Access.DEAD]


def test_of_two_ways_to_see_a_proof_the_one_that_is_open_now_is_advised(mixer: Machine) -> None:
    """With the power on it is the way from outside, although the file names the one inside first."""
    (outside,) = mixer.checks_for["ready-lamp"]
    inside = replace(mixer.checks["try-guard-contact"], id="try-ready-lamp", gives=("ready-lamp",), needs={})
    both = replace(mixer, checks={inside.id: inside, **mixer.checks})
    assert both.checks_for["ready-lamp"] == (inside, outside)
    case = Case.open(both, ANN, clock=Ticking())
    case.say("guard-seen", "up")
    case.post(Remedied(remedy="guard-not-down"))
    offered = (case.advice().next, *case.advice().others)
    assert [a.id for a in offered if a is not None and "ready-lamp" in a.gives] == [outside.id]


def test_what_was_seen_without_power_closes_no_case() -> None:
    """Proof of what looks the same with and without power: it can be seen locked out, does not close the case, and is
    to be seen once more with the power on."""
    pumps = read(STACKER.parent / "pump-set")
    hung = replace(pumps.causes["both-float-hung"], proof_first=())
    pumps = replace(pumps, causes={**pumps.causes, hung.id: hung})
    case = Case.open(pumps, ANN, clock=Ticking())
    case.say("floats-look", "both-hung")
    lock_out(case, "sump")
    case.post(Remedied(remedy="both-float-hung"))
    case.say("floats-look", "free")
    case.say("level-trend", "falls")
    assert case.state.proved
    todo = case.advice().next
    assert todo is not None
    assert "Return to service first" in todo.why
    with pytest.raises(Refused, match="Locks of this case are on"):
        case.post(Closed(outcome="cured", cause="both-float-hung"))
    go_back(case, "sump")
    assert not case.state.proved
    case.say("floats-look", "free")
    case.say("level-trend", "falls")
    assert case.post(Closed(outcome="cured", cause="both-float-hung")).closed == "cured"


def test_a_motor_protection_put_in_by_hand_is_no_proof_alone(stacker: Machine) -> None:
    """The belt is asked to run before its lost phase counts as found."""
    case = Case.open(stacker, ANN, clock=Ticking())
    case.say("belt-overload", "tripped")
    lock_out(case, "cabinet")
    case.post(Remedied(remedy="belt-phase-lost"))
    case.say("belt-overload", "in")
    case.say("belt-flag", "goes-in")
    assert not case.state.proved
    go_back(case, "cabinet")
    for step in case.state.proof_first:
        case.post(Prepared(text=step))
    case.say("belt-overload", "in")
    assert not case.state.proved
    case.say("belt-flag", "goes-in")
    assert not case.state.proved
    case.say("rack-display", "idle")
    assert case.state.proved
