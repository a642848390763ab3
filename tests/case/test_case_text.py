"""Text made safe and legible: what is cleaned, what stays together, and how a share is told."""

from __future__ import annotations

import textwrap
import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from diag.text import NBSP, bar, clean, one_line, percent, plain_ascii


def test_what_steers_a_terminal_becomes_a_space_and_nothing_else_moves() -> None:
    assert clean("a\x1b[31m\tb\u202ec\nd\u2028e\ud800f") == "a [31m b c\nd e f"
    assert one_line(" a\x1b[31m\t b\u202ec\n\u2003d ") == "a [31m b c d"
    assert clean("E0?\x07") == "E0? ", "no question mark is added: in a code it means an unreadable character"


@given(st.text())
def test_cleaned_text_is_harmless_keeps_its_columns_and_is_clean(text: str) -> None:
    cleaned = clean(text)
    assert len(cleaned) == len(text)
    assert all(c == "\n" or unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"} for c in cleaned)
    assert clean(cleaned) == cleaned
    line = one_line(text)
    assert len(line.splitlines()) <= 1
    assert one_line(line) == line == line.strip(" ")
    assert "  " not in line


def test_a_percent_sign_never_parts_from_its_number() -> None:
    text = one_line(f"Main switch left off, {percent(0.39)} likely now")
    for width in range(6, 40):
        lines = textwrap.wrap(text, width, break_long_words=False)
        assert sum(f"39{NBSP}%" in line for line in lines) == 1, width
    assert one_line(f"Jane{NBSP}Doe{NBSP} 5") == "Jane Doe 5", "elsewhere it is a space like any other"


def test_no_share_is_told_as_never_or_surely() -> None:
    shares = (0.0, 1e-9, 0.0049, 0.0051, 0.394, 0.9949, 0.9951, 1.0)
    said = [percent(share).replace(NBSP, " ") for share in shares]
    assert said == ["0 %", "<1 %", "<1 %", "1 %", "39 %", "99 %", ">99 %", "100 %"]
    assert max(len(percent(n / 1000)) for n in range(1001)) == 5


def test_a_bar_is_as_wide_as_asked_and_never_empty_above_nothing() -> None:
    bars = {0.0: "    ", 1e-6: "▏   ", 0.5: "██  ", 0.53: "██▏ ", 1.0: "████", 1.2: "████"}
    assert {share: bar(share, 4) for share in bars} == bars
    plain = {0.0: "    ", 1e-6: "#   ", 0.53: "##  ", 0.66: "### ", 1.0: "####"}
    assert {share: plain_ascii(bar(share, 4)) for share in plain} == plain
    assert plain_ascii(f"{percent(0.39)} für “A”") == "39 % f?r ?A?"
