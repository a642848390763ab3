"""Five stops of the mixer, each played from the first look to its end as a person would."""

from __future__ import annotations

from pathlib import Path

import pytest
from case_steps import ANN, BOB, BOX, OLGA, Ticking, gate, go_back, live, lock_out, next_of, probability

from diag.case.case import Case
from diag.case.log.events import Closed, Did, Noted, Remedied, RemedyFailed, ResetDone
from diag.case.log.stored import cases_in
from diag.case.sheet import sheet
from diag.case.snapshot import Action
from diag.machine.model import Machine
from diag.record.casebook import Casebook
from diag.safety import Act, Refused


def flat(text: str) -> str:
    """Without the line ends that the width of a sheet put there."""
    return " ".join(text.split())


def answered(case: Case, seen: dict[str, str]) -> Action:
    """What the advice asks for is answered until it asks for something else than these looks."""
    while (todo := next_of(case)).kind in ("look", "check") and todo.gives[0] in seen:
        case.say(todo.gives[0], seen[todo.gives[0]], check=todo.id)
    return todo


def test_nothing_lit_at_all(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("supply-lamp", "dark")
    case.say("main-switch", "on")
    case.say("ready-lamp", "dark")
    todo = next_of(case)
    assert (todo.id, todo.by_tree) == ("measure-mains", True)
    assert (todo.how, todo.permission.way) == ("", "live"), "live work is closed before its gate"
    with pytest.raises(Refused, match="cannot be done dead"):
        case.say("mains", "401 V", check="measure-mains")
    live(case)
    assert "three incoming terminals" in case.action("measure-mains").how
    case.say("mains", "401 V", check="measure-mains")
    assert case.advice().tree_says == "The tree points to: 24 V supply unit failed."
    case.say("dc-supply", "0,3 V", check="measure-dc-supply")
    assert case.advice().causes[0].id == "supply-unit-failed"
    answered(case, {"before-stop": "nothing", "guard-seen": "down", "motor-warm": "cool", "smell": "none"})
    remedy = next(a for a in case.advice().others if a.kind == "remedy")
    assert (remedy.id, remedy.how) == ("supply-unit-failed", "")
    assert "Replace the supply unit" not in remedy.title
    with pytest.raises(Refused, match="First lock out"):
        case.post(Remedied(remedy="supply-unit-failed"))
    gate(case, Act.LIVE_OVER)
    lock_out(case)
    assert case.state.banner.level == "dead"
    assert case.action("supply-unit-failed").how == "Replace the supply unit"
    case.post(Remedied(remedy="supply-unit-failed"))
    assert case.state.proof == (("dc-supply", ("good",), ""),)
    todo = next_of(case)
    assert (todo.id, todo.permission.way) == ("measure-dc-supply", "restore")
    go_back(case)
    live(case)
    case.say("dc-supply", "24.1", check="measure-dc-supply")
    assert case.state.proved
    todo = next_of(case)
    assert todo.kind == "close"
    assert case.ending() == Closed(outcome="cured", cause="supply-unit-failed")
    state = case.post(case.ending())
    assert (state.closed, state.live) == ("cured", None)


def test_a_fault_that_a_reset_cleared_and_that_came_back(mixer: Machine) -> None:
    case = Case.open(mixer, OLGA, clock=Ticking())
    with pytest.raises(Refused, match="Note first, because a reset wipes it: Display"):
        case.post(ResetDone(reset="panel-reset"))
    case.say("supply-lamp", "lit")
    case.say("box-display", "G0")
    case.say("guard-seen", "down")
    first = probability(case, "guard-contact-failed")
    case.post(ResetDone(reset="panel-reset"))
    todo = next_of(case)
    assert todo.gives == ("panel-reset",), "a reset is followed by the question how it went"
    case.say("panel-reset", "back-later")
    case.say("box-display", "--")
    assert case.state.round == 2
    assert [f.round for f in case.state.facts] == [1, 1, 1, 2, 2]
    assert probability(case, "guard-contact-failed") > max(first, 0.9), "gone and back: the contact that comes and goes"
    case.post(ResetDone(reset="panel-reset"))
    case.cannot_tell("panel-reset")
    case.say("box-display", "G0")
    reset = case.state.resets[0]
    assert (reset.done, reset.limit, reset.may) == (2, 2, False)
    with pytest.raises(Refused, match="2 resets done, and the limit here is 2"):
        case.post(ResetDone(reset="panel-reset"))
    todo = answered(case, {"ready-lamp": "dark", "before-stop": "nothing", "guard-seen": "down"})
    assert (todo.before_call, todo.gives) == (True, ("smell",)), "what the call will ask for comes before it"
    assert next(a.kind for a in case.advice().others) == "call", "but no further away than one key"
    todo = answered(case, {"smell": "none", "ready-lamp": "dark"})
    assert (todo.before_call, todo.gives) == (True, ("main-switch",))
    case.say("main-switch", "on")
    todo = next_of(case)
    assert (todo.kind, todo.id) == ("call", "electrician"), "it is time to call"
    assert "Fault reset: 2 done, of at most 2 in all." in flat(sheet.plain(case))


def test_a_fact_found_before_the_case_was_opened(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("supply-lamp", "dark")
    with pytest.raises(Refused, match="If it was found earlier, enter by whom"):
        case.say("dc-supply", "0.2 V")
    with pytest.raises(Refused):
        case.say("dc-supply", "0.2 V", check="measure-dc-supply")
    case.say("dc-supply", "0.2 V", check="measure-dc-supply", before="Carl of the day shift")
    fact = case.state.facts[-1]
    assert (fact.before, fact.counts, fact.round) == ("Carl of the day shift", True, 1)
    believed = probability(case, "supply-unit-failed")
    lock_out(case)
    case.say("mains", "400", before="Carl of the day shift")
    fact = case.state.facts[-1]
    assert (fact.counts, fact.round) == (True, 1), "a reading told counts for the stop, though the power is off now"
    assert probability(case, "supply-unit-failed") > believed
    assert "found before this case by Carl of the day shift" in flat(sheet.plain(case))


def test_a_fault_cured_and_proved(mixer: Machine) -> None:
    case = Case.open(mixer, OLGA, clock=Ticking())
    for indication, text in (("supply-lamp", "lit"), ("box-display", "d2"), ("motor-warm", "hot")):
        case.say(indication, text)
    todo = next_of(case)
    assert todo.kind == "do"
    case.post(Did(tree=todo.id, text=todo.title))
    advice = case.advice()
    assert advice.tree_says == "The tree points to: Drive tripped on temperature or Bowl too full."
    assert advice.next is not None
    assert (advice.next.kind, advice.next.id) == ("remedy", "let-cool")
    with pytest.raises(Refused, match="A protective device has operated"):
        case.post(ResetDone(reset="panel-reset"))
    case.post(Remedied(remedy="let-cool"))
    assert {i for i, _, _ in case.state.proof} >= {"box-display", "ready-lamp"}
    before = probability(case, "drive-overload")
    case.say("box-display", "d2")
    todo = next_of(case)
    assert todo.kind == "reset", "a latched trip stays until it is reset, and its cause is found"
    case.post(ResetDone(reset="panel-reset"))
    case.say("panel-reset", "ran-on")
    case.say("box-display", "--")
    assert probability(case, "drive-overload") == before, "what is seen after the remedy is proof, not evidence"
    assert not case.state.proved
    with pytest.raises(Refused, match="Not proved yet: READY"):
        case.post(Closed(outcome="cured", cause="drive-overload"))
    case.say("ready-lamp", "lit")
    assert case.state.proved
    assert case.ending().cause in ("drive-overload", "bowl-too-full")
    case.post(case.ending())
    with pytest.raises(Refused, match="This case is closed"):
        case.say("ready-lamp", "dark")
    case.undo()
    assert case.state.closed == ""


def test_a_remedy_that_failed_is_evidence(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("box-display", "G0")
    case.say("guard-seen", "up")
    case.post(Remedied(remedy="guard-not-down"))
    before = probability(case, "guard-not-down")
    case.say("guard-seen", "down")
    case.say("box-display", "G0")
    todo = next_of(case)
    assert todo.kind == "failed"
    assert probability(case, "guard-not-down") == before
    case.post(RemedyFailed(remedy="guard-not-down"))
    assert probability(case, "guard-not-down") < before
    assert probability(case, "guard-contact-failed") > 0.5
    assert "guard-not-down" not in {
        a.id for a in (case.advice().next, *case.advice().others) if a and a.kind == "remedy"
    }


def test_a_handover_with_a_lock_on(mixer: Machine, tmp_path: Path) -> None:
    book = Casebook(tmp_path / "book.sqlite3")
    case = Case.open(mixer, ANN, book=book, clock=Ticking())
    case.say("supply-lamp", "dark")
    lock_out(case)
    case.post(Noted(text="Arm rests on a timber"))
    with pytest.raises(Refused, match=r"Locks of this case are on: .*Main switch Q1 \(Ann\)"):
        case.post(Closed(outcome="running"))
    case.post(Closed(outcome="handed-over", to="Bob"))
    text = flat(sheet.plain(case))
    assert "LOCK ON: Main switch Q1, lock of Ann. Only Ann takes it off." in text
    for told in ("DEAD: Control box", "Handed over. To Bob.", "Arm rests on a timber"):
        assert told in text
    assert cases_in(book)[0].locks == (("lift-permit", "Ann"), ("main-switch-q1", "Ann"))
    assert cases_in(book)[0].closed == "handed-over"

    taken = Case.resume(case.id, mixer, BOB, book=book, clock=Ticking())
    assert (taken.state.closed, taken.state.person) == ("", BOB)
    assert taken.state.locks == case.state.locks, "locks stand"
    assert taken.action("test-drive-fuse").how == "", "Ann's proof is not Bob's"
    with pytest.raises(Refused):
        taken.say("drive-fuse", "0.2", check="test-drive-fuse")
    lock_out(taken, BOX)
    assert "Take the fuse out" in taken.action("test-drive-fuse").how
    taken.say("drive-fuse", "0.2", check="test-drive-fuse")
    assert ("main-switch-q1", "Bob") in taken.state.locks
