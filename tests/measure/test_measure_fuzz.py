"""A sample of the fuzz, and what its own check for misreadings sees."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from diag.measure import panel_fuzz as fuzz
from diag.panel.lamps import flash
from diag.panel.meter import meter
from diag.panel.meter.meter import Measured


def test_a_sample_of_hostile_input_gives_no_wrong_reading(record_property: Callable[[str, object], None]) -> None:
    report = fuzz.run(20_000, seed=11)
    record_property("figure", f"panel parsers: {report.tried} inputs, {report.taken} taken, {len(report.wrong)} wrong")
    assert report.wrong == ()
    assert report.tried == report.taken + report.refused == 20_000
    assert report.taken > 4000
    assert report.refused > 4000


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("23.9", "V", 239.0),
        ("23.9", "V", 23.8),
        ("-5", "V", 5.0),
        ("1,234", "V", 1234.0),
        ("1.234,5", "V", 1.2345),
        ("1 234", "V", 1234.0),
        ("1k2k", "ohm", 1.2e6),
        ("\uff11\uff12", "V", 12.0),
        ("12:30", "V", 12.3),
    ],
)
def test_the_eye_sees_a_wrong_reading(text: str, unit: str, value: float) -> None:
    assert fuzz.doubt(text, unit, Measured(value, unit)) != ""


def test_a_parser_that_fails_or_misreads_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    real = meter.parse
    monkeypatch.setattr(meter, "parse", lambda text, unit: Measured(real(text, unit).value * 2, unit))
    assert any("not" in line or "digits" in line for line in fuzz.run(500).wrong)
    monkeypatch.setattr(meter, "parse", real)
    monkeypatch.setattr(flash, "parse", lambda text: 1 / 0)
    assert any("ZeroDivisionError" in line for line in fuzz.run(500).wrong)
