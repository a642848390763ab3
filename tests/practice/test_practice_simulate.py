"""The measurement itself: it must find what can be found, and say so when something cannot."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "reason"))
import machines as m

from diag.machine.model import Follow
from diag.practice import quick as sim
from diag.practice.score import CauseScore, Score, Stop, every, isolability, outside
from diag.reason.belief.belief import believe, log_likelihood
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.table.compile import Table, compile
from diag.reason.table.draw_stop import draw


def sharp(n: int = 6, signs: int = 4) -> Table:
    """Causes with several signs each and none shared."""
    lamps = [m.lamp(f"l{c}-{s}") for c in range(n) for s in range(signs)]
    causes = [m.cause(f"c{c}", 1.0, {f"l{c}-{s}": {"dark": 0.98} for s in range(signs)}) for c in range(n)]
    return compile(m.machine(lamps, causes))


def stop(
    cause: str = "a",
    *,
    place: int = 1,
    top: str = "a",
    share: float = 0.9,
    asked: int = 1,
    minutes: float = 1.0,
    corrupted: int = 0,
    left: int = 1,
    brier: float = 0.0,
    log: float = 0.0,
) -> Stop:
    return Stop(cause, place, top, share, asked, minutes, corrupted, left, brier, log)


def test_plain_causes_are_found_in_spite_of_wrong_answers() -> None:
    score = sim.simulate(sharp(), 60)
    assert score.within(1) > 0.95
    assert sum(stop.corrupted for stop in score.stops) > 0


def test_the_same_seed_gives_the_same_stops() -> None:
    table = sharp()
    assert sim.simulate(table, 8, seed=3) == sim.simulate(table, 8, seed=3) != sim.simulate(table, 8, seed=4)


def test_causes_that_nothing_tells_apart_are_one_group_and_others_are_not() -> None:
    lamp = m.lamp("l")
    twins = [m.cause("a", 1.0, {"l": {"dark": 0.98}}), m.cause("b", 1.0, {"l": {"dark": 0.98}})]
    assert sim.simulate(compile(m.machine([lamp], [*twins])), 10).within(1) == 1.0
    # One lamp cannot tell two near causes apart: the score must say so.
    near = [m.cause("a", 1.0, {"l": {"dark": 0.98}}), m.cause("b", 1.0, {"l": {"dark": 0.95}})]
    assert sim.simulate(compile(m.machine([lamp], near)), 40).within(1) < 0.9


def test_draws_follow_the_model() -> None:
    """Frequencies of drawn states against the likelihood of the same states, followers included."""
    supply = m.lamp("supply", ("good", "absent"))
    lamp = m.lamp("lamp", follows=[Follow((("supply", ("absent",)),), "dark")])
    table = compile(m.machine([supply, lamp], [m.cause("fails", 1.0, {"supply": {"absent": 0.6}})]))
    rng = np.random.default_rng(5)
    n = 4000
    dark = sum(int(draw(table, 0, rng)[1]) == 1 for _ in range(n)) / n
    seen = np.ones(4)
    seen[2] = 0.0
    expected = float(np.exp(log_likelihood(table, seen)[0]))
    assert dark == pytest.approx(expected, abs=4 * (expected * (1 - expected) / n) ** 0.5)


def test_calibration_of_a_known_score() -> None:
    """Two bins' worth by hand: said .9 and right half the time is off by .4."""
    score = Score(tuple(stop(place=1 + k % 2, share=0.9) for k in range(30)))
    assert score.calibration == pytest.approx(0.4)
    assert score.misses == (("a", "a", 15),)


def test_a_share_that_rounding_lifts_above_one_is_one() -> None:
    score = Score(tuple(stop(share=1.0 + 2e-16 * (k % 3)) for k in range(30)))
    assert score.calibration == pytest.approx(0.0, abs=1e-12)


