"""Looking further ahead in a case: what it changes in the advice, and that it holds for the facts it was asked of."""

from __future__ import annotations

from pathlib import Path

from diag.case.case import Case
from diag.case.log.events import Remedied
from diag.machine.load import read
from diag.machine.model import Machine, Role
from diag.safety import Person

FOLDER = Path(__file__).parents[1] / "ahead" / "two-lamps"
DANA = Person("Dana", Role.ELECTRICIAN, authorised=True, qualified=True)


def machine() -> Machine:
    return read(FOLDER)


def never() -> bool:
    return False


def test_two_looks_that_pay_only_together_come_before_a_call() -> None:
    case = Case.open(machine(), DANA)
    first = case.advice()
    assert first.next is not None
    assert first.next.kind == "call"
    lookahead = case.lookahead()
    assert lookahead is not None
    plan = lookahead.look(never)
    assert plan is not None
    advice = case.adopt_plan(lookahead, plan)
    assert advice.next is not None
    assert (advice.next.kind, advice.next.id) == ("check", "see-feed")
    assert "Looked further ahead: about 9 min sooner" in advice.next.why
    assert advice.next.why.endswith("min sooner to the end than with “Call the engineer” first.")
    assert [a.kind for a in advice.others][:1] == ["call"]
    assert case.advice() == advice  # it stays so for these facts
    case.say("feed-lamp", "dark")
    case.undo()
    assert case.advice() == advice


def test_what_was_found_for_other_facts_changes_nothing() -> None:
    case = Case.open(machine(), DANA)
    lookahead = case.lookahead()
    assert lookahead is not None
    plan = lookahead.look(never)
    assert plan is not None
    case.say("feed-lamp", "dark")
    before = case.advice()
    assert case.adopt_plan(lookahead, plan) == before


def test_where_nothing_is_weighed_nothing_is_looked_at_further() -> None:
    case = Case.open(machine(), DANA)
    case.say("feed-lamp", "dark")
    case.say("reel-lamp", "lit")
    assert case.lookahead() is not None
    case.post(Remedied(remedy="feed-blocked"))
    assert case.lookahead() is None  # the proof has the turn
