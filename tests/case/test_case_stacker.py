"""The same five stops on the tray stacker, as far as a machine in depth makes them different."""

from __future__ import annotations

from pathlib import Path

import pytest
from case_steps import ANN, BOB, OLGA, Ticking, go_back, live, lock_out, next_of, probability

from diag.case.case import Case
from diag.case.log.events import Closed, Prepared, Remedied, ResetDone
from diag.case.sheet import sheet
from diag.machine.load import read
from diag.machine.model import Machine
from diag.record.casebook import Casebook
from diag.safety import Person, Refused

STACKER = Path(__file__).parents[2] / "knowledge" / "tray-stacker"


@pytest.fixture(scope="module")
def stacker() -> Machine:
    return read(STACKER)


def opened(machine: Machine, person: Person, *facts: tuple[str, str]) -> Case:
    case = Case.open(machine, person, clock=Ticking())
    for indication, text in facts:
        case.say(indication, text)
    return case


def prove(case: Case) -> None:
    """Sees every proof that the advice asks for, as it should be, until it says that the case may be closed."""
    wanted = {i: states[0] for i, states, _ in case.state.proof}
    while (todo := next_of(case)).kind != "close":
        if todo.kind == "do":
            case.post(Prepared(text=todo.title))
            continue
        if todo.permission.way == "live":
            live(case, todo.zone)
        here = next(i for i in todo.gives if i in wanted and i not in {p[0] for p in case.state.proof if p[2]})
        case.say(here, wanted[here], check=todo.id)


def test_nothing_lit_at_all(stacker: Machine) -> None:
    case = opened(stacker, ANN, ("danger-sign", "none"), ("supply-lamp", "dark"), ("main-switch", "on"))
    answers = {"hall-power": "on", "feeds-lamp": "dark", "dc-breaker": "in", "dc-lamp": "dark", "phase-lamp": "lit"}
    while (todo := next_of(case)).by_tree:
        missing = [i for i in todo.gives if i in answers and i not in case.state.current]
        assert missing, f"the tree asks for {todo.gives}"
        for indication in missing:
            case.say(indication, answers[indication], check=todo.id)
    assert "24 V supply unit" in case.advice().tree_says
    with pytest.raises(Refused):
        case.say("dc-output", "0,3 V", check="dc-measure")
    live(case, "cabinet")
    case.say(
        "dc-output", "0,3 V", check=next(c.id for c in stacker.checks_for["dc-output"] if c.access.value == "live")
    )
    assert case.advice().causes[0].id == "dc-unit-dead"
    lock_out(case, "cabinet")
    case.post(Remedied(remedy="dc-change-unit"))
    go_back(case, "cabinet")
    prove(case)
    assert case.ending() == Closed(outcome="cured", cause="dc-unit-dead")
    assert case.post(case.ending()).closed == "cured"


def test_a_fault_that_a_reset_cleared_and_that_came_back(stacker: Machine) -> None:
    case = opened(stacker, OLGA, ("danger-sign", "none"), ("supply-lamp", "weak"), ("rack-display", "1P1"))
    with pytest.raises(Refused, match="Note first"):
        case.post(ResetDone(reset="panel-reset"))
    case.cannot_tell("axis-named")
    case.post(ResetDone(reset="panel-reset"))
    case.say("panel-reset", "back-later")
    case.say("rack-display", "1P1")
    case.say("comes-back", "now-and-then")
    with pytest.raises(Refused, match="Note first"):
        case.post(ResetDone(reset="panel-reset"))
    case.say("axis-named", "none")
    case.post(ResetDone(reset="panel-reset"))
    case.say("panel-reset", "back-later")
    case.say("rack-display", "1P1")
    assert case.state.round == 3
    for lamp in ("amp1-cause", "amp2-cause", "amp3-cause", "amp4-cause"):
        case.say(lamp, "dark")
    with pytest.raises(Refused, match="2 resets done"):
        case.post(ResetDone(reset="drive-reset"))
    assert probability(case, "rack-feed-loose") + probability(case, "dc-unit-weak") > 0.5
    assert case.advice().causes[0].id == "rack-feed-loose", "the supply of the rack comes and goes"
    text = " ".join(sheet.plain(case).split())
    assert "Call sheet" in text
    assert text.count("back later") == 2


def test_a_fact_found_before_the_case_was_opened(stacker: Machine) -> None:
    case = opened(stacker, OLGA, ("danger-sign", "none"), ("supply-lamp", "dark"), ("main-switch", "on"))
    with pytest.raises(Refused):
        case.say("dc-output", "0.3")
    before = probability(case, "dc-unit-dead")
    case.say("dc-output", "0.3", before="Ann")
    assert case.state.facts[-1].round == 1
    assert probability(case, "dc-unit-dead") > before
    assert all(action.how == "" for action in map(case.action, stacker.checks) if action.access.value != "outside")


def test_a_fault_cured_and_proved(stacker: Machine) -> None:
    case = opened(stacker, OLGA, ("danger-sign", "none"), ("supply-lamp", "lit"), ("rack-display", "guards-open"))
    case.say("guards-pressed", "front-door")
    assert case.advice().causes[0].id == "guards-pressed"
    remedy = stacker.causes["guards-pressed"].remedy
    assert remedy is not None
    with pytest.raises(Refused, match="not entered as done"):
        case.post(Closed(outcome="cured", cause="guards-pressed"))
    case.post(Remedied(remedy=remedy.id))
    with pytest.raises(Refused, match="Not proved yet"):
        case.post(Closed(outcome="cured", cause="guards-pressed"))
    prove(case)
    assert case.post(case.ending()).closed == "cured"
    assert "Closed: cured, and proved. Cause: " in sheet.plain(case)


def test_a_handover_with_a_lock_on(stacker: Machine, tmp_path: Path) -> None:
    book = Casebook(tmp_path / "book.sqlite3")
    case = Case.open(stacker, ANN, book=book, clock=Ticking())
    case.say("danger-sign", "none")
    lock_out(case, "boxes")
    points = stacker.zones["boxes"].points
    assert case.state.locks == tuple(sorted((p, "Ann") for p in points))
    with pytest.raises(Refused, match="Locks of this case are on"):
        case.post(Closed(outcome="running"))
    case.post(Closed(outcome="handed-over", to="Bob"))
    text = " ".join(sheet.plain(case).split())
    for point in points:
        assert f"LOCK ON: {stacker.points[point].title}, lock of Ann." in text
    again = Case.resume(case.id, stacker, BOB, book=book)
    assert again.state.locks == case.state.locks
    assert all(again.action(c.id).how == "" for c in stacker.checks.values() if c.access.value == "dead")
