"""Which code a display shows."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.panel import decode, segments
from diag.panel.decode import FLOOR, Reading, cell, fault_belief, likelihoods, parse, step_likelihoods
from diag.panel.decode_trials import (
    LED_BEST,
    LED_DIGITS,
    LED_FLIP,
    bayes_rate,
    confusion,
    decoder_rate,
    step_confusion,
    tied_sights,
)
from diag.panel.display_faults import faults
from diag.panel.segments import GLYPHS, NoGlyph, bits

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
    "Breiman, Friedman, Olshen, Stone 1984, pp. 43-49: LED digits, best rate 74 %",
    found="74 % read in public text; .74002248 and 57 ties recomputed",
)
def test_the_led_display_domain_to_the_last_digit(record_property: Callable[[str, object], None]) -> None:
    digits = [GLYPHS[c] for c in LED_DIGITS]
    rate = bayes_rate(digits, LED_FLIP, LED_FLIP)
    record_property("figure", f"LED display domain, Bayes-optimal rate: {float(rate):.8f}")
    assert Fraction(1, 10) == LED_FLIP
    assert rate == LED_BEST == Fraction(74002248, 10**8)
    assert tied_sights(digits, LED_FLIP, LED_FLIP) == 57


def test_the_decoder_is_the_best_there_once_it_knows_the_chance() -> None:
    assert decoder_rate(LED_DIGITS, LED_FLIP, LED_FLIP, Reading(toggled=0.1)) == LED_BEST
    as_is = decoder_rate(LED_DIGITS, LED_FLIP, LED_FLIP)
    assert Fraction(739, 1000) < as_is < LED_BEST


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
    assert fault_belief([((without_d,) * 3, ["888"])])[0][0].kind == "segment driver"
    assert fault_belief([((eight, 0, eight), ["888"])])[0][0].kind == "digit driver"
    single = fault_belief([((without_d, eight, eight), ["888"])])[0][0]
    assert (single.kind, single.segment, single.digit) == ("one segment", 3, 0)
    assert "segment d of digit 1" in single.says
    healthy = fault_belief([((eight,) * 3, ["888"])])
    assert healthy[0][0].kind == "healthy"
    assert healthy[0][1] > 0.99


def test_several_sights_make_a_display_fault_likelier() -> None:
    sight = ((GLYPHS["E"] & ~bits("d"), GLYPHS["0"] & ~bits("d")), ["E0", "E4"])
    one, two = (decode.by_kind(fault_belief([sight] * n))["segment driver"] for n in (1, 2))
    assert one > 0.5
    assert two >= one
    assert sum(decode.by_kind(fault_belief([sight])).values()) == pytest.approx(1)
    with pytest.raises(ValueError, match="width"):
        fault_belief([sight, ((1,), ["1"])])


def test_a_code_that_scrolls_is_read_from_anywhere_in_its_round() -> None:
    codes = [("E04", "axis"), ("E07", "cell"), ("E40", "link")]
    for steps in ("E04 ", "04 E", " E04", "4 E0", "E04 E04", "E4 E04", "EE04 E0"):
        assert first(step_likelihoods(parse(steps), codes)) == "axis", steps
    assert first(step_likelihoods(parse("E40 "), codes)) == "link"
    assert first(step_likelihoods(parse("H21 H21"), codes)) == "other"


def test_the_confusion_table_is_a_table_of_shares() -> None:
    codes = ["E1", "E4", "E7", "00"]
    for code, taken in zip(codes, confusion([(c, c.lower()) for c in codes]), strict=True):
        assert (taken.pattern, taken.state) == (code, code.lower())
        for row in (taken.healthy, taken.faulty, taken.overall):
            assert sum(row.values()) == pytest.approx(1)
        assert taken.healthy == {taken.state: 1.0}
        assert taken.right > 0.98
        assert taken.faulty[taken.state] < taken.right
        assert taken.overall[taken.state] == taken.right


def test_codes_that_look_the_same_share_and_a_question_mark_never_draws_another_code() -> None:
    same = {t.pattern: t for t in confusion([("50", "five"), ("S0", "letter")])}
    assert same["50"].healthy == same["S0"].healthy == pytest.approx({"five": 0.5, "letter": 0.5})
    start, late = confusion([("C?", "start"), ("C8", "late")])
    assert start.healthy["start"] > 0.9
    assert late.healthy == {"late": 1.0}
    assert sum(start.overall.values()) == pytest.approx(1)
    with pytest.raises(NoGlyph):
        list(confusion([("MK", "text")]))


def test_a_shorter_code_stands_at_the_left_and_its_points_do_not_count() -> None:
    (one,) = confusion([("E.4", "e4")], digits=3)
    (same,) = confusion([("E4 ", "e4")], digits=3)
    assert one.faulty == same.faulty


def test_codes_in_steps_are_told_apart_from_anywhere_in_the_round() -> None:
    codes = (("L04", "earth"), ("L40", "hot"), ("L21", "encoder"), ("u", "bus"))
    for row in step_confusion(codes):
        assert sum(row.healthy.values()) == pytest.approx(1.0)
        assert sum(row.faulty.values()) == pytest.approx(1.0)
        # Without the gap L04 and L40 would be one round; a step that was overlooked may still be the gap.
        assert row.healthy[row.state] > 0.97
        assert row.faulty.get(row.state, 0.0) < row.healthy[row.state]
