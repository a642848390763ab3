"""Which code a display shows."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.panel.display import decode, segments
from diag.panel.display.decode import FLOOR, cell, likeliest_fault, likelihoods, parse, step_likelihoods
from diag.panel.display.display_faults import faults
from diag.panel.display.segments import GLYPHS, NoGlyph, bits

CODES = [
    ("--", "idle"),
    ("C?", "start"),
    ("C8", "late"),
    ("E1", "e1"),
    ("E4", "e4"),
    ("E7", "e7"),
    ("E9", "e9"),
    ("00", "run"),
]


def first(found: dict[str, float]) -> str:
    return max(found, key=found.__getitem__)


def order(found: dict[str, float]) -> list[str]:
    return sorted(found, key=found.__getitem__, reverse=True)


@pytest.mark.source(
    "Breiman and others 1984: segments in order top, upper left, upper right, middle, ...", found="recomputed"
)
def test_our_digits_are_those_of_the_domain() -> None:
    """Order there: a f b g e c d."""
    table = "1110111 0010010 1011101 1011011 0111010 1101011 1101111 1010010 1111111 1111011"
    for digit, pattern in zip("0123456789", table.split(), strict=True):
        lit = {s for s, bit in zip("afbgecd", pattern, strict=True) if bit == "1"}
        assert set(segments.names(GLYPHS[digit])) == lit


def test_flips_sum_to_one_and_dark_is_likelier_than_stuck() -> None:
    dark, stuck = Fraction(1, 20), Fraction(1, 100)
    for lit in (0, GLYPHS["8"], GLYPHS["4"]):
        assert sum(decode.flipped(seen, lit, dark, stuck) for seen in range(128)) == 1
    assert decode.flipped(GLYPHS["0"], GLYPHS["8"], dark, stuck) > decode.flipped(GLYPHS["8"], GLYPHS["0"], dark, stuck)


def test_what_a_reader_types_is_a_distribution() -> None:
    for lit in range(128):
        assert sum(cell(c, lit) for c in decode.TYPED) == pytest.approx(1)
    assert sum(cell(seen, GLYPHS["8"]) for seen in range(128)) == pytest.approx(1)


def test_a_plain_sight_is_its_code() -> None:
    for code, state in CODES:
        if "?" not in code:
            assert first(likelihoods(parse(code), CODES)) == state
    assert first(likelihoods(parse("e4"), CODES)) == "e4"
    assert first(likelihoods(parse("OO"), CODES)) == "run"
    assert first(likelihoods(parse("E.9"), CODES)) == "e9"


def test_an_exact_code_beats_a_pattern_and_a_pattern_takes_the_rest() -> None:
    assert order(likelihoods(parse("C8"), CODES))[:2] == ["late", "start"]
    assert first(likelihoods(parse("C3"), CODES)) == "start"
    assert first(likelihoods(parse("H6"), CODES)) == "other"


def test_dark_segments_are_likelier_than_stuck_ones() -> None:
    """A 1 may be a 7 that lost its top; a 7 is a 1 with a stuck top only with worse luck."""
    seen_one, seen_seven = likelihoods(parse("E1"), CODES), likelihoods(parse("E7"), CODES)
    assert seen_one["e7"] > seen_seven["e1"] > FLOOR
    lost = likelihoods((GLYPHS["E"] & ~bits("d"), GLYPHS["4"]), CODES)
    assert order({s: w for s, w in lost.items() if s != "other"})[0] == "e4"
    assert lost["e4"] > 0.5, "an undeclared F4 may be likelier, but not by much"


def test_an_unread_digit_leaves_all_that_fits() -> None:
    found = likelihoods(parse("E?"), CODES)
    assert min(found[s] for s in ("e1", "e4", "e7", "e9")) > 0.9
    assert found["start"] < 0.1


def test_a_state_with_several_codes_and_a_code_without_a_shape() -> None:
    codes = [("E1", "drive"), ("E2", "drive"), ("MK", "text")]
    assert first(likelihoods(parse("E2"), codes)) == "drive"
    assert likelihoods(["M", "K"], [("MK", "text")]) == pytest.approx({"text": 1.0, "other": FLOOR}, abs=1e-3)


def test_what_does_not_fit_or_has_no_shape_is_refused() -> None:
    with pytest.raises(ValueError, match="do not fit"):
        likelihoods(parse("E14"), CODES)
    with pytest.raises(NoGlyph):
        parse("EM")


@given(st.lists(st.one_of(st.none(), st.integers(0, 127), st.sampled_from(decode.TYPED)), min_size=0, max_size=2))
@settings(max_examples=60, deadline=None)
def test_any_sight_gives_likelihoods(seen: list[decode.Seen]) -> None:
    found = likelihoods(seen, CODES)
    assert max(found.values()) == 1
    assert all(FLOOR <= w <= 1 for w in found.values())
    assert set(found) == {state for _, state in CODES} | {"other"}


def test_priors_of_the_displays_own_faults_sum_to_one() -> None:
    for digits in (1, 2, 8):
        assert sum(p for _, p in faults(digits)) == pytest.approx(1)
    assert not any(f.kind == "segment driver" for f, _ in faults(1))


@pytest.mark.source(
    "Dark in every digit: segment driver; one digit: digit driver; one segment once: that LED", found="common practice"
)
def test_a_lamp_test_tells_the_displays_faults_apart() -> None:
    eight = GLYPHS["8"]
    without_d = eight & ~bits("d")
    assert likeliest_fault((without_d,) * 3, ["888"]).kind == "segment driver"
    assert likeliest_fault((eight, 0, eight), ["888"]).kind == "digit driver"
    single = likeliest_fault((without_d, eight, eight), ["888"])
    assert (single.kind, single.segment, single.digit) == ("one segment", 3, 0)
    assert "segment d of digit 1" in single.says
    assert likeliest_fault((eight,) * 3, ["888"]).kind == "healthy"


def test_a_segment_dark_in_every_digit_is_its_driver_whatever_was_shown() -> None:
    sight = (GLYPHS["E"] & ~bits("d"), GLYPHS["0"] & ~bits("d"))
    assert likeliest_fault(sight, ["E0", "E4"]).kind == "segment driver"
    with pytest.raises(ValueError, match="width"):
        likeliest_fault(sight, ["E0", "1"])


def test_a_code_that_scrolls_is_read_from_anywhere_in_its_round() -> None:
    codes = [("E04", "axis"), ("E07", "cell"), ("E40", "link")]
    for steps in ("E04 ", "04 E", " E04", "4 E0", "E04 E04", "E4 E04", "EE04 E0"):
        assert first(step_likelihoods(parse(steps), codes)) == "axis", steps
    assert first(step_likelihoods(parse("E40 "), codes)) == "link"
    assert first(step_likelihoods(parse("H21 H21"), codes)) == "other"
