"""The outcomes of checks from a belief, written out for every cause, against what is worked out for few."""

from __future__ import annotations

import machines as m
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.model import Access, Energy
from diag.reason.advice.check_stack import CheckStack
from diag.reason.advice.decision_model import CheckOption, check_options
from diag.reason.advice.one_step import advise
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.constants import OUTCOME_LIMIT
from diag.reason.table.compile import compile
from diag.reason.table.situation import Place, Situation

PLACE = Place(Access.OUTSIDE, "", Energy.ON)


@st.composite
def stacks(draw: st.DrawFn) -> tuple[CheckStack, np.ndarray, np.ndarray]:
    """Checks that move some of the causes or all, a belief, and P(outcome | cause) written out."""
    causes = draw(st.integers(2, 6))
    belief = np.array(draw(st.lists(st.sampled_from([0.0, 1.0, 1.0, 2.0, 5.0]), min_size=causes, max_size=causes)))
    belief = belief / belief.sum() if belief.sum() else np.full(causes, 1.0 / causes)
    checks, whole = [], []
    for n in range(draw(st.integers(1, 3))):
        ways = draw(st.integers(2, 3))
        cell = st.sampled_from([0.0, 1.0, 1.0, 3.0])
        raw = np.array([[draw(cell) for _ in range(causes)] for _ in range(ways)]) + 0.25
        given_ = raw / raw.sum(axis=0)
        if draw(st.booleans()):
            some = st.lists(st.booleans(), min_size=causes, max_size=causes).filter(any)
            moved = np.flatnonzero(draw(some))
            sure = given_[:, 0].copy()
            given_ = np.where(np.isin(np.arange(causes), moved), given_, sure[:, None])
            checks.append(CheckOption(f"c{n}", given_[:, moved], 1.0, PLACE, moved=moved, sure=sure))
        else:
            checks.append(CheckOption(f"c{n}", given_, 1.0, PLACE))
        whole.append(given_)
    return CheckStack(tuple(checks), causes), belief, np.concatenate(whole)


@given(stacks())
@settings(max_examples=150, deadline=None)
def test_outcomes_written_out_for_few_causes_are_those_of_all(
    made: tuple[CheckStack, np.ndarray, np.ndarray],
) -> None:
    stack, belief, given_ = made
    joint = given_ * belief
    assert stack.given == pytest.approx(given_)
    chance, after = stack.after(belief)
    assert chance == pytest.approx(joint.sum(axis=1))
    assert after == pytest.approx(joint / np.maximum(chance, 1e-12)[:, None])
    outcomes = stack.outcomes(belief)
    assert outcomes.chance == pytest.approx(joint.sum(axis=1))
    assert outcomes.joint == pytest.approx(joint[outcomes.row, outcomes.cause])
    unmoved = outcomes.sure[outcomes.row] * belief[outcomes.cause]
    assert outcomes.gain == pytest.approx(outcomes.joint - unmoved)
    assert stack.summed(chance) == pytest.approx(np.ones(len(stack.checks)))


@given(stacks())
@settings(max_examples=150, deadline=None)
def test_the_likeliest_cause_after_each_outcome_is_that_of_all(
    made: tuple[CheckStack, np.ndarray, np.ndarray],
) -> None:
    stack, belief, given_ = made
    outcomes, order = stack.outcomes(belief), np.argsort(-belief, kind="stable")
    for number in range(len(stack.checks)):
        joint = (given_ * belief)[stack.first[number] : stack.first[number + 1]]
        top, most = stack.likeliest(number, outcomes, belief, order)
        assert most == pytest.approx(joint.max(axis=1))
        assert top.tolist() == joint.argmax(axis=1).tolist(), "of causes as likely, the one that the file names first"


def test_of_many_answers_the_least_certain_are_worked_out() -> None:
    """More combinations than `OUTCOME_LIMIT` are not: what is all but known is left out of them."""
    lamps = [m.lamp(f"l{n}") for n in range(8)]
    causes = [m.cause(f"c{n}", 1.0 + n, {f"l{n}": {"dark": 0.98}}, m.remedy(f"r{n}", 5)) for n in range(8)]
    table = compile(m.machine(lamps, causes, [m.check("all", [i.id for i in lamps])]))
    (option,) = check_options(believe(table, Evidence()), Situation())
    assert len(option.states) == len(option.given) == OUTCOME_LIMIT
    assert [table.indications[i] for i in option.tells] == ["l7", "l6", "l5", "l4", "l3", "l2"]
    assert option.given.sum(axis=0) == pytest.approx(np.ones(option.given.shape[1]))
    seen = Evidence(tuple(Observed(f"l{n}", {"lit": 1.0}) for n in range(7)))
    (rest,) = check_options(believe(table, seen), Situation())
    assert [table.indications[i] for i in rest.tells] == ["l7"], "what was told already tells nothing new"


def test_checks_that_save_the_same_stand_as_in_the_file() -> None:
    lamps = [m.lamp("a"), m.lamp("b")]
    causes = [m.cause("x", 1.0, {"a": {"dark": 0.98}, "b": {"dark": 0.98}}, m.remedy("fix-x", 5))]
    causes += [m.cause("y", 1.0, {}, m.remedy("fix-y", 30)), m.cause("z", 1.0, {}, m.remedy("fix-z", 60))]
    for order in (["a", "b"], ["b", "a"]):
        table = compile(m.machine(lamps, causes, [m.check(f"see-{id}", [id], 1) for id in order]))
        plan = advise(believe(table, Evidence()), Situation())
        assert [c.id for c in plan.checks] == [f"see-{id}" for id in order]
        first = plan.checks[0]
        assert sum(o.probability for o in first.outcomes) == pytest.approx(1.0)
        assert [o.states[0][1] for o in first.outcomes] == ["lit", "dark"], "the likeliest first"
        assert first.outcomes[1].top == "x"
        assert first.saved == pytest.approx(plan.checks[1].saved)
