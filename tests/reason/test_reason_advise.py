"""Remedies in order and the value of a check, against worked numbers and brute force."""

from __future__ import annotations

from itertools import permutations

import machines as m
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.model import Access, Energy, Minutes, Role
from diag.reason import cost
from diag.reason.advise import advise
from diag.reason.belief import believe
from diag.reason.compile import compile
from diag.reason.evidence import Evidence, Sight
from diag.reason.outlook import HERE, Remedies, fixes
from diag.reason.situation import Situation
from diag.reason.surprise import surprise

NEVER = 1e6
"""Minutes of a call that nobody would make."""


def minutes_of(order: tuple[int, ...], p: list[float], c: list[float], block: list[int], setup: list[float]) -> float:
    """Expected minutes of trying remedies in this very order, by hand: each block is opened once."""
    left, total, opened = 1.0, 0.0, set()
    for r in order:
        pay = c[r] + (0 if block[r] in opened else setup[block[r]])
        opened.add(block[r])
        total += left * pay
        left -= p[r]
    return total


@pytest.mark.source(
    "Kadane and Simon 1977, Ann. Stat. 5:237-255: probability over cost; 5.1, 5.2, 6.0, 9.8 by brute force",
    found="recomputed",
)
def test_probability_over_cost() -> None:
    p, c = [0.4, 0.3, 0.2, 0.1], [4.0, 2.0, 1.0, 5.0]
    free, setup = [0, 0, 0, 0], [0.0]
    by_order = {o: minutes_of(o, p, c, free, setup) for o in permutations(range(4))}
    first, _ = cost.order(np.array([p]), np.array(c), np.array(free), np.array(setup))
    assert tuple(first[0]) == (2, 1, 0, 3)  # C, B, A, D
    best = cost.expected(np.array([p]), np.array(c), np.array(free), np.array(setup), NEVER)[0]
    assert best == pytest.approx(5.1) == pytest.approx(min(by_order.values()))
    assert sorted(by_order.values())[1] == pytest.approx(5.2)
    assert by_order[0, 1, 2, 3] == pytest.approx(6.0)
    assert max(by_order.values()) == pytest.approx(9.8)


@pytest.mark.source(
    "Shared opening: A outside (.2, 3), B (.45, 1), C (.35, 1) inside, opening 6: 8.15", found="recomputed"
)
def test_a_closed_cabinet_is_scored_as_a_block() -> None:
    p, c = np.array([[0.2, 0.45, 0.35]]), np.array([3.0, 1.0, 1.0])
    block, setup = np.array([0, 1, 1]), np.array([0.0, 6.0])
    assert cost.expected(p, c, block, setup, NEVER)[0] == pytest.approx(8.15)
    assert tuple(cost.order(p, c, block, setup)[0][0]) == (1, 2, 0)


@given(st.data())
@settings(max_examples=150, deadline=None)
@pytest.mark.source(
    "Horn 1972, SIAM J. Appl. Math. 23:189-202: forests of precedence; checked by brute force", found="recomputed"
)
def test_the_order_is_the_best_of_all_orders(data: st.DataObject) -> None:
    n = data.draw(st.integers(1, 6))
    raw = data.draw(st.lists(st.floats(0.01, 1.0), min_size=n, max_size=n))
    p = [x / sum(raw) for x in raw]
    c = data.draw(st.lists(st.floats(0.5, 20.0), min_size=n, max_size=n))
    block = data.draw(st.lists(st.integers(0, 2), min_size=n, max_size=n))
    setup = data.draw(st.lists(st.sampled_from([0.0, 1.0, 6.0, 25.0]), min_size=3, max_size=3))
    best = min(minutes_of(o, p, c, block, setup) for o in permutations(range(n)))
    got = cost.expected(np.array([p]), np.array(c), np.array(block), np.array(setup), NEVER)[0]
    assert got == pytest.approx(best, rel=1e-9)


