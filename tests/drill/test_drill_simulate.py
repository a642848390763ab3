"""The measurement itself: it must find what can be found, and say so when something cannot."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "reason"))
import machines as m

from diag.drill import simulate as sim
from diag.machine.model import Follow
from diag.reason.belief import log_likelihood
from diag.reason.compile import Table, compile
from diag.reason.draw import draw


def sharp(n: int = 6, signs: int = 4) -> Table:
    """Causes with several signs each and none shared."""
    lamps = [m.lamp(f"l{c}-{s}") for c in range(n) for s in range(signs)]
    causes = [m.cause(f"c{c}", 1.0, {f"l{c}-{s}": {"dark": 0.98} for s in range(signs)}) for c in range(n)]
    return compile(m.machine(lamps, causes))


def test_plain_causes_are_found_in_spite_of_wrong_answers() -> None:
    score = sim.simulate(sharp(), 60)
    assert score.within(1) > 0.95
    assert sum(stop.spoiled for stop in score.stops) > 0


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
    stops = tuple(
        sim.Stop(cause="a", place=1 + (k % 2), top="a", share=0.9, asked=1, minutes=1.0, spoiled=0) for k in range(30)
    )
    assert sim.Score(stops).calibration == pytest.approx(0.4)
    assert sim.Score(stops).misses == (("a", "a", 15),)


def test_a_share_that_rounding_lifts_above_one_is_one() -> None:
    stops = tuple(sim.Stop("a", 1, "a", 1.0 + 2e-16 * (k % 3), 1, 1.0, 0) for k in range(30))
    assert sim.Score(stops).calibration == pytest.approx(0.0, abs=1e-12)
