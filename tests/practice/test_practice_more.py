"""Two causes at once, and a cause that is not in the file: both measurements find what can be found."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "reason"))
import machines as m

from diag.practice import double, unlisted
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.belief.pairs import pair_up
from diag.reason.table.compile import Table, compile


def sharp(n: int = 6, signs: int = 4) -> Table:
    """Causes with several signs each and none shared."""
    lamps = [m.lamp(f"l{c}-{s}") for c in range(n) for s in range(signs)]
    causes = [m.cause(f"c{c}", 1.0, {f"l{c}-{s}": {"dark": 0.98} for s in range(signs)}) for c in range(n)]
    return compile(m.machine(lamps, causes))


def test_two_plain_causes_are_both_named() -> None:
    found = double.simulate(sharp(), 20)
    assert found.named >= 0.9
    assert found.within(1) >= 0.85
    assert all(stop.causes[0] != stop.causes[1] for stop in found.stops)
    assert found == double.simulate(sharp(), 20)


def test_one_cause_is_no_pair() -> None:
    assert double.simulate(compile(m.machine([m.lamp("l")], [m.cause("a")])), 5).stops == ()


def test_what_hides_is_not_named() -> None:
    """Two causes that show the same on the only lamp there is: the measurement must say so."""
    causes = [m.cause(f"c{n}", 1.0, {"l": {"dark": 0.98}}) for n in range(6)]
    causes = [m.cause(c.id, 1.0, {"l": {"dark": 0.9 + n / 100}}) for n, c in enumerate(causes)]
    assert double.simulate(compile(m.machine([m.lamp("l")], causes)), 20).named < 0.6


def test_pairs_alone_share_the_belief_as_among_all() -> None:
    table = sharp()
    belief = believe(table, Evidence(tuple(Observed(f"l{c}-0", {"dark": 1.0}) for c in (1, 3))))
    pairs = pair_up(belief)
    alone = double.among(belief, pairs)
    assert alone.posterior.sum() == pytest.approx(1.0)
    assert alone.posterior[-1] < 1e-12
    best = pairs.order[: double.WEIGHED]
    expected = pairs.posterior[best] / pairs.posterior[best].sum()
    assert alone.posterior[:-1] == pytest.approx(expected)
    assert np.abs(alone.predicted[:, table.columns(0)].sum(axis=1) - 1).max() < 1e-9


def test_a_cause_left_out_is_noticed_and_not_taken_for_one_that_is_written() -> None:
    found = unlisted.simulate(sharp(), 20)
    assert found.twins == ()
    assert found.within(2) >= 0.75
    assert found.taken <= 0.05


def test_the_table_without_a_cause_is_the_table_of_the_others() -> None:
    lamps = [m.lamp(f"l{n}") for n in range(4)]
    causes = [m.cause(f"c{n}", 1.0 + n, {f"l{n}": {"dark": 0.85}}, rest_probability=0.5 * (n == 3)) for n in range(4)]
    left = unlisted.without(compile(m.machine(lamps, causes)), 1)
    fresh = compile(m.machine(lamps, [c for c in causes if c.id != "c1"]))
    assert left.causes == fresh.causes
    for name in ("log_prior", "p", "rest_probability", "group"):
        assert getattr(left, name) == pytest.approx(getattr(fresh, name)), name


def test_twins_are_told_apart_and_not_drawn() -> None:
    lamps = [m.lamp(f"l{n}") for n in range(6)]
    shows = {f"l{n}": {"dark": 0.98} for n in range(3)}
    causes = [
        m.cause("a", 1.0, shows),
        m.cause("b", 1.0, {**shows, "l3": {"dark": 0.98}}),
        m.cause("c", 1.0, {f"l{n}": {"dark": 0.98} for n in range(3, 6)}),
    ]
    table = compile(m.machine(lamps, causes))
    found = unlisted.simulate(table, 10)
    assert {(cause, twin) for cause, twin, _ in found.twins} == {("a", "b"), ("b", "a")}
    assert {stop.cause for stop in found.stops} == {"c"}
    # One lamp that only a slip explains: .98 of the time, log2(.9704 / .0296) or so.
    bits = unlisted.divergence(table)
    p = (1 - 0.02) * 0.98 + 0.01
    expected = p * np.log2(p / 0.01) + (1 - p) * np.log2((1 - p) / 0.99)
    assert bits[1, 0] == pytest.approx(expected)


def test_an_unwritten_cause_like_none_shows_what_written_ones_show_on_average() -> None:
    """By hand: six causes, one of which darkens the lamp, and the even spread with the weight of thirty."""
    table = sharp()
    dark = table.columns(0).stop - 1
    listed = 0.98 * 0.98 + 0.01 + 5 * 0.01
    assert table.p[-2, dark] == pytest.approx((listed + 30 * 0.2) / 36)
    assert table.p[-2, table.columns(0)].sum() == pytest.approx(1.0)
