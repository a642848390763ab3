"""Looking further ahead, against what is best by listing all that can come about, and that against plain recursion."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import machines as m
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.isolation import Minutes
from diag.machine.model import Access, Energy, Role
from diag.measure import advice_trials as trials
from diag.measure import optimum
from diag.reason.advice.ahead_search import AheadSearch, Halted
from diag.reason.advice.decision_model import CALL, ActionRef, CheckOption, DecisionModel, RemedyOption
from diag.reason.advice.look_ahead import look_ahead
from diag.reason.advice.one_step import advise
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence
from diag.reason.table.compile import Array, compile
from diag.reason.table.situation import Place, Situation

OUTSIDE = Place(Access.OUTSIDE, "", Energy.ON)
BOX = Place(Access.DEAD, "box", Energy.OFF)
HATCH = Place(Access.DEAD, "hatch", Energy.OFF)
TIMES = Minutes(lock=12.0, restore=5.0, live=3.0, call=0.0)


def plainly(o: DecisionModel, belief: Array, here: Situation, done: frozenset[int], failed: frozenset[int]) -> float:
    """The least expected minutes, by trying everything: each look and each remedy at most once."""
    best = o.call
    for t, check in enumerate(o.checks):
        if t not in done:
            total = check.minutes + here.setup(o.times, check.place)
            for row in check.given * belief:
                if row.sum() > 0.0:
                    after = here.after(check.place)
                    total += row.sum() * plainly(o, row / row.sum(), after, done | {t}, failed)
            best = min(best, total)
    for n, remedy in enumerate(o.remedies):
        if n not in failed:
            left = belief * (1.0 - remedy.cures)
            total = remedy.minutes + here.setup(o.times, remedy.place)
            if left.sum() > 0.0:
                total += left.sum() * plainly(o, left / left.sum(), here.after(remedy.place), done, failed | {n})
            best = min(best, total)
    return best


@st.composite
def small(draw: st.DrawFn, sure: bool) -> DecisionModel:
    n = draw(st.integers(2, 4))
    places = st.sampled_from([OUTSIDE, OUTSIDE, BOX, HATCH])
    minutes = st.floats(0.5, 30.0)
    raw = np.array(draw(st.lists(st.floats(0.05, 1.0), min_size=n, max_size=n)))
    checks = []
    for t in range(draw(st.integers(0, 3))):
        shows = np.array(draw(st.lists(st.integers(0, 1), min_size=n, max_size=n)))
        given_ = (shows == np.arange(2)[:, None]).astype(float)
        slip = 0.0 if sure else draw(st.floats(0.0, 0.3))
        checks.append(CheckOption(f"l{t}", (1 - slip) * given_ + slip / 2, draw(minutes), draw(places)))
    remedies = []
    for f in range(draw(st.integers(0, 3))):
        whose = np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n)), dtype=float)
        remedies.append(
            RemedyOption(f"f{f}", whose * (1.0 if sure else draw(st.floats(0.5, 1.0))), draw(minutes), draw(places))
        )
    return DecisionModel(
        raw / raw.sum(), tuple(checks), tuple(remedies), Situation(), TIMES, draw(st.floats(5.0, 120.0))
    )


@given(small(sure=True))
@settings(max_examples=60, deadline=None)
def test_the_optimum_of_sure_answers_is_that_of_plain_recursion(o: DecisionModel) -> None:
    plain = plainly(o, o.belief, o.situation, frozenset(), frozenset())
    assert optimum.sure(o) == pytest.approx(plain, rel=1e-9)
    assert optimum.unsure(o) == pytest.approx(plain, rel=1e-9)  # the other way to list is as good here


@given(small(sure=False))
@settings(max_examples=60, deadline=None)
def test_the_optimum_of_unsure_answers_is_that_of_plain_recursion(o: DecisionModel) -> None:
    plain = plainly(o, o.belief, o.situation, frozenset(), frozenset())
    assert optimum.unsure(o) == pytest.approx(plain, rel=1e-9)


@given(small(sure=False))
@settings(max_examples=60, deadline=None)
def test_with_everything_followed_nothing_is_better(o: DecisionModel) -> None:
    """With a width of all looks and at most three remedies the search leaves nothing out."""
    ahead = AheadSearch(o, rare=1e-12)
    assert ahead.value(ahead.start, 9) == pytest.approx(optimum.unsure(o), rel=1e-6)


def two_alike() -> DecisionModel:
    """Two checks that tell the same two causes apart for the same minutes, and a remedy for each cause."""
    checks = tuple(CheckOption(id, np.eye(2), 1.0, OUTSIDE) for id in ("first", "second"))
    remedies = tuple(RemedyOption(f"fix-{n}", np.eye(2)[n], 5.0, OUTSIDE) for n in range(2))
    return DecisionModel(np.array([0.5, 0.5]), checks, remedies, Situation(), TIMES, 60.0)


def test_of_two_ways_that_take_as_long_the_first_one_stands() -> None:
    ahead = AheadSearch(two_alike())
    found = ahead.best(ahead.start, 9, 9)
    assert (found.action, found.minutes) == (ActionRef("check", 0), pytest.approx(6.0))
    assert ahead.step(ahead.start).rule == ActionRef("check", 0)


def test_each_first_way_is_told_with_its_minutes_to_the_end() -> None:
    ahead = AheadSearch(two_alike())
    weighed = {ranked.action: ranked.minutes for ranked in ahead.weigh(ahead.start, 9, 9)}
    assert weighed == {
        ActionRef("check", 0): pytest.approx(6.0),
        ActionRef("check", 1): pytest.approx(6.0),
        ActionRef("remedy", 0): pytest.approx(7.5),
        ActionRef("remedy", 1): pytest.approx(7.5),
        CALL: pytest.approx(60.0),
    }
    assert ahead.step(ahead.start).finish == pytest.approx(7.5)
    assert ahead.value(ahead.start, 9) == ahead.value(ahead.start, 1) == pytest.approx(6.0)


def test_the_one_step_rule_leaves_a_check_that_saves_too_little() -> None:
    """Here a check saves a minute and a half."""
    for worth, kind in ((1.49, "check"), (1.51, "remedy")):
        ahead = AheadSearch(two_alike(), worth=worth)
        assert ahead.step(ahead.start).rule.kind == kind, worth
        assert ahead.step(ahead.start).telling == ActionRef("check", 0)
        assert ahead.step(ahead.start).treatment == ActionRef("remedy", 0)


def test_unlikely_causes_are_left_out_as_if_they_were_ruled_out() -> None:
    cures = np.eye(3)
    remedies = tuple(RemedyOption(f"fix-{n}", cures[n], 5.0, OUTSIDE) for n in range(3))
    o = DecisionModel(np.array([0.5, 0.3, 0.2]), (), remedies, Situation(), TIMES, 60.0)
    for share, minutes in ((1.0, 8.5), (0.9, 8.5), (0.75, 5 + 0.375 * 5), (0.45, 5.0)):
        ahead = AheadSearch(o, share=share)
        assert ahead.step(ahead.start).finish == pytest.approx(minutes), share


def test_the_check_that_tells_most_a_minute_is_named_whatever_it_saves() -> None:
    o = two_alike()
    quick = replace(o.checks[1], minutes=0.5)
    blur = CheckOption("blur", np.array([[0.6, 0.4], [0.4, 0.6]]), 0.4, OUTSIDE)
    told = replace(o, checks=(o.checks[0], quick, blur))
    ahead = AheadSearch(told)
    assert ahead.step(ahead.start).telling == ActionRef("check", 1)
    known = AheadSearch(replace(told, belief=np.array([1.0, 0.0])))
    assert known.step(known.start).telling is None, "nothing is left to tell"
    assert known.step(known.start).rule == ActionRef("remedy", 0)
    nobody = AheadSearch(replace(told, remedies=()))
    assert nobody.step(nobody.start).rule == CALL
    assert nobody.step(nobody.start).finish == 60.0


def test_what_comes_about_rarely_is_not_followed() -> None:
    """With a cut above its chance what is left is what one step says; what is rarer still changes nothing."""
    o = two_alike()
    cut = AheadSearch(o, cut=0.6)
    assert cut.value(cut.start, 9) == pytest.approx(1.0 + 5.0), "a cause that is known takes its remedy either way"
    rare = AheadSearch(replace(o, belief=np.array([0.999, 0.001])), rare=0.01)
    told = [chance for chance, _ in rare.follow(rare.start, ActionRef("check", 0))]
    assert told == [pytest.approx(0.999)]
    assert list(rare.follow(rare.start, ActionRef("remedy", 0))) == [], "it cures all but one in a thousand"
    assert list(rare.follow(rare.start, CALL)) == []


def test_it_stops_when_it_is_told_to() -> None:
    asked = iter([False, False, True])
    ahead = AheadSearch(two_alike(), halt=lambda: next(asked))
    with pytest.raises(Halted):
        ahead.value(ahead.start, 9)
    few = AheadSearch(two_alike(), nodes=2)
    with pytest.raises(Halted):
        few.value(few.start, 9)
    assert AheadSearch(two_alike(), nodes=50).value(ahead.start, 9) == pytest.approx(6.0)


@pytest.mark.source(
    "Shared opening: A outside (.2, 3), B (.45, 1) and C (.35, 1) inside, opening 6: optimum 8.15, own figures",
    found="recomputed",
)
def test_a_shared_cabinet() -> None:
    cures = np.eye(3)
    times = replace(TIMES, lock=6.0)
    remedies = tuple(
        RemedyOption(id, cures[n], minutes, place)
        for n, (id, minutes, place) in enumerate([("a", 3.0, OUTSIDE), ("b", 1.0, BOX), ("c", 1.0, BOX)])
    )
    anywhere = (replace(remedies[0], place=Place(Access.OUTSIDE, "", Energy.ANY)), *remedies[1:])
    o = DecisionModel(np.array([0.2, 0.45, 0.35]), (), anywhere, Situation(), times, 1e6)
    assert optimum.sure(o) == pytest.approx(8.15)
    ahead = AheadSearch(o)
    assert ahead.value(ahead.start, 1) == pytest.approx(8.15)


@pytest.mark.source(
    "Overlapping remedies: .26 .26 .24 .24, three remedies that cure two each: probability over cost 1.72, best 1.50",
    found="recomputed",
)
def test_overlapping_remedies_are_taken_together() -> None:
    """Probability over cost takes the likeliest first and errs; looking ahead follows the others as well."""
    cures = np.array([[1.0, 1.0, 0.0, 0.0], [1.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, 1.0]])
    remedies = tuple(RemedyOption(f"a{n + 1}", row, 1.0, OUTSIDE) for n, row in enumerate(cures))
    o = DecisionModel(np.array([0.26, 0.26, 0.24, 0.24]), (), remedies, Situation(), TIMES, 1e6)
    ahead = AheadSearch(o)
    assert ahead.value(ahead.start, 1) == pytest.approx(1.72)
    assert optimum.sure(o) == pytest.approx(1.50)
    assert ahead.best(ahead.start, 1, 2).minutes == pytest.approx(1.50)


def test_a_model_too_large_to_list_is_refused() -> None:
    o = DecisionModel(np.full(30, 1 / 30), (), (), Situation(), TIMES, 60.0)
    with pytest.raises(optimum.TooLarge):
        optimum.sure(o)
    checks = tuple(CheckOption(f"l{n}", np.full((2, 30), 0.5), 1.0, OUTSIDE) for n in range(16))
    with pytest.raises(optimum.TooLarge):
        optimum.unsure(replace(o, checks=checks))
    with pytest.raises(ValueError, match="l0 is not sure"):
        optimum.sure(
            replace(o, belief=np.full(3, 1 / 3), checks=(CheckOption("l0", np.full((2, 3), 0.5), 1.0, OUTSIDE),))
        )


@pytest.mark.parametrize("setups", [False, True])
@pytest.mark.parametrize("sure", [True, False])
def test_no_way_of_choosing_beats_the_best_and_each_costs_what_it_says(sure: bool, setups: bool) -> None:
    for seed in range(300, 303):
        o = trials.model(seed, sure=sure, setups=setups)
        best = optimum.sure(o) if sure else optimum.unsure(o)
        ahead = AheadSearch(o, rare=1e-9)
        for name, choose in trials.WAYS.items():
            if name != "dynamic programming":
                assert trials.expected(ahead, choose) >= best - 1e-6, name
        one_step = trials.expected(ahead, trials.by_one_step)
        assert ahead.value(ahead.start, 1) == pytest.approx(one_step, rel=1e-6)
        assert trials.expected(ahead, trials.by_rollout) <= one_step + 1e-6


def four(call: float = 90.0) -> m.Machine:
    """Four causes that two lamps tell apart together; one lamp alone is not worth a remedy of an hour."""
    dark = {"dark": 0.98}
    shows = {"p": {"a": dark, "b": dark}, "q": {"a": dark}, "r": {"b": dark}, "s": {}}
    return m.machine(
        [m.lamp("a"), m.lamp("b")],
        [m.cause(id, 1.0, what, m.remedy(f"fix-{id}", 60)) for id, what in shows.items()],
        [m.check("see-a", ["a"], 3), m.check("see-b", ["b"], 3)],
        Minutes(lock=12, restore=6, live=4, call=call),
    )


def never() -> bool:
    return False


def after(calls: int) -> Callable[[], bool]:
    left = [calls]

    def halt() -> bool:
        left[0] -= 1
        return left[0] < 0

    return halt


def test_what_pays_only_with_the_next_look_is_found_further_ahead() -> None:
    belief = believe(compile(four()), Evidence(()))
    plan = advise(belief, Situation())
    assert (plan.best.kind, plan.checks) == ("call", ())
    further = look_ahead(belief, Situation(), plan, never)
    assert further is not None
    assert (further.best.kind, further.best.id) == ("check", "see-a")
    assert further.before == plan.best
    assert further.sooner == pytest.approx(further.best.saved, abs=0.5)  # a call was all that was left
    assert further.sooner > 10.0
    assert [c.id for c in further.checks] == ["see-a", "see-b"]


def test_what_is_as_good_stays_first() -> None:
    belief = believe(compile(four(call=400.0)), Evidence(()))
    plan = advise(belief, Situation())
    further = look_ahead(belief, Situation(), plan, never)
    assert further is not None
    assert (further.best.id, further.before, further.sooner) == (plan.best.id, None, 0.0)
    assert further.best.saved > plan.best.saved  # the second lamp is counted with the first


def test_a_search_that_is_late_says_what_it_has_and_one_called_off_says_nothing() -> None:
    belief = believe(compile(four()), Evidence(()))
    plan = advise(belief, Situation())
    assert look_ahead(belief, Situation(), plan, never, after(0)) is None
    whole = look_ahead(belief, Situation(), plan, never)
    late = [look_ahead(belief, Situation(), plan, never, after(n)) for n in range(40)]
    assert late[-1] == whole  # forty steps are more than there are
    cut_short = [f for f in late if f is not None and f != whole]
    assert cut_short
    assert all(f.sooner >= 0.0 for f in cut_short)
    off = [False]

    def called_off() -> bool:
        return off[0]

    def call_off() -> bool:
        off[0] = len(asked) > 3
        asked.append(True)
        return False

    asked: list[bool] = []
    assert look_ahead(belief, Situation(), plan, called_off, call_off) is None


def test_a_role_is_offered_nothing_that_it_may_not_do_however_far_one_looks() -> None:
    machine = four()
    shut = replace(machine.checks["see-a"], who=(Role.ELECTRICIAN,))
    machine = replace(machine, checks={**machine.checks, "see-a": shut})
    belief = believe(compile(machine), Evidence(()))
    operator = Situation(role=Role.OPERATOR)
    further = look_ahead(belief, operator, advise(belief, operator), never)
    assert further is not None
    assert "see-a" not in [c.id for c in (*further.checks, further.best)]


def test_halting_is_asked_at_every_step() -> None:
    rng = np.random.default_rng(2)
    checks = tuple(
        CheckOption(f"l{t}", rng.dirichlet(np.ones(3), 60).T, float(rng.uniform(1, 9)), OUTSIDE) for t in range(60)
    )
    remedies = tuple(RemedyOption(f"f{n}", np.eye(60)[n], 10.0, OUTSIDE) for n in range(60))
    asked = []

    def halt() -> bool:
        asked.append(True)
        return len(asked) > 3

    ahead = AheadSearch(DecisionModel(np.full(60, 1 / 60), checks, remedies, Situation(), TIMES, 90.0), halt=halt)
    with pytest.raises(Halted):
        list(ahead.weigh(ahead.start, 20, 1))
    assert len(asked) == 4


def test_a_call_is_always_among_the_moves() -> None:
    o = DecisionModel(np.array([1.0]), (), (), Situation(), TIMES, 40.0)
    ahead = AheadSearch(o)
    assert [(r.action, r.minutes) for r in ahead.weigh(ahead.start, 5, 5)] == [(CALL, 40.0)]
    assert ahead.best(ahead.start, 5, 5).action == CALL


def test_a_count_of_nodes_halts_every_run_at_the_same_place() -> None:
    belief = believe(compile(four()), Evidence(()))
    plan = advise(belief, Situation())
    assert look_ahead(belief, Situation(), plan, nodes=0) is None
    whole = look_ahead(belief, Situation(), plan)
    halted = [look_ahead(belief, Situation(), plan, nodes=n) for n in range(40)]
    assert halted[-1] == whole
    assert halted == [look_ahead(belief, Situation(), plan, never, after(n)) for n in range(40)]
    assert any(f is not None and f != whole for f in halted)
