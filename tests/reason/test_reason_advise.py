"""The value of a check and the next thing to do, against what their words say."""

from __future__ import annotations

from dataclasses import replace

import machines as m
import numpy as np
import pytest

from diag.machine.isolation import Minutes
from diag.machine.model import Access, Energy, Follow, Role
from diag.reason.advice.decision_model import remedy_options
from diag.reason.advice.one_step import advise
from diag.reason.advice.remedy_loss import RemedyLoss
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.belief.misfit import misfit
from diag.reason.belief.pairs import widened
from diag.reason.table.compile import compile
from diag.reason.table.situation import Place, Situation


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
    belief = believe(table, Evidence((Observed("b", {"lit": 1.0}),)))
    here = Situation()
    plan = advise(belief, here)
    loss = RemedyLoss(remedy_options(table, None, frozenset()), table.times, table.times.call, len(table.causes))
    for choice in plan.checks:
        test = next(t for t in table.checks if t.id == choice.id)
        i = test.gives[0]
        after = here.after(test.place)
        total = 0.0
        for s in table.states[i]:
            seen = believe(table, Evidence((*belief.evidence.observed, Observed(table.indications[i], {s: 1.0}))))
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
    plan = advise(believe(table, Evidence()), Situation(role=Role.ELECTRICIAN, excluded=frozenset({"open"})))
    assert "open" not in {c.id for c in plan.checks}


@pytest.mark.parametrize(("lit", "offered"), [(0.44, False), (0.56, True), (0.7, True), (0.89, True)])
def test_a_check_is_offered_when_what_it_needs_is_as_likely_as_not(lit: float, offered: bool) -> None:
    """The measurement makes sense only with the lamp lit: the chance of that decides, and half is enough."""
    measure = replace(m.check("measure", ["inside"], 1), needs={"a": ("lit",)})
    table = compile(
        m.machine(
            [m.lamp("a"), m.lamp("inside")],
            [
                m.cause("out", 1 - lit, {"a": {"dark": 1.0}}, m.remedy("fix-out", 10)),
                m.cause("x", lit / 2, {"inside": {"dark": 1.0}}, m.remedy("fix-x", 10)),
                m.cause("y", lit / 2, {}, m.remedy("fix-y", 10)),
            ],
            [measure],
        )
    )
    belief = believe(table, Evidence())
    assert float(belief.expected[table.columns(0)].max()) == pytest.approx(max(lit, 1 - lit), abs=0.05)
    assert [c.id for c in advise(belief, Situation()).checks] == (["measure"] if offered else [])


def test_the_rest_of_a_begun_check_is_finished_first_while_it_saves_a_minute() -> None:
    """What is left of it costs its share alone, and nothing that saves more takes the person away from it."""
    table = compile(bench())
    belief = believe(table, Evidence())
    whole = {c.id: c for c in advise(belief, Situation()).checks}
    best, second = list(whole)[:2]
    plan = advise(belief, Situation(partially_done=((second, 0.5),)))
    rest = next(c for c in plan.checks if c.id == second)
    assert rest.minutes == whole[second].minutes / 2
    assert rest.saved == pytest.approx(whole[second].saved + whole[second].minutes / 2)
    assert plan.best.id == second != best
    assert plan.checks[0].id == best, "the list keeps its order"
    told = believe(table, Evidence((Observed("b", {"lit": 1.0}), Observed("a", {"dark": 1.0}))))
    worthless = [t.id for t in table.checks if t.id not in {c.id for c in advise(told, Situation()).checks}]
    assert worthless
    for id in worthless:
        assert advise(told, Situation(partially_done=((id, 0.99),))).best.id != id


def test_set_up_follows_from_access_and_energy() -> None:
    table = compile(bench())
    places = {t.id: t.place for t in table.checks}
    energised, locked = Situation(), Situation(energised=False, dead=frozenset({"box"}))
    assert energised.setup(table.times, places["open"]) == 12
    assert energised.setup(table.times, places["probe"]) == 4
    assert locked.setup(table.times, places["open"]) == 0
    assert locked.setup(table.times, places["probe"]) == 6 + 4  # restore plus live
    assert locked.setup(table.times, places["see-a"]) == 0
    assert energised.after(places["probe"]).setup(table.times, places["probe"]) == 0


ANYWHERE, POWERED, UNPOWERED = (Place(Access.OUTSIDE, "", energy) for energy in (Energy.ANY, Energy.ON, Energy.OFF))
BOX, HATCH = (Place(Access.DEAD, zone, Energy.OFF) for zone in ("box", "hatch"))
LIVE = Place(Access.LIVE, "box", Energy.ON)
MINUTES = Minutes(lock=12, restore=6, live=4, call=200)


def test_where_one_stands_after_each_kind_of_set_up() -> None:
    """What is proved dead stays so while one works dead elsewhere; power ends it, and so does opening live."""
    on = Situation(role=Role.ENGINEER, excluded=frozenset({"x"}))
    off = replace(on, energised=False, dead=frozenset({"box"}))
    live = replace(on, live=frozenset({"box"}))
    assert on.after(ANYWHERE) == on.after(POWERED) == on
    assert off.after(ANYWHERE) == off.after(UNPOWERED) == off
    assert on.after(BOX) == live.after(BOX) == off
    assert off.after(HATCH) == replace(off, dead=frozenset({"box", "hatch"}))
    assert on.after(LIVE) == off.after(LIVE) == live
    assert off.after(POWERED) == on
    assert on.after(UNPOWERED) == replace(on, energised=False)


