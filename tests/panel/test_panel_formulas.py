"""Handbook formulas against their worked values."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from diag.panel.formulas import power, signals
from diag.panel.formulas.formulas import FORMULAS
from diag.panel.formulas.signals import Bus, Loop
from diag.panel.meter.meter import BadReading


@pytest.mark.source("IEC negative-sequence ratio of the same 460/467/450 V: 2.15 %", found="recomputed")
def test_the_iec_ratio_is_another_number() -> None:
    """By the symmetrical components of a triangle with those sides."""
    ab, bc, ca = 460.0, 467.0, 450.0
    x = (ab**2 + ca**2 - bc**2) / (2 * ab)
    vab, vca = complex(ab, 0), -complex(x, math.sqrt(ca**2 - x**2))
    vbc = -(vab + vca)
    a = complex(-0.5, math.sqrt(3) / 2)
    one, other = abs(vab + a * vbc + a * a * vca), abs(vab + a * a * vbc + a * vca)
    assert round(100 * min(one, other) / max(one, other), 2) == 2.15
    assert round(power.voltage_unbalance(ab, bc, ca), 2) == 1.96


@pytest.mark.source(
    "NEMA MG 1 derating curve: 2 % .95, 3 % .89-.90, 4 % .82, 5 % .76, within .01", found="read in public text"
)
def test_derating() -> None:
    for percent, share in ((2, 0.95), (3, 0.895), (4, 0.82), (5, 0.76)):
        assert power.derating(percent) == pytest.approx(share, abs=0.01)
    assert power.derating(0) == power.derating(1) == 1
    assert power.derating(5.01) is None


@pytest.mark.source("Winding pairs within about 5 %", found="common practice")
def test_winding_unbalance() -> None:
    assert power.winding_unbalance(4.7, 4.7, 4.8) < power.WINDING_LIMIT
    assert power.winding_unbalance(4.7, 4.7, 9.4) > power.WINDING_LIMIT


@pytest.mark.source("IEC 60228 class 5: 26.0, 19.5, 13.3, 7.98 ohm/km at 20 degC", found="read in public text")
def test_conductors() -> None:
    assert power.OHM_PER_KM == {0.75: 26.0, 1: 19.5, 1.5: 13.3, 2.5: 7.98}


@given(st.floats(-200, 850))
@example(-199.9375)
@settings(max_examples=100, deadline=None)
def test_pt100_there_and_back(celsius: float) -> None:
    assert signals.pt100_celsius(signals.pt100_ohms(celsius)) == pytest.approx(celsius, abs=1e-6)


def test_pt100_range() -> None:
    for ohm in (0, 18.5, 391, math.inf, math.nan):
        with pytest.raises(ValueError, match="outside"):
            signals.pt100_celsius(ohm)


@pytest.mark.source("NAMUR NE 43: valid 3.8-20.5 mA, failed at <= 3.6 and >= 21 mA", found="read in public text")
@pytest.mark.parametrize(
    ("current", "says"),
    [(0, "failed, low"), (3.6, "failed, low"), (3.7, "neither, low"), (3.8, "valid"), (20.5, "valid"),
     (20.7, "neither, high"), (21, "failed, high"), (math.inf, "failed, high")],
)  # fmt: skip
def test_loop_bands(current: float, says: Loop) -> None:
    assert signals.loop_band(current) == says


def test_a_failed_loop_has_no_percent() -> None:
    for current in (3.6, 21.0):
        with pytest.raises(ValueError, match="NE 43"):
            signals.loop_percent(current)


def test_discharge_time_is_a_caution() -> None:
    assert "permits nothing" in power.DISCHARGE_CAUTION
    assert FORMULAS["discharge time"].caution == power.DISCHARGE_CAUTION


@pytest.mark.source(
    "ISO 11898-2: 60 ohm healthy, 120 one missing, 40 one extra, near 0 a short", found="read in public text"
)
@pytest.mark.parametrize(
    ("ohm", "says"),
    [
        (60, "two terminators"),
        (58, "two terminators"),
        (120, "one terminator missing"),
        (40, "a terminator too many"),
        (0, "wires shorted"),
        (2, "wires shorted"),
        (80, "cannot say"),
        (math.inf, "no terminator, or the wire is open"),
        (20e3, "no terminator, or the wire is open"),
        (20, "cannot say"),
    ],
)
def test_bus_termination(ohm: float, says: Bus) -> None:
    assert signals.bus_state(signals.terminators(ohm)) == says


@pytest.mark.source("IEEE 43: polarization index >= 1.5 class A, >= 2.0 classes B, F, H", found="read in public text")
def test_polarization_index() -> None:
    assert power.LEAST_INDEX == {"A": 1.5, "B": 2.0, "F": 2.0, "H": 2.0}
    says = FORMULAS["polarization index"].says
    assert says is not None
    assert "1.5 for class A and 2.0 for B, F and H" in says(2.0)
    with pytest.raises(ValueError, match="positive"):
        power.polarization_index(120, math.inf)


@pytest.mark.source("IEEE 802.3: a least frame takes 84 byte times, 6.72 us at 100 Mbit/s", found="from memory")
def test_cycle_budget() -> None:
    assert signals.wire_bytes(0) * 0.08 == pytest.approx(6.72)
    assert signals.wire_bytes(1500) == 1538
    assert signals.wire_bytes(1501) == 1538 + 84
    once = (8 * 32 + 38) * 0.08 + 16
    assert signals.cycle_percent(8, 32, 0, 1) == pytest.approx(once / 10)
    assert signals.cycle_percent(8, 32, 2, 1) == pytest.approx(3 * once / 10)
    says = FORMULAS["cycle budget"].says
    assert says is not None
    fits = "20 exchanges of 39.52 us take 790.4 us of the 800 that may be used"
    assert says(signals.cycle_percent(8, 32, 19, 1)).startswith("Fits"), fits
    assert says(signals.cycle_percent(8, 32, 20, 1)).startswith("Does not fit")
    assert says(signals.cycle_percent(60, 200, 0, 0.25)).startswith("Does not fit")


def test_a_slip_of_many_zeros_takes_no_memory() -> None:
    assert FORMULAS["cycle budget"].compute(["999999999999", "999999999999", "0", "1"]) > 1e20


def test_every_formula_says_what_it_asks_and_where_it_is_from() -> None:
    for name, formula in FORMULAS.items():
        assert name == formula.name == name.lower()
        assert formula.prompts
        assert formula.source
        value = formula.compute([p.example for p in formula.prompts])
        assert math.isfinite(value)
        if formula.says is not None:
            assert formula.says(value).isprintable()


@pytest.mark.parametrize(
    ("name", "answers"),
    [
        ("voltage unbalance", ["400", "400"]),
        ("voltage unbalance", ["0", "400", "400"]),
        ("voltage unbalance", ["400", "400", "OL"]),
        ("voltage unbalance", ["400", "400", "4 A"]),
        ("voltage drop", ["50", "1", "3"]),
        ("pt100 temperature", ["12"]),
        ("loop percent", ["3.5"]),
        ("discharge time", ["565", "0", "22k"]),
        ("polarization index", ["0", "5"]),
        ("cycle budget", ["0", "32", "2", "1"]),
        ("cycle budget", ["OL", "32", "2", "1"]),
        ("cycle budget", ["2.5", "32", "2", "1"]),
        ("cycle budget", ["8", "32", "2", "0"]),
    ],
)
def test_answers_without_a_result_get_one_line(name: str, answers: list[str]) -> None:
    with pytest.raises(BadReading) as refused:
        FORMULAS[name].compute(answers)
    assert str(refused.value).isprintable()


@given(
    st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=1, max_size=4), st.sampled_from(list(FORMULAS))
)
@settings(max_examples=200, deadline=None)
def test_no_numbers_give_any_other_error(values: list[float], name: str) -> None:
    formula = FORMULAS[name]
    try:
        formula.of(values)
    except BadReading:
        return
    assert len(values) == len(formula.prompts)
