"""The value of a check and the next thing to do, against what their words say."""

from __future__ import annotations

import machines as m
import numpy as np
import pytest

from diag.machine.model import Access, Energy, Role
from diag.machine.site import Minutes
from diag.reason.advise import advise
from diag.reason.belief import believe
from diag.reason.compile import compile
from diag.reason.evidence import Evidence, Sight
from diag.reason.outlook import Remedies, fixes
from diag.reason.situation import Situation
from diag.reason.surprise import surprise


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
            total += chance * float(loss(seen.posterior[None, :], (after,), np.zeros(1, dtype=np.intp))[0])
        assert choice.saved == pytest.approx(plan.left - choice.minutes - choice.setup - total, abs=1e-6)
    assert plan.checks
    assert plan.best == plan.checks[0]


def test_what_a_role_may_not_do_is_never_offered() -> None:
    table = compile(bench())
    plan = advise(believe(table, Evidence()), Situation(role=Role.OPERATOR))
    assert {c.id for c in plan.checks} <= {"see-a", "see-b"}
    plan = advise(believe(table, Evidence()), Situation(role=Role.ELECTRICIAN, barred=frozenset({"open"})))
    assert "open" not in {c.id for c in plan.checks}


def test_the_rest_of_a_begun_check_is_finished_first_while_it_saves_a_minute() -> None:
    """What is left of it costs its share alone, and nothing that saves more takes the person away from it."""
    table = compile(bench())
    belief = believe(table, Evidence())
    whole = {c.id: c for c in advise(belief, Situation()).checks}
    best, second = list(whole)[:2]
    plan = advise(belief, Situation(begun=((second, 0.5),)))
    rest = next(c for c in plan.checks if c.id == second)
    assert rest.minutes == whole[second].minutes / 2
    assert rest.saved == pytest.approx(whole[second].saved + whole[second].minutes / 2)
    assert plan.best.id == second != best
    assert plan.checks[0].id == best, "the list keeps its order"
    told = believe(table, Evidence((Sight("b", {"lit": 1.0}), Sight("a", {"dark": 1.0}))))
    worthless = [t.id for t in table.tests if t.id not in {c.id for c in advise(told, Situation()).checks}]
    assert worthless
    for id in worthless:
        assert advise(told, Situation(begun=((id, 0.99),))).best.id != id


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
