"""Several voltages in one row."""

from __future__ import annotations

import pytest

from diag.panel.meter.meter import BadReading
from diag.panel.meter.volts import row


@pytest.mark.parametrize(
    ("typed", "volts"),
    [
        ("0.2 V", (0.2,)),
        ("0,1 0 .2 V", (0.1, 0.0, 0.2)),
        ("12 mV 0 V 0.3V", (0.012, 0.0, 0.3)),
        ("0/0/0 V d.c.", (0.0, 0.0, 0.0)),
        ("-3 400V", (-3.0, 400.0)),
        ("1.2 kV", (1200.0,)),
    ],
)
def test_a_unit_counts_for_the_figures_before_it(typed: str, volts: tuple[float, ...]) -> None:
    assert row(typed, len(volts)) == pytest.approx(volts)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "1 voltage is asked for"),
        ("   ", "here is none"),
        ("0", "Type the unit too"),
        ("0 V 0", "Type the unit too"),
        ("0 V 0 V", "here are 2"),
        ("V", "no figure before it"),
        ("OL V", "higher range"),
        ("nan V", None),
        ("dead V", None),
        ("0 ohm", "Type the unit too"),
        ("1e3 V", None),
        ("0 " * 200 + "V", "too long"),
    ],
)
def test_what_is_no_voltage_is_refused_and_never_taken_as_zero(typed: str, says: str | None) -> None:
    with pytest.raises(BadReading, match=says) as refused:
        row(typed, 1)
    assert "\n" not in str(refused.value)
