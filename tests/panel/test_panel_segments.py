"""Seven-segment shapes and their drawing."""

from __future__ import annotations

import pytest

from diag.panel.display import segments
from diag.panel.display.segments import GLYPHS, VARIANTS, NoGlyph, characters, glyph, render


@pytest.mark.source(
    "Usual hex glyphs, bit 0 = a: 3F 06 5B 4F 66 6D 7D 07 7F 6F 77 7C 39 5E 79 71", found="read in public text"
)
def test_hex_digits_have_their_usual_shapes() -> None:
    table = "3F 06 5B 4F 66 6D 7D 07 7F 6F 77 7C 39 5E 79 71"
    assert " ".join(f"{GLYPHS[c]:02X}" for c in "0123456789AbCdEF") == table


@pytest.mark.source("One lost segment: 8->0(g) 6(b) 9(e) A(d) and the rest of the list", found="recomputed")
@pytest.mark.parametrize(
    ("shown", "lost", "reads"),
    ["8g0", "8b6", "8e9", "8dA", "9f3", "9b5", "6e5", "6ab", "6cE", "7a1", "EdF", "EgC", "AcP", "AaH"],
)
def test_one_lost_segment_reads_as_another_character(shown: str, lost: str, reads: str) -> None:
    assert reads in characters(glyph(shown) & ~segments.bits(lost))


def test_variants_of_six_nine_and_seven() -> None:
    assert {c: segments.names(other) for c, (_, other) in VARIANTS.items()} == {"6": "cdefg", "9": "abcfg", "7": "abcf"}
    assert VARIANTS["6"][1] == glyph("b")


def test_same_shapes() -> None:
    assert glyph("0") == glyph("O")
    assert glyph("5") == glyph("S")
    assert glyph("1") == glyph("I")
    assert glyph("2") == glyph("Z")


def test_every_letter_that_has_a_shape_and_no_other() -> None:
    for letter in "ABCDEFGHIJLNOPQRSTUYZ":
        assert glyph(letter)
        assert glyph(letter.lower())
    for letter in "KMVWX*\u00e9\x1b":
        with pytest.raises(NoGlyph) as refused:
            glyph(letter)
        assert str(refused.value).isprintable()


def test_points_belong_to_the_digit_before() -> None:
    assert segments.cells("E.04") == (glyph("E") | segments.DP, glyph("0"), glyph("4"))
    assert segments.cells(".5") == (segments.DP, glyph("5"))
    assert segments.cells("8..") == (glyph("8") | segments.DP, segments.DP)


def test_drawing_in_boxes() -> None:
    assert render("E.4") == ("┏━╸ ╻ ╻ ", "┣━╸ ┗━┫ ", "┗━╸.  ╹ ")


def test_no_two_shapes_are_drawn_alike() -> None:
    assert len({segments.draw([d]) for d in range(256)}) == 256


def test_width_fills_up_and_refuses() -> None:
    assert all(len(row) == 16 for row in render("E4", 4))
    with pytest.raises(ValueError, match="do not fit"):
        render("12345", 4)


def test_bits_and_names_are_each_others_inverse() -> None:
    for value in range(128):
        assert segments.bits(segments.names(value)) == value
    with pytest.raises(NoGlyph):
        segments.bits("ax")