def bench() -> m.Machine:
    return m.machine(
        [m.lamp("a"), m.lamp("b"), m.lamp("inside"), m.lamp("hot")],
        [
            m.cause("x", 1.0, {"a": {"dark": 0.98}}, m.remedy("fix-x", 10)),
            m.cause("y", 1.0, {"inside": {"dark": 0.98}}, m.remedy("fix-y", 10, Access.DEAD, "box")),
            m.cause("z", 1.0, {"hot": {"dark": 0.98}, "b": {"dark": 0.4}}, m.remedy("fix-z", 30, Access.DEAD, "box")),
        ],
        [
            m.check("see-a", ["a"], 1),
            m.check("see-b", ["b"], 1),
            m.check("open", ["inside"], 2, Access.DEAD, "box", (Role.ELECTRICIAN,), Energy.OFF),
            m.check("probe", ["hot"], 3, Access.LIVE, "box", (Role.ELECTRICIAN,), Energy.ON),
        ],
        Minutes(lock=12, restore=6, live=4, call=200),
    )


def test_the_value_of_a_check_is_what_its_words_say() -> None:
    """R(b) less minutes, set-up and the average R after each outcome, recomputed the slow way."""
    table = compile(bench())
    belief = believe(table, Evidence((Sight("b", {"lit": 1.0}),)))
    here = Situation()
    plan = advise(belief, here)
    loss = Remedies(fixes(table, None, frozenset()), table, table.call, len(table.causes))
    for choice in plan.checks:
        test = next(t for t in table.tests if t.id == choice.id)
        i = test.gives[0]
        after = here.after(test.place)
        total = 0.0
        for s in table.states[i]:
            seen = believe(table, Evidence((*belief.evidence.sights, Sight(table.indications[i], {s: 1.0}))))
            chance = np.exp(
                np.logaddexp.reduce(table.log_prior + seen.log_likelihood)
                - np.logaddexp.reduce(table.log_prior + belief.log_likelihood)
            )
            total += chance * float(loss(seen.posterior[None, :], (after,), HERE)[0])
        assert choice.saved == pytest.approx(plan.left - choice.minutes - choice.setup - total, abs=1e-6)
    assert plan.checks
    assert plan.best == plan.checks[0]


def test_what_a_role_may_not_do_is_never_offered() -> None:
    table = compile(bench())
    plan = advise(believe(table, Evidence()), Situation(role=Role.OPERATOR))
    assert {c.id for c in plan.checks} <= {"see-a", "see-b"}
    plan = advise(believe(table, Evidence()), Situation(role=Role.ELECTRICIAN, barred=frozenset({"open"})))
    assert "open" not in {c.id for c in plan.checks}


def test_set_up_follows_from_access_and_energy() -> None:
    table = compile(bench())
    places = {t.id: t.place for t in table.tests}
    energised, locked = Situation(), Situation(energised=False, dead=frozenset({"box"}))
    assert energised.setup(table, places["open"]) == 12
    assert energised.setup(table, places["probe"]) == 4
    assert locked.setup(table, places["open"]) == 0
    assert locked.setup(table, places["probe"]) == 6 + 4  # restore plus live
    assert locked.setup(table, places["see-a"]) == 0
    assert energised.after(places["probe"]).setup(table, places["probe"]) == 0


def test_a_call_when_nothing_pays() -> None:
    table = compile(m.machine([m.lamp("a")], [m.cause("x", 1.0)]))
    assert advise(believe(table, Evidence()), Situation()).best.kind == "call"


def test_a_remedy_when_the_cause_is_plain() -> None:
    table = compile(bench())
    seen = [
        Sight("a", {"dark": 1.0}),
        Sight("b", {"lit": 1.0}),
        Sight("inside", {"lit": 1.0}),
        Sight("hot", {"lit": 1.0}),
    ]
    assert advise(believe(table, Evidence(tuple(seen))), Situation()).best.id == "fix-x"


def test_no_facts_no_surprise() -> None:
    table = compile(bench())
    assert surprise(believe(table, Evidence())) is None


def test_odd_facts_surprise_more_than_plain_ones() -> None:
    table = compile(bench())
    plain = surprise(believe(table, Evidence((Sight("a", {"dark": 1.0}), Sight("inside", {"lit": 1.0})))))
    odd = surprise(believe(table, Evidence((Sight("a", {"dark": 1.0}), Sight("inside", {"dark": 1.0})))))
    assert plain is not None
    assert odd is not None
    assert odd > 3 > plain
