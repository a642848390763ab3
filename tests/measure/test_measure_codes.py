"""The decoder against the best possible rate, and what codes are taken for on a faulty display."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from diag.measure.decode_trials import (
    LED_BEST,
    LED_DIGITS,
    LED_FLIP,
    bayes_rate,
    confusion,
    decoder_rate,
    step_confusion,
    tied_observations,
)
from diag.panel.display.decode import Reading
from diag.panel.display.segments import GLYPHS, NoGlyph


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
    assert tied_observations(digits, LED_FLIP, LED_FLIP) == 57


def test_the_decoder_is_the_best_there_once_it_knows_the_chance() -> None:
    assert decoder_rate(LED_DIGITS, LED_FLIP, LED_FLIP, Reading(toggled=0.1)) == LED_BEST
    as_is = decoder_rate(LED_DIGITS, LED_FLIP, LED_FLIP)
    assert Fraction(739, 1000) < as_is < LED_BEST


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
