"""Flash patterns in words, and what a lamp shows at a time."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.panel.lamps import flash
from diag.panel.lamps.flash import BadPattern, lit_at, parse, phase_at


@pytest.mark.source("CiA 303-3 v1.4, indicator states", found="read in a public copy")
@pytest.mark.parametrize(
    ("words", "times", "period"),
    [
        ("flicker", (50, 50), 100),
        ("blink", (200, 200), 400),
        ("1 flash", (200, 1000), 1200),
        ("2 flashes", (200, 200, 200, 1000), 1600),
        ("3 flashes", (200, 200, 200, 200, 200, 1000), 2000),
        ("4 flashes", (200, 200, 200, 200, 200, 200, 200, 1000), 2400),
    ],
)
def test_patterns_of_cia_303_3(words: str, times: tuple[int, ...], period: int) -> None:
    pattern = parse(words)
    assert tuple(p.ms for p in pattern.phases) == times
    assert [p.lit for p in pattern.phases] == [i % 2 == 0 for i in range(len(times))]
    assert pattern.period == period


@pytest.mark.source("IEC 60073: slow 24-48, normal 84-168 flashes a minute", found="read in public text, weak")
@pytest.mark.parametrize(("pattern", "least", "most"), [(flash.SLOW, 24, 48), (flash.NORMAL, 84, 168)])
def test_rates_of_iec_60073(pattern: flash.Pattern, least: int, most: int) -> None:
    assert least <= 60_000 / pattern.period <= most
    assert pattern.periods is not None
    short, long = pattern.periods
    assert 60_000 / long == pytest.approx(least, rel=0.002)
    assert 60_000 / short == pytest.approx(most, rel=0.002)


def test_words_for_the_same_pattern() -> None:
    assert parse("single flash") == parse("1 flash")
    assert parse("  BLINK   1 Hz ") == parse("blink 1 Hz") == parse("flashing 1,0 hz")
    assert parse("blink 1 Hz").period == 1000
    assert parse("blink 2.5 Hz").period == parse("blink").period
    assert parse("dark") == flash.OFF
    assert parse("1 flash 200/1400 ms").period == 1600
    assert parse("200/1400").onsets == (0,)


def test_a_colour_in_front_and_two_colours_in_turn() -> None:
    red = parse("red blink 1 Hz")
    assert red.colour == "red"
    assert [lit_at(red, ms) for ms in (0, 499, 500, 999, 1000)] == [True, True, False, False, True]
    both = parse("alternating red/green 1 Hz")
    assert [phase_at(both, ms).colour for ms in (0, 499, 500, 1000)] == ["red", "red", "green", "red"]
    assert all(lit_at(both, ms) for ms in range(0, 1000, 50))
    assert both.onsets == (0, 500)


def test_what_is_lit_when() -> None:
    double = parse("2 flashes")
    assert [lit_at(double, ms) for ms in (0, 199, 200, 399, 400, 599, 600, 1599, 1600)] == [
        True, True, False, False, True, True, False, False, True,
    ]  # fmt: skip
    assert lit_at(flash.STEADY, 12345)
    assert not lit_at(flash.OFF, 0)
    assert flash.STEADY.onsets == flash.OFF.onsets == ()


@pytest.mark.parametrize(
    "words",
    [
        "", "red", "green green blink", "blink 0 Hz", "blink 99 Hz", "blink -1 Hz", "blink nan Hz", "17 flashes",
        "0 flashes", "alternating red/red", "alternating red/pink", "red alternating red/green", "2 flashes 200/1400",
        "200", "1/1 ms",
        "200/99999 ms", "blink \u00bd Hz", "\x1b[31m", "x" * 500, "/".join(["200"] * 34),
    ],
)  # fmt: skip
def test_what_is_no_pattern_gets_one_line(words: str) -> None:
    with pytest.raises(BadPattern) as refused:
        parse(words)
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 260


@given(st.lists(st.tuples(st.integers(5, 60_000), st.integers(5, 60_000)), min_size=1, max_size=16))
@settings(max_examples=80, deadline=None)
def test_times_read_back_and_light_for_their_share(pairs: list[tuple[int, int]]) -> None:
    times = [t for pair in pairs for t in pair]
    pattern = parse("/".join(map(str, times)) + " ms")
    assert [p.ms for p in pattern.phases] == times
    assert parse(pattern.name) == pattern
    at = 0
    for phase in pattern.phases:
        assert (
            lit_at(pattern, at)
            == lit_at(pattern, at + phase.ms - 1)
            == lit_at(pattern, at + pattern.period)
            == phase.lit
        )
        at += phase.ms
