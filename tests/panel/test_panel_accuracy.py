"""What a meter's accuracy and a dead lamp make of evidence."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.panel.lamps import dead_lamp as lamps
from diag.panel.lamps.flash import OFF, STEADY, parse
from diag.panel.meter import accuracy
from diag.panel.meter.accuracy import EXACT, Accuracy, band_weights, near_limit
from diag.panel.meter.meter import BadReading, Measured
from diag.panel.meter.meter import parse as read


@dataclass(frozen=True)
class Band:
    state: str
    low: float | None
    high: float | None


SUPPLY = (Band("absent", None, 5), Band("low", 5, 20.4), Band("good", 20.4, 28.8), Band("high", 28.8, None))


@pytest.mark.source(
    "Meter data sheets: accuracy = percent of reading + counts of the last digit", found="common practice"
)
def test_half_width_of_the_interval() -> None:
    assert Accuracy(0.5, 3).half_width(read("20.0", "V")) == pytest.approx(0.1 + 0.3)
    assert Accuracy(0.5, 3).half_width(read("20.00", "V")) == pytest.approx(0.1 + 0.03)
    assert Accuracy(1, 2).half_width(read("-12", "V")) == pytest.approx(0.12 + 2)
    assert Accuracy(1, 2).half_width(read("OL", "V")) == 0


@pytest.mark.parametrize(
    ("text", "percent", "counts"),
    [
        ("0.5 %", 0.5, 0),
        ("0,5% + 3", 0.5, 3),
        ("\u00b1(1.0 % + 2 digits)", 1, 2),
        ("+-1.2 % of reading + 4 counts", 1.2, 4),
    ],
)
def test_accuracy_as_data_sheets_write_it(text: str, percent: float, counts: float) -> None:
    assert accuracy.parse(text) == Accuracy(percent, counts)


@pytest.mark.parametrize("text", ["", "good", "0.5", "3 counts", "-1 %", "nan %", "1 % + -2", "5 % + 3 + 2", "%" * 100])
def test_what_is_no_accuracy_is_refused(text: str) -> None:
    with pytest.raises(BadReading):
        accuracy.parse(text)


def test_a_reading_near_a_limit_lies_in_both_bands() -> None:
    """20.3 V with an interval of 0.4 V each side: 19.9 to 20.7, of which 0.5 lies below 20.4 and 0.3 above."""
    weights = band_weights(Measured(20.3, "V", step=0.1), SUPPLY, Accuracy(0, 4))
    assert weights == pytest.approx({"low": 1.0, "good": 0.6})
    assert near_limit(weights) == "Near a limit for this meter: low 62 %, good 38 %."
    assert near_limit(band_weights(read("23.9", "V"), SUPPLY, Accuracy(1, 2))) == ""


def test_a_boundary_value_belongs_to_the_normal_band() -> None:
    for text in ("20.4", "28.8"):
        assert band_weights(read(text, "V"), SUPPLY, EXACT, "good") == {"good": 1.0}
    assert band_weights(read("5", "V"), SUPPLY, EXACT, "good") == {"absent": 1.0}


def test_an_overload_lies_above() -> None:
    insulation = (Band("bad", None, 1e6), Band("fair", 1e6, 50e6), Band("good", 50e6, None))
    assert band_weights(read("OL", "ohm"), insulation) == {"good": 1.0}
    assert band_weights(read(">40M", "ohm"), insulation) == {"fair": 1.0, "good": 1.0}
    assert band_weights(read("-OL", "V"), SUPPLY) == {"absent": 1.0}
    with pytest.raises(ValueError, match="without bands"):
        band_weights(read("1", "V"), ())


@given(st.floats(-100, 100), st.floats(0, 10), st.integers(0, 20))
@settings(max_examples=100, deadline=None)
def test_weights_are_the_shares_of_the_interval(value: float, percent: float, counts: int) -> None:
    measured, meter = Measured(value, "V", step=0.1), Accuracy(percent, counts)
    weights = band_weights(measured, SUPPLY, meter, "good")
    assert max(weights.values()) == 1.0
    states = [b.state for b in SUPPLY]
    at = [states.index(s) for s in weights]
    assert at == list(range(at[0], at[0] + len(at))), "bands that touch"
    exact = band_weights(measured, SUPPLY, EXACT, "good")
    assert set(exact) <= set(weights) or meter.half_width(measured) < 1e-9


# ---------------------------------------------------------------- lamps


def test_a_dark_lamp_is_weaker_evidence_than_a_lit_one() -> None:
    states = {"lit": STEADY, "fault": parse("red blink 1 Hz"), "dark": OFF}
    lit, dark = (lamps.through({look: 1.0}, states, "green") for look in ("lit", "dark"))
    bits_lit = math.log2(lit["lit"] / lit["dark"])
    bits_dark = math.log2(dark["dark"] / dark["lit"])
    assert bits_lit > bits_dark > 0
    assert dark["lit"] == dark["fault"] == lamps.DEAD
    assert lamps.through({"dark": 1.0}, states, "green", dead=0)["lit"] == 0
    with pytest.raises(ValueError, match="between"):
        lamps.through({"lit": 1.0}, states, dead=1)


def test_a_lamp_of_two_colours_that_lost_one_looks_like_a_blink() -> None:
    states = {"both": parse("alternating red/green 1 Hz"), "green": parse("green blink 1 Hz"), "dark": OFF}
    blink = lamps.through({"green": 1.0}, states)
    assert blink["green"] > blink["both"] == pytest.approx(lamps.DEAD)
    assert blink["dark"] == pytest.approx(lamps.FALSE_LIGHT / 2)
    dark = lamps.through({"dark": 1.0}, states)
    assert dark["both"] == dark["green"] == lamps.DEAD


@given(st.dictionaries(st.sampled_from(["lit", "both", "green", "dark"]), st.floats(0, 1), min_size=1))
def test_looks_of_a_lamp_are_chances(seen: dict[str, float]) -> None:
    states = {
        "lit": STEADY,
        "both": parse("alternating red/green 1 Hz"),
        "green": parse("green 2 flashes"),
        "dark": OFF,
    }
    found = lamps.through(seen, states, "red")
    assert set(found) == set(states)
    assert all(0 <= p <= 1 for p in found.values())
    for s in states:
        # What one state of the lamp may look like sums to at most 1.
        assert sum(lamps.through({look: 1.0}, states, "red")[s] for look in states) <= 1 + 1e-12
