"""Flash patterns from a tapping thumb."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.measure.tap_trials import WITHOUT_FLICKER
from diag.panel.lamps.flash import BLINK, FLASHES, OFF, OPEN_STANDARD, SLOW, STEADY, Pattern, parse
from diag.panel.lamps.taps import FLOOR, held, likelihoods, recognise, settled, too_fast


def best(weights: tuple[float, ...], patterns: tuple[Pattern, ...]) -> str:
    return patterns[weights.index(max(weights))].name


def test_single_flash_is_not_slow_flashing() -> None:
    """1200 ms apart is a single flash; 1600 ms a slow flashing, unless the machine's own single flash is that slow."""
    assert best(likelihoods([0, 1200, 2400, 3600, 4800], OPEN_STANDARD), OPEN_STANDARD) == "1 flash"
    assert best(likelihoods([0, 1700, 3400, 5100], OPEN_STANDARD), OPEN_STANDARD) == "slow flashing"
    own = {"one": parse("1 flash 200/1400 ms"), "slow": parse("blink 0.4 Hz"), "dark": OFF}
    states = recognise([0, 1600, 3200, 4800], own).states
    assert max(states, key=states.__getitem__) == "one"


@pytest.mark.source(
    "met in the field: a single flash of 200/1400 ms, and the words flashing and single flash swapped", found="own"
)
@pytest.mark.parametrize(
    "own",
    [
        {"flashing": parse("blink"), "single flash": parse("1 flash 200/1400 ms"), "dark": OFF},
        {"flashing": parse("1 flash"), "single flash": parse("blink"), "dark": OFF},
    ],
    ids=["slow", "swapped"],
)
def test_the_files_own_pattern_goes_before_the_standard(own: dict[str, Pattern]) -> None:
    """A state is what its pattern in the file is, whatever the standard means by its name."""
    for state, pattern in own.items():
        if pattern.period:
            states = recognise([float(n * pattern.period) for n in range(5)], own).states
            assert max(states, key=states.__getitem__) == state


def test_count_separates_flashes_with_the_same_gaps() -> None:
    two = [0, 400, 1600, 2000, 3200, 3600]
    three = [0, 400, 800, 2000, 2400, 2800]
    assert best(likelihoods(two, OPEN_STANDARD), OPEN_STANDARD) == "2 flashes"
    assert best(likelihoods(three, OPEN_STANDARD), OPEN_STANDARD) == "3 flashes"


def test_a_missed_and_a_doubled_tap_are_forgiven() -> None:
    assert best(likelihoods([0, 400, 2000, 2400, 4000, 4400, 4800], OPEN_STANDARD), OPEN_STANDARD) == "3 flashes"
    assert best(likelihoods([0, 110, 1200, 2400, 3600], OPEN_STANDARD), OPEN_STANDARD) == "1 flash"


def test_when_the_clock_began_does_not_matter() -> None:
    taps = [0.0, 410.0, 1590.0, 2010.0, 3220.0]
    plain = likelihoods(taps, OPEN_STANDARD)
    assert likelihoods([t + 1e6 for t in taps], OPEN_STANDARD) == pytest.approx(plain, rel=1e-6)
    assert likelihoods(taps[::-1], OPEN_STANDARD) == plain


def test_nothing_tapped_is_a_lamp_that_does_not_change() -> None:
    lit = likelihoods([], WITHOUT_FLICKER, until=6000, looks="lit")
    dark = likelihoods([], WITHOUT_FLICKER, until=6000, looks="dark")
    assert best(lit, WITHOUT_FLICKER) == "steady"
    assert best(dark, WITHOUT_FLICKER) == "off"
    assert settled(lit)
    assert settled(dark)


def test_too_fast_to_tap_is_flicker() -> None:
    found = too_fast(OPEN_STANDARD)
    assert best(found, OPEN_STANDARD) == "flicker"
    assert settled(found)


def test_a_key_held_down_is_no_tapping() -> None:
    repeats = [33.0 * n for n in range(300)]
    assert likelihoods(repeats, OPEN_STANDARD) == likelihoods([0.0], OPEN_STANDARD)


def test_a_pattern_that_the_file_does_not_know_shows() -> None:
    found = recognise([0, 400, 1600, 2000, 3200, 3600], {"one": FLASHES[0], "lit": STEADY})
    assert not found.fits
    assert found.patterns[0][0].name == "2 flashes"
    assert recognise([0, 1200, 2400, 3600], {"one": FLASHES[0], "lit": STEADY}).fits


def test_two_colours_may_be_tapped_both_or_one() -> None:
    among = (parse("alternating red/green 1 Hz"), SLOW, BLINK, FLASHES[0])
    assert best(likelihoods([0, 500, 1000, 1500, 2000], among), among).startswith("alternating")
    assert best(likelihoods([0, 1000, 2000, 3000], among), among).startswith("alternating")


def test_held_presses_tell_how_long_it_is_lit() -> None:
    """The same onsets, 1200 ms apart: lit for 200 ms or for 600 ms."""
    among = (FLASHES[0], parse("600/600 ms"))
    short = [(n * 1200.0, n * 1200.0 + 210) for n in range(4)]
    long = [(n * 1200.0, n * 1200.0 + 590) for n in range(4)]
    assert best(held(short, among), among) == "1 flash"
    assert best(held(long, among), among) == "600/600 ms"
    with pytest.raises(ValueError, match="after"):
        held([(0, 500), (400, 900)], among)


def test_held_presses_of_the_open_standards() -> None:
    rng = random.Random(5)
    right = 0
    patterns = (*FLASHES, SLOW)
    for pattern in patterns * 4:
        presses = []
        for n in range(4):
            for onset in pattern.onsets:
                down = n * pattern.period + onset + rng.gauss(0, 25)
                presses.append((down, down + pattern.phases[0].ms + rng.gauss(0, 25)))
        found = held(presses, OPEN_STANDARD)
        right += best(found, OPEN_STANDARD) == pattern.name
    assert right >= 19


def test_a_lamp_that_does_not_change_is_held_to_the_end_or_not_at_all() -> None:
    for presses, looks, name in (
        ([(500, 6000)], "lit", "steady"),
        ([(500, 6000)], "", "steady"),
        ([(500, 2000), (2080, 6000)], "lit", "steady"),
        ([], "lit", "steady"),
        ([], "dark", "off"),
    ):
        found = held(presses, WITHOUT_FLICKER, until=6000, looks=looks)  # type: ignore[arg-type]
        assert best(found, WITHOUT_FLICKER) == name
        assert settled(found)


def test_a_press_that_slipped_or_came_twice_is_one_press() -> None:
    plain = [(0.0, 200.0), (400.0, 600.0), (1600.0, 1800.0), (2000.0, 2200.0), (3200.0, 3400.0)]
    slipped = [(0.0, 90.0), (150.0, 200.0), *plain[1:]]
    twice = [*plain[:3], (1860.0, 1930.0), *plain[3:]]
    for presses in (plain, slipped, twice):
        found = held(presses, WITHOUT_FLICKER)
        assert best(found, WITHOUT_FLICKER) == "2 flashes"
        assert settled(found)


@given(st.lists(st.floats(-1e7, 1e7), max_size=40), st.sampled_from(["", "lit", "dark"]))
@settings(max_examples=40, deadline=None)
def test_any_times_give_likelihoods(times: list[float], looks: str) -> None:
    found = likelihoods(times, OPEN_STANDARD, looks=looks)  # type: ignore[arg-type]
    assert max(found) == 1.0
    assert all(FLOOR <= w <= 1 for w in found)


def test_times_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        likelihoods([0, float("nan")], OPEN_STANDARD)
