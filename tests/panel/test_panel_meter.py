"""A meter reading as people write it."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.panel.meter.meter import BadReading, parse
from diag.panel.meter.plausible import implausible


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("23.9", "V d.c.", 23.9),
        ("23,9 V", "V d.c.", 23.9),
        ("  23.9V ", "V d.c.", 23.9),
        ("24 volts DC", "V d.c.", 24.0),
        ("230 V~", "V a.c.", 230.0),
        ("-12", "V d.c.", -12.0),
        ("\u221212", "V d.c.", -12.0),
        ("+12", "V d.c.", 12.0),
        (".5", "V", 0.5),
        (",5", "V", 0.5),
        ("5.", "V", 5.0),
        ("1.234", "V", 1.234),
        ("0,234", "V", 0.234),
        ("23900 mV", "V d.c.", 23.9),
        ("5 m", "V", 0.005),
        ("0.4 k", "ohm", 400.0),
        ("0.4 kohm", "ohm", 400.0),
        ("10 M\u03a9", "ohm", 10e6),
        ("10 M\u2126", "ohm", 10e6),
        ("10 megohm", "ohm", 10e6),
        ("5 Mohms", "ohm", 5e6),
        ("500k", "Mohm", 0.5),
        ("0.02 A", "mA", 20.0),
        ("20 mA", "A", 0.02),
        ("20", "mA", 20.0),
        ("600 kPa", "bar", 6.0),
        ("5500 mbar", "bar", 5.5),
        ("1 s", "ms", 1000.0),
        ("50 %", "%", 50.0),
        ("20 \u00b0C", "degC", 20.0),
        ("-20 C", "degC", -20.0),
        ("4.7 \u00b5F", "uF", 4.7),
        ("4.7 \u03bcF", "uF", 4.7),
        ("1450 r/min", "rpm", 1450.0),
        ("3 pcs", "pcs", 3.0),
        ("3", "", 3.0),
        ("-0", "V", 0.0),
    ],
)
def test_numbers_as_people_write_them(text: str, unit: str, value: float) -> None:
    found = parse(text, unit)
    assert found.value == value
    assert math.copysign(1, found.value) == math.copysign(1, value)
    assert found.unit == unit
    assert not found.overload


@pytest.mark.source("IEC 60062, letter codes for resistance: R, K, M in the place of the mark", found="from memory")
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("1k2", "ohm", 1200.0),
        ("1K2", "ohm", 1200.0),
        ("4M7", "ohm", 4.7e6),
        ("4R7", "ohm", 4.7),
        ("R47", "ohm", 0.47),
        ("59R04", "ohm", 59.04),
        ("1k2 ohm", "ohm", 1200.0),
        ("1k2 ohm", "kohm", 1.2),
        ("44R7", "kohm", 0.0447),
        ("3V3", "V d.c.", 3.3),
        ("1k2", "V", 1200.0),
    ],
)
def test_a_letter_in_the_place_of_the_mark(text: str, unit: str, value: float) -> None:
    assert parse(text, unit).value == value


@pytest.mark.parametrize(
    "text",
    [
        "", "   ", "V", "abc", ".", ",", "-", "1,234", "-1,234", "12,345 V", "1.234,5", "1,234.5", "1 234", "1'234",
        "1\u00a0234", "1.2.3", "1e3", "1E3", "12:30", "\u00bd", "1\u00bd", "\uff11\uff12", "\u0661\u0662", "--5",
        "+-5", "nan", "NaN", "inf", "-inf", "Infinity", "\u221e", "<5", "5-6", "1/2", "0x10", "1_000", "1\x1b[2J",
        "5\x00", "5V 3A", "1.2k2", "OLED", ">OL", ">-5", "12 MV", "9" * 16, "9" * 500,
    ],
)  # fmt: skip
def test_what_could_be_misread_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(BadReading) as refused:
        parse(text, "V")
    message = str(refused.value)
    assert message.isprintable()
    assert 10 < len(message) < 160


@pytest.mark.parametrize(
    ("text", "unit", "named"),
    [
        ("5 A", "V d.c.", "V d.c."),
        ("230 V a.c.", "V d.c.", "V d.c."),
        ("24 VDC", "V a.c.", "V a.c."),
        ("300 K", "degC", "degC"),
        ("68 degF", "degC", "degC"),
        ("12 m", "ms", "ms"),
        ("3 A", "pcs", "pcs"),
        ("10 m", "ohm", "ohm"),
        ("10 mohm", "ohm", "ohm"),
        ("10m5", "ohm", "ohm"),
        ("-3", "ohm", "ohm"),
        ("-230", "V a.c.", "V a.c."),
        ("3 V", "", "plain number"),
        ("OL", "", "plain number"),
        ("1k2k", "ohm", "1k2 ohm"),
        ("1k2 kohm", "ohm", "1k2 ohm"),
        ("1,234", "V", "1.234 or 1234"),
    ],
)
def test_a_refusal_names_the_right_one(text: str, unit: str, named: str) -> None:
    with pytest.raises(BadReading, match=named.replace(".", r"\.")):
        parse(text, unit)


@pytest.mark.parametrize("text", ["OL", "O.L", "0L", "0.L", ".OL", "ol", "OL Mohm", "overload"])
def test_an_overload_is_beyond_every_limit(text: str) -> None:
    found = parse(text, "ohm")
    assert found.overload
    assert found.value == math.inf


def test_a_bound_keeps_its_number() -> None:
    for text in (">40M", "> 40 Mohm", ">40M\u03a9"):
        found = parse(text, "ohm")
        assert (found.value, found.overload) == (40e6, True)
    assert parse("-OL", "V d.c.").value == -math.inf


def test_the_last_digit_is_worth_one_count() -> None:
    assert parse("23.90", "V").step == 0.01
    assert parse("1k2", "ohm").step == 100.0
    assert parse("12.5 mV", "V").step == 0.0001
    assert parse("OL", "V").step == 0.0


@pytest.mark.parametrize(
    ("value", "nominal", "unit", "asks"),
    [
        (480, 24, "V d.c.", "480"),
        (239, 24, "V d.c.", "23.9"),
        (23900, 24, "V d.c.", "23.9"),
        (-23.9, 24, "V d.c.", "other way round"),
        (2300, None, "V a.c.", "low-voltage"),
        (-300, None, "degC", "colder"),
        (600, 6, "bar", "6"),
    ],
)
def test_a_value_that_cannot_be_is_asked_about(value: float, nominal: float | None, unit: str, asks: str) -> None:
    question = implausible(value, nominal, unit)
    assert asks in question
    assert question.endswith("?")


@pytest.mark.parametrize(
    ("value", "nominal", "unit"),
    [
        (0, 24, "V d.c."),
        (-0.02, 24, "V d.c."),
        (31, 24, "V d.c."),
        (400, 230, "V a.c."),
        (1e9, 60, "ohm"),
        (3, None, "A"),
    ],
)
def test_a_fault_is_not_called_impossible(value: float, nominal: float | None, unit: str) -> None:
    assert implausible(value, nominal, unit) == ""


@given(st.integers(0, 10**9), st.integers(0, 6), st.sampled_from(["", " ", "V", " V", " mV"]))
@settings(max_examples=150, deadline=None)
def test_any_plain_number_comes_back_exactly(digits: int, places: int, after: str) -> None:
    text = f"{digits / 10**places:.{places}f}"
    wanted = float(text) if after.strip() != "mV" else float(f"{text}e-3")
    assert parse(text + after, "V").value == wanted


@given(st.text(max_size=50), st.sampled_from(["V d.c.", "ohm", "degC", "", "pcs", "\x00", "m" * 99]))
@settings(max_examples=300, deadline=None)
def test_no_text_and_no_unit_gives_any_other_error(text: str, unit: str) -> None:
    found = None
    with contextlib.suppress(BadReading):
        found = parse(text, unit)
    assert found is None or not math.isnan(found.value)
