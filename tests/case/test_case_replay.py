"""What must hold of every case, over cases that chance makes up: order, undo, resume, sums."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from case_steps import ANN, BOB, BOX, OLGA, Ticking
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.snapshot import CaseState
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety import Act, Refused

usual = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

Fact = tuple[str, str, str]
"""Indication, state, and by whom it was found before (or empty)."""


def facts(machine: Machine) -> st.SearchStrategy[list[Fact]]:
    """Some of the indications, each in one state; what only inside checks give was found before."""

    def fact(id: str) -> st.SearchStrategy[Fact]:
        outside = any(c.access.value == "outside" for c in machine.checks_for[id])
        before = st.sampled_from(("", "Carl")) if outside else st.just("Carl")
        return st.tuples(st.just(id), st.sampled_from(machine.indications[id].state_ids), before)

    ids = [i for i in machine.indications if i not in machine.resets]
    return (
        st.lists(st.sampled_from(ids), unique=True, min_size=1)
        .flatmap(lambda some: st.tuples(*map(fact, some)))
        .map(list)
    )


def told(machine: Machine, found: Sequence[Fact]) -> Case:
    case = Case.open(machine, ANN, clock=Ticking())
    for indication, state, before in found:
        case.say(indication, state, before=before)
    return case


def posterior(case: Case) -> list[tuple[str, float]]:
    return [(c.id, c.probability) for c in case.advice().causes]


@usual
@given(data=st.data())
def test_facts_in_any_order_give_the_same_posterior(mixer: Machine, data: st.DataObject) -> None:
    found = data.draw(facts(mixer))
    other = data.draw(st.permutations(found))
    assert posterior(told(mixer, found)) == posterior(told(mixer, other))


@usual
@given(data=st.data())
def test_probabilities_sum_to_one(mixer: Machine, data: st.DataObject) -> None:
    causes = posterior(told(mixer, data.draw(facts(mixer))))
    assert sum(p for _, p in causes) == pytest.approx(1.0, abs=1e-12)
    assert {id for id, _ in causes} == {*mixer.causes, "unlisted"}


@usual
@given(data=st.data())
def test_undoing_every_fact_leaves_the_case_as_it_was_opened(mixer: Machine, data: st.DataObject) -> None:
    found = data.draw(facts(mixer))
    case = told(mixer, [])
    opened, prior = case.state, posterior(case)
    for indication, state, before in found:
        case.say(indication, state, before=before)
    for _ in found:
        case.undo()
    assert settled(case.state) == settled(opened)
    assert posterior(case) == prior
    with pytest.raises(Refused, match="nothing to take back"):
        case.undo()


# ---------------------------------------------------------------- whole cases


def moves(machine: Machine) -> list[Callable[[Case], object]]:
    """Everything that somebody may try to enter; what is refused then is no part of the case."""
    found: list[Callable[[Case], object]] = []

    def post(event: e.Event) -> None:
        found.append(lambda case: case.post(event))

    for ind in machine.indications.values():
        for state in (ind.normal, ind.state_ids[-1]):
            for before in ("", "Carl") if state != "burning" else ("",):
                post(e.Found(indication=ind.id, seen={state: 1.0}, before=before))
        post(e.CannotTell(indication=ind.id))
    for check in machine.checks.values():
        if check.access.value != "outside":
            for given in check.gives:
                normal = machine.indications[given].normal
                post(e.Found(indication=given, seen={normal: 1.0}, check=check.id))
    doubtful = {"drive-trip": 0.8, "guard-open": 0.6}
    post(e.Found(indication="box-display", seen=doubtful))
    for remedy in machine.remedies:
        post(e.Remedied(remedy=remedy))
        post(e.RemedyFailed(remedy=remedy))
        post(e.Skipped(action=remedy))
    post(e.ResetDone(reset="panel-reset"))
    post(e.Did(tree="first-look", text="Note the code, and ask what was in the bowl"))
    post(e.Called(role=Role.ENGINEER))
    post(e.Noted(text="Oil under the bowl"))
    for person in (ANN, BOB, OLGA):
        post(e.TookOver(person=person.name, role=person.role, authorised=person.authorised, qualified=person.qualified))
    for outcome in ("running", "handed-over"):
        post(e.Closed(outcome=outcome, to="Bob"))
    for act in (Act.BACK, Act.TEST_POWER, Act.RETRACT, Act.LOCKS_OFF, Act.VOLTAGE_FOUND, Act.LIVE_OVER):
        post(e.Gate(zone=BOX, act=act))
    post(e.Gate(zone=BOX, act=Act.LIVE, reason="No other way", permit="P-17"))

    def step(case: Case) -> None:
        steps = case.state.steps[BOX]
        if steps:
            case.post(e.Gate(zone=BOX, act=steps[0].act, target=steps[0].target))

    found.extend([step] * 60)
    found.extend([lambda case: case.undo()] * 5)
    return found


def played(case: Case, machine: Machine, numbers: Sequence[int]) -> Case:
    all_ = moves(machine)
    for number in numbers:
        try:
            all_[number % len(all_)](case)
        except Refused:
            continue
    return case


numbers = st.lists(st.integers(0, 10_000), max_size=45)


def settled(state: CaseState) -> CaseState:
    """Without the times of the last entries, which stay when something is taken back."""
    return replace(state, last=state.opened, entered=())


@usual
@given(before=numbers, move=st.integers(0, 10_000))
def test_undo_restores_exactly(mixer: Machine, before: list[int], move: int) -> None:
    case = played(Case.open(mixer, ANN, clock=Ticking()), mixer, before)
    was, belief, count = case.state, posterior(case), len(case.entries)
    played(case, mixer, [move])
    entered = case.entries[count:]
    if not entered:
        assert case.state == was, "what is refused changes nothing"
        return
    event = entered[0].event
    if not isinstance(event, e.Undoable):
        return
    case.undo()
    ended_live = isinstance(event, e.Closed) and was.live is not None
    if not ended_live:
        assert settled(case.state) == settled(was)
    assert case.state.live is None or not ended_live, "live work that an end closed stays closed"
    assert posterior(case) == belief


@usual
@given(before=numbers)
def test_what_is_confirmed_at_a_gate_and_taken_back_leaves_the_gate_as_it_was(
    mixer: Machine, before: list[int]
) -> None:
    case = played(Case.open(mixer, ANN, clock=Ticking()), mixer, before)
    was = case.state
    if was.closed or was.live is not None or not was.steps[BOX]:
        return  # live work that a step at the gate ended stays ended
    step = was.steps[BOX][0]
    try:
        case.post(e.Gate(zone=BOX, act=step.act, target=step.target))
        case.undo()
    except Refused:
        return
    now = case.state
    assert (now.banner, now.locks, now.steps, now.energised) == (was.banner, was.locks, was.steps, was.energised)


@usual
@given(before=numbers)
def test_resume_gives_the_same_state_and_live_work_lapses(mixer: Machine, before: list[int]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        book = Casebook(Path(folder) / "book.sqlite3")
        case = played(Case.open(mixer, ANN, book=book, clock=Ticking()), mixer, before)
        assert Case.read(case.id, mixer, book=book).state == case.state
        again = Case.resume(case.id, mixer, case.state.person, book=book, clock=Ticking())
        was, now = case.state, again.state
        assert now.live is None
        assert now.locks == was.locks, "locks stand"
        assert posterior(again) == posterior(case)
        assert now.banner.level not in ("dead", "live"), "whoever was away tests again"
        if was.live is None and was.closed != "handed-over":
            # What was proved by the meter is the one thing that has to be done anew.
            at_gate = {"steps": {}, "ways": {}, "lockouts": {}, "banner": was.banner}
            assert replace(settled(now), **at_gate) == replace(settled(was), **at_gate)
        book.close()


@usual
@given(before=numbers)
def test_every_gate_stays_shut_in_every_case(mixer: Machine, before: list[int]) -> None:
    case = played(Case.open(mixer, ANN, clock=Ticking()), mixer, before)
    advice = case.advice()
    shown = [case.action(id) for id in (*mixer.checks, *mixer.remedies)]
    shown += [a for a in (advice.next, *advice.others, *advice.checks) if a is not None]
    for action in shown:
        assert action.permission.how or not action.how
        if action.access.value != "outside" and case.state.banner.level not in ("dead", "live"):
            assert action.how == ""


def test_what_was_found_before_is_corrected_by_what_was_found_before_and_hides_nothing(mixer: Machine) -> None:
    """The later word of whoever was here before counts, until the case itself has found something."""
    case = Case.open(mixer, ANN, clock=Ticking())
    for text, before, holds in (
        ("lit", "Bob", "lit"),
        ("dark", "Bob", "dark"),
        ("dim", "", "dim"),
        ("lit", "Bob", "dim"),
        ("dark", "", "dark"),
    ):
        case.say("supply-lamp", text, before=before)
        assert case.state.current["supply-lamp"] == holds, (text, before)
