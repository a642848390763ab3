"""Text in columns: what a terminal needs for a text, wrapping at its width, and tables that leave nothing out."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from diag.cli.columns import cells, cut_to_columns, padded, table, wrap

NBSP = "\u00a0"
TEXT = st.text(st.sampled_from("ab é字漢-.\u0301" + NBSP), max_size=60)


def test_letters_take_the_columns_that_a_terminal_gives_them() -> None:
    assert cells("lamp") == 4
    assert cells("é") == cells("e\u0301") == 1
    assert cells("電源") == 4
    assert padded("電源", 6) == "電源  "
    assert cut_to_columns("abcdef", 4) == "abc~"
    assert cut_to_columns("電源灯", 4) == "電~"
    assert cut_to_columns("abc", 3) == "abc"


@given(TEXT, st.integers(2, 40), st.integers(0, 6))
def test_wrapped_text_keeps_to_the_width_and_loses_nothing(text: str, width: int, indent: int) -> None:
    lines = wrap(text, width + indent, " " * indent, " " * indent)
    assert all(cells(line) <= width + indent for line in lines)
    assert "".join("".join(lines).split(" ")) == "".join(text.split(" "))


def test_a_number_and_its_unit_are_not_parted() -> None:
    assert wrap(f"of all 39{NBSP}% and more", 9) == ["of all", f"39{NBSP}% and", "more"]


def test_the_last_field_is_wrapped_in_its_column_or_goes_below() -> None:
    rows = [("lamp", "green", "the lamp that is lit while there is voltage"), ("x", "y", "")]
    assert list(table(rows, 40, 2)) == [
        "  lamp  green  the lamp that is lit",
        "               while there is voltage",
        "  x     y",
    ]
    assert list(table(rows, 24, 2)) == [
        "  lamp  green",
        "      the lamp that is",
        "      lit while there is",
        "      voltage",
        "  x     y",
    ]
    assert list(table([], 80)) == []