def test_what_each_set_up_costs_from_where_one_stands() -> None:
    on, off = Situation(), Situation(energised=False, dead=frozenset({"box"}))
    costs = {
        place: (on.setup(MINUTES, place), off.setup(MINUTES, place))
        for place in (ANYWHERE, POWERED, UNPOWERED, BOX, HATCH, LIVE)
    }
    assert costs == {
        ANYWHERE: (0, 0),
        POWERED: (0, 6),
        UNPOWERED: (12, 0),
        BOX: (12, 0),
        HATCH: (12, 12),
        LIVE: (4, 10),
    }


def test_what_was_begun_costs_the_share_that_is_left() -> None:
    begun = Situation(partially_done=(("row", 0.25), ("other", 0.5)))
    assert (begun.left("row"), begun.left("other"), begun.left("third")) == (0.25, 0.5, 1.0)


def test_the_order_of_the_file_changes_no_belief() -> None:
    """A lamp may stand before what it follows."""
    supply = m.lamp("supply", ("good", "absent"))
    follow = Follow(when=(("supply", ("absent",)),), shows="dark")
    lamp, last = m.lamp("lamp", follows=[follow]), m.lamp("last", follows=[Follow((("lamp", ("dark",)),), "dark")])
    causes = [m.cause("x", 1.0, {"supply": {"absent": 0.9}}), m.cause("y", 2.0, {"last": {"dark": 0.5}})]
    found = []
    for order in ([supply, lamp, last], [last, lamp, supply], [lamp, last, supply]):
        table = compile(m.machine(order, causes))
        belief = believe(table, Evidence((Observed("last", {"dark": 1.0}),)))
        expected = {i: belief.expected[table.columns(table.index[i])].tolist() for i in ("supply", "lamp", "last")}
        found.append((belief.posterior.tolist(), expected))
    for posterior, expected in found[1:]:
        assert posterior == pytest.approx(found[0][0])
        for id, shares in expected.items():
            assert shares == pytest.approx(found[0][1][id])
    assert found[0][1]["supply"][1] > 0.3, "what a lamp shows tells of what it follows"


def test_causes_with_the_same_remedy_or_the_same_signs_count_as_one() -> None:
    """For scores: whoever has such a one in place of another has lost nothing. Whatever is not listed stands alone."""
    shared = m.remedy("shared", 10)
    shows = {"a": {"dark": 0.9}}
    causes = [
        m.cause("one", 1.0, shows, m.remedy("fix-one", 5)),
        m.cause("signs", 1.0, shows, m.remedy("fix-signs", 5)),
        m.cause("other", 1.0, {"b": {"dark": 0.9}}, shared),
        m.cause("remedy", 1.0, {"b": {"dark": 0.4}}, shared),
        m.cause("alone", 1.0, {"b": {"dark": 0.6}}),
        m.cause("alone-too", 1.0, {"b": {"dark": 0.7}}),
    ]
    table = compile(m.machine([m.lamp("a"), m.lamp("b")], causes))
    assert table.group.tolist() == [0, 0, 1, 1, 2, 3, 4]
    kept = table.of_causes(np.array([False, True, False, True, True, False, True]))
    assert kept.causes == ("signs", "remedy", "alone", "unlisted")
    assert kept.group.tolist() == [0, 1, 2, 3]
    pair = widened(table, [0, 0, 2, 0], [2, 3, 4, 1])
    first, second, third, fourth = pair.group[6:10].tolist()
    assert first == second, "the same two groups"
    assert len({*pair.group.tolist()}) == 5 + len({first, third, fourth}) == 8
    assert pair.group[-1] != pair.group[0]


def test_an_indication_with_one_state_tells_nothing() -> None:
    table = compile(m.machine([m.lamp("a"), m.lamp("always", ("lit",))], [m.cause("x", 1.0, {"a": {"dark": 0.9}})]))
    told = believe(table, Evidence((Observed("always", {"lit": 1.0}),)))
    assert told.posterior.tolist() == pytest.approx(believe(table, Evidence()).posterior.tolist())


def test_a_call_when_nothing_pays() -> None:
    table = compile(m.machine([m.lamp("a")], [m.cause("x", 1.0)]))
    assert advise(believe(table, Evidence()), Situation()).best.kind == "call"


def test_a_remedy_when_the_cause_is_plain() -> None:
    table = compile(bench())
    seen = [
        Observed("a", {"dark": 1.0}),
        Observed("b", {"lit": 1.0}),
        Observed("inside", {"lit": 1.0}),
        Observed("hot", {"lit": 1.0}),
    ]
    assert advise(believe(table, Evidence(tuple(seen))), Situation()).best.id == "fix-x"


def test_no_facts_no_surprise() -> None:
    table = compile(bench())
    assert misfit(believe(table, Evidence())) is None


def test_odd_facts_surprise_more_than_plain_ones() -> None:
    table = compile(bench())
    plain = misfit(believe(table, Evidence((Observed("a", {"dark": 1.0}), Observed("inside", {"lit": 1.0})))))
    odd = misfit(believe(table, Evidence((Observed("a", {"dark": 1.0}), Observed("inside", {"dark": 1.0})))))
    assert plain is not None
    assert odd is not None
    assert odd.bits > 3 > plain.bits
