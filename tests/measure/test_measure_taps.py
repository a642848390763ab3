"""Simulated taps along a flash pattern, and how often it is told right."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.measure.tap_trials import TARGET, WITHOUT_FLICKER, confusion, press_along, tap_along
from diag.panel.lamps.flash import FLASHES, FLICKER, NORMAL, OFF, STEADY, Pattern


def test_right_in_97_percent_after_four_periods(record_property: Callable[[str, object], None]) -> None:
    table = confusion(trials=100, seed=7)
    record_property("figure", f"taps told right: {100 * table.rate:.2f} % of {100 * len(table.names)}")
    assert table.rate >= TARGET == 0.97
    assert all(sum(row) == pytest.approx(100) for row in table.counts)


def test_holding_is_told_as_well_as_tapping(record_property: Callable[[str, object], None]) -> None:
    table = confusion(trials=60, seed=7, hold=True)
    record_property("figure", f"held presses told right: {100 * table.rate:.2f} % of {60 * len(table.names)}")
    assert table.rate >= TARGET
    assert min(table.right) >= 0.9
    assert confusion(trials=20, seed=7, hold=True, doubled=0.2).rate >= 0.95, "a doubled press is forgiven"
    assert confusion(trials=20, seed=7, hold=True, jitter=250, missed=0.25).rate < 0.9, "the measure can fail"


def test_a_shaky_thumb_is_told_less_well() -> None:
    """The measure can fail: with 250 ms jitter and every fourth tap missed, nobody could tell."""
    assert confusion(trials=20, seed=7, jitter=250, missed=0.25).rate < 0.9


def test_the_simulated_thumb_is_reproducible_and_taps_each_flash() -> None:
    one, other = (tap_along(FLASHES[3], random.Random(3)) for _ in range(2))
    assert one == other
    exact = tap_along(NORMAL, random.Random(3), missed=0, doubled=0, periods=10)
    assert len(exact.taps) == 10
    assert tap_along(STEADY, random.Random(1)).taps == ()
    assert FLICKER not in WITHOUT_FLICKER


@given(st.sampled_from(WITHOUT_FLICKER), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_the_simulated_thumb_holds_one_press_after_the_other(pattern: Pattern, seed: int) -> None:
    watch = press_along(pattern, random.Random(seed), doubled=0.3)
    assert watch == press_along(pattern, random.Random(seed), doubled=0.3)
    edges = [at for press in watch.presses for at in press]
    assert all(a < b for a, b in pairwise(edges))
    assert all(0 <= at <= watch.until for at in edges)
    assert pattern is not OFF or not edges