def test_figures_over_four_stops_by_hand() -> None:
    stops = (
        stop("a", place=1, left=1, brier=0.1, log=0.2, minutes=2.0, asked=1),
        stop("a", place=2, top="b", left=2, brier=0.5, log=1.0, minutes=6.0, asked=3, corrupted=1),
        stop("a", place=3, top="c", left=2, brier=0.9, log=2.0, minutes=4.0, asked=3),
        stop("b", place=1, left=3, brier=0.1, log=0.4, minutes=8.0, asked=1),
    )
    score = Score(stops)
    assert [score.isolated(size) for size in (1, 2, 3)] == [0.25, 0.5, 0.75]  # the third stop's true cause is not held
    assert (score.brier, score.log) == (pytest.approx(0.4), pytest.approx(0.9))
    assert (score.asked, score.minutes, score.corrupted) == (2.0, 5.0, 0.25)
    assert score.by_cause == (
        CauseScore("a", drawn=3, first=1, three=3, minutes=4.0, taken=(("b", 1), ("c", 1))),
        CauseScore("b", drawn=1, first=1, three=1, minutes=8.0, taken=()),
    )


def test_a_stop_is_scored_by_the_belief_that_it_ends_with() -> None:
    """One lamp, which one of two causes darkens: after an answer that is right, the definitions of the scores."""
    table = compile(m.machine([m.lamp("l")], [m.cause("a", 1.0, {"l": {"dark": 1.0}}), m.cause("b", 1.0, {})]))
    found = [s for s in sim.simulate(table, 20, each=True).stops if not s.corrupted and s.asked and s.cause == "a"]
    for ended in found:
        seen = Observed("l", {"dark" if ended.top == "a" else "lit": 1.0})
        belief = believe(table, Evidence((seen,))).posterior
        off = belief - np.array([1.0, 0.0, 0.0])
        assert ended.brier == pytest.approx(float(off @ off), abs=1e-9)
        assert ended.log == pytest.approx(-float(np.log(belief[0])), abs=1e-9)
        assert ended.groups_to_95 == next(n for n in (1, 2, 3) if np.sort(belief)[::-1][:n].sum() >= 0.95)
    assert any(ended.top == "a" for ended in found)


def test_as_many_stops_of_each_cause() -> None:
    rare = [m.cause("often", 5.0, {"l": {"dark": 0.98}}), m.cause("rare", 0.001, {"k": {"dark": 0.98}})]
    table = compile(m.machine([m.lamp("l"), m.lamp("k")], rare))
    done: list[int] = []
    score = sim.simulate(table, 7, done=done.append, each=True)
    assert {cause.cause: cause.drawn for cause in score.by_cause} == {"often": 7, "rare": 7}
    assert sum(done) == 14
    assert sim.simulate(table, 7, seed=1, each=True) != score == sim.simulate(table, 7, each=True)


@pytest.mark.source("IEEE Std 1522, detection and isolation to an ambiguity group", found="from memory")
def test_what_looks_from_outside_cannot_tell_apart_the_meter_can() -> None:
    """Two causes darken one lamp and differ in what the meter inside says; a third darkens nothing. Weights 6, 3, 1."""
    volts = m.lamp("volts", ("good", "absent"))
    causes = [
        m.cause("supply", 6.0, {"lamp": {"dark": 0.98}, "volts": {"absent": 0.98}}),
        m.cause("bulb", 3.0, {"lamp": {"dark": 0.98}}),
        m.cause("tired", 1.0, {"lamp": {"dark": 0.1}}),
    ]
    inside = m.check("measure", ("volts",), access=m.Access.LIVE, zone="rack")
    table = compile(m.machine([m.lamp("lamp"), volts], causes, [m.check("look", ("lamp",)), inside]))
    all_looks, seen = isolability(table, every(table)), isolability(table, outside(table))
    assert all_looks.detection == seen.detection == pytest.approx(0.9)
    assert all_looks.groups == ((0,), (1,))
    assert all_looks.isolation(1) == pytest.approx(1.0)
    assert seen.groups == ((0, 1),)
    assert (seen.isolation(1), seen.isolation(2)) == (0.0, pytest.approx(1.0))
