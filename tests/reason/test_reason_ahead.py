"""Looking further ahead, against what is best by listing all that can come about, and that against plain recursion."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import machines as m
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.drill import advice_trials as trials
from diag.drill import optimum
from diag.machine.model import Access, Energy, Role
from diag.machine.site import Minutes
from diag.reason.advise import advise
from diag.reason.ahead import Ahead, Halted
from diag.reason.belief import believe
from diag.reason.compile import Array, compile
from diag.reason.deeper import deepen
from diag.reason.evidence import Evidence
from diag.reason.outlook import Fix, Look, Outlook
from diag.reason.situation import Place, Situation
from diag.reason.step import CALL

OUTSIDE = Place(Access.OUTSIDE, "", Energy.ON)
BOX = Place(Access.DEAD, "box", Energy.OFF)
HATCH = Place(Access.DEAD, "hatch", Energy.OFF)
TIMES = Minutes(lock=12.0, restore=5.0, live=3.0, call=0.0)


def plainly(o: Outlook, belief: Array, here: Situation, done: frozenset[int], failed: frozenset[int]) -> float:
    """The least expected minutes, by trying everything: each look and each remedy at most once."""
    best = o.call
    for t, look in enumerate(o.looks):
        if t not in done:
            total = look.minutes + here.setup(o.times, look.place)
            for row in look.given * belief:
                if row.sum() > 0.0:
                    after = here.after(look.place)
                    total += row.sum() * plainly(o, row / row.sum(), after, done | {t}, failed)
            best = min(best, total)
    for n, fix in enumerate(o.fixes):
        if n not in failed:
            left = belief * (1.0 - fix.cures)
            total = fix.minutes + here.setup(o.times, fix.place)
            if left.sum() > 0.0:
                total += left.sum() * plainly(o, left / left.sum(), here.after(fix.place), done, failed | {n})
            best = min(best, total)
    return best


@st.composite
def small(draw: st.DrawFn, sure: bool) -> Outlook:
    n = draw(st.integers(2, 4))
    places = st.sampled_from([OUTSIDE, OUTSIDE, BOX, HATCH])
    minutes = st.floats(0.5, 30.0)
    raw = np.array(draw(st.lists(st.floats(0.05, 1.0), min_size=n, max_size=n)))
    looks = []
    for t in range(draw(st.integers(0, 3))):
        shows = np.array(draw(st.lists(st.integers(0, 1), min_size=n, max_size=n)))
        given_ = (shows == np.arange(2)[:, None]).astype(float)
        slip = 0.0 if sure else draw(st.floats(0.0, 0.3))
        looks.append(Look(f"l{t}", (1 - slip) * given_ + slip / 2, draw(minutes), draw(places)))
    fixes = []
    for f in range(draw(st.integers(0, 3))):
        whose = np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n)), dtype=float)
        fixes.append(Fix(f"f{f}", whose * (1.0 if sure else draw(st.floats(0.5, 1.0))), draw(minutes), draw(places)))
    return Outlook(raw / raw.sum(), tuple(looks), tuple(fixes), Situation(), TIMES, draw(st.floats(5.0, 120.0)))


@given(small(sure=True))
@settings(max_examples=60, deadline=None)
def test_the_optimum_of_sure_answers_is_that_of_plain_recursion(o: Outlook) -> None:
    plain = plainly(o, o.belief, o.situation, frozenset(), frozenset())
    assert optimum.sure(o) == pytest.approx(plain, rel=1e-9)
    assert optimum.unsure(o) == pytest.approx(plain, rel=1e-9)  # the other way to list is as good here


@given(small(sure=False))
@settings(max_examples=60, deadline=None)
def test_the_optimum_of_unsure_answers_is_that_of_plain_recursion(o: Outlook) -> None:
    plain = plainly(o, o.belief, o.situation, frozenset(), frozenset())
    assert optimum.unsure(o) == pytest.approx(plain, rel=1e-9)


@given(small(sure=False))
@settings(max_examples=60, deadline=None)
def test_with_everything_followed_nothing_is_better(o: Outlook) -> None:
    """With a width of all looks and at most three remedies the search leaves nothing out."""
    ahead = Ahead(o, rare=1e-12)
    assert ahead.value(ahead.start, 9) == pytest.approx(optimum.unsure(o), rel=1e-6)


@pytest.mark.source(
    "Shared opening: A outside (.2, 3), B (.45, 1) and C (.35, 1) inside, opening 6: optimum 8.15, own figures",
    found="recomputed",
)
def test_a_shared_cabinet() -> None:
    cures = np.eye(3)
    times = replace(TIMES, lock=6.0)
    fixes = tuple(
        Fix(id, cures[n], minutes, place)
        for n, (id, minutes, place) in enumerate([("a", 3.0, OUTSIDE), ("b", 1.0, BOX), ("c", 1.0, BOX)])
    )
    anywhere = (replace(fixes[0], place=Place(Access.OUTSIDE, "", Energy.ANY)), *fixes[1:])
    o = Outlook(np.array([0.2, 0.45, 0.35]), (), anywhere, Situation(), times, 1e6)
    assert optimum.sure(o) == pytest.approx(8.15)
    ahead = Ahead(o)
    assert ahead.value(ahead.start, 1) == pytest.approx(8.15)


@pytest.mark.source(
    "Overlapping remedies: .26 .26 .24 .24, three remedies that cure two each: probability over cost 1.72, best 1.50",
    found="recomputed",
)
def test_overlapping_remedies_are_taken_together() -> None:
    """Probability over cost takes the likeliest first and errs; looking ahead follows the others as well."""
    cures = np.array([[1.0, 1.0, 0.0, 0.0], [1.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, 1.0]])
    fixes = tuple(Fix(f"a{n + 1}", row, 1.0, OUTSIDE) for n, row in enumerate(cures))
    o = Outlook(np.array([0.26, 0.26, 0.24, 0.24]), (), fixes, Situation(), TIMES, 1e6)
    ahead = Ahead(o)
    assert ahead.value(ahead.start, 1) == pytest.approx(1.72)
    assert optimum.sure(o) == pytest.approx(1.50)
    assert ahead.best(ahead.start, 1, 2).minutes == pytest.approx(1.50)


def test_a_model_too_large_to_list_is_refused() -> None:
    o = Outlook(np.full(30, 1 / 30), (), (), Situation(), TIMES, 60.0)
    with pytest.raises(optimum.TooLarge):
        optimum.sure(o)
    looks = tuple(Look(f"l{n}", np.full((2, 30), 0.5), 1.0, OUTSIDE) for n in range(16))
    with pytest.raises(optimum.TooLarge):
        optimum.unsure(replace(o, looks=looks))
    with pytest.raises(ValueError, match="l0 is not sure"):
        optimum.sure(replace(o, belief=np.full(3, 1 / 3), looks=(Look("l0", np.full((2, 3), 0.5), 1.0, OUTSIDE),)))


@pytest.mark.parametrize("setups", [False, True])
@pytest.mark.parametrize("sure", [True, False])
def test_no_way_of_choosing_beats_the_best_and_each_costs_what_it_says(sure: bool, setups: bool) -> None:
    for seed in range(300, 303):
        o = trials.model(seed, sure=sure, setups=setups)
        best = optimum.sure(o) if sure else optimum.unsure(o)
        ahead = Ahead(o, rare=1e-9)
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
    further = deepen(belief, Situation(), plan, never)
    assert further is not None
    assert (further.best.kind, further.best.id) == ("check", "see-a")
    assert further.before == plan.best
    assert further.sooner == pytest.approx(further.best.saved, abs=0.5)  # a call was all that was left
    assert further.sooner > 10.0
    assert [c.id for c in further.checks] == ["see-a", "see-b"]


def test_what_is_as_good_stays_first() -> None:
    belief = believe(compile(four(call=400.0)), Evidence(()))
    plan = advise(belief, Situation())
    further = deepen(belief, Situation(), plan, never)
    assert further is not None
    assert (further.best.id, further.before, further.sooner) == (plan.best.id, None, 0.0)
    assert further.best.saved > plan.best.saved  # the second lamp is counted with the first


def test_a_search_that_is_late_says_what_it_has_and_one_called_off_says_nothing() -> None:
    belief = believe(compile(four()), Evidence(()))
    plan = advise(belief, Situation())
    assert deepen(belief, Situation(), plan, never, after(0)) is None
    whole = deepen(belief, Situation(), plan, never)
    late = [deepen(belief, Situation(), plan, never, after(n)) for n in range(40)]
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
    assert deepen(belief, Situation(), plan, called_off, call_off) is None


def test_a_role_is_offered_nothing_that_it_may_not_do_however_far_one_looks() -> None:
    machine = four()
    shut = replace(machine.checks["see-a"], who=(Role.ELECTRICIAN,))
    machine = replace(machine, checks={**machine.checks, "see-a": shut})
    belief = believe(compile(machine), Evidence(()))
    operator = Situation(role=Role.OPERATOR)
    further = deepen(belief, operator, advise(belief, operator), never)
    assert further is not None
    assert "see-a" not in [c.id for c in (*further.checks, further.best)]


def test_halting_is_asked_at_every_step() -> None:
    rng = np.random.default_rng(2)
    looks = tuple(Look(f"l{t}", rng.dirichlet(np.ones(3), 60).T, float(rng.uniform(1, 9)), OUTSIDE) for t in range(60))
    fixes = tuple(Fix(f"f{n}", np.eye(60)[n], 10.0, OUTSIDE) for n in range(60))
    asked = []

    def halt() -> bool:
        asked.append(True)
        return len(asked) > 3

    ahead = Ahead(Outlook(np.full(60, 1 / 60), looks, fixes, Situation(), TIMES, 90.0), halt=halt)
    with pytest.raises(Halted):
        list(ahead.weigh(ahead.start, 20, 1))
    assert len(asked) == 4


def test_a_call_is_always_among_the_moves() -> None:
    o = Outlook(np.array([1.0]), (), (), Situation(), TIMES, 40.0)
    ahead = Ahead(o)
    assert [(r.move, r.minutes) for r in ahead.weigh(ahead.start, 5, 5)] == [(CALL, 40.0)]
    assert ahead.best(ahead.start, 5, 5).move == CALL
