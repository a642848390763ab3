"""Handbook formulas against their worked values."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.panel import bus, cable, cycle, discharge, formulas, insulation, loop, pt100, three_phase, worked
from diag.panel.bus import Bus
from diag.panel.formulas import FORMULAS
from diag.panel.loop import Loop
from diag.panel.meter import BadReading
from diag.panel.worked import Worked


@pytest.mark.parametrize(
    "value",
    [
        pytest.param(w, marks=pytest.mark.source(w.source, found=w.found), id=f"{w.formula} of {', '.join(w.typed)}")
        for w in worked.WORKED
    ],
)
def test_worked_values(value: Worked) -> None:
    assert formulas.find(value.formula.upper()).name == value.formula
    assert worked.check(value).right, worked.check(value)


def test_every_formula_has_a_worked_value_and_a_wrong_one_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    assert worked.without() == ()
    for w in worked.WORKED:
        off = None if w.value is not None else 0.0
        assert not worked.check(replace(w, value=off)).right
        if w.value is not None:
            assert not worked.check(replace(w, value=w.value + 2 * w.tolerance + 1e-3)).right
    monkeypatch.setattr(worked, "WORKED", worked.WORKED[1:])
    assert worked.without() == ()
    monkeypatch.setattr(worked, "WORKED", ())
    assert worked.without() == tuple(FORMULAS)


@pytest.mark.source("IEC negative-sequence ratio of the same 460/467/450 V: 2.15 %", found="recomputed")
def test_the_iec_ratio_is_another_number() -> None:
    assert round(three_phase.negative_sequence(460, 467, 450), 2) == 2.15
    # By symmetrical components of a triangle with those sides, independently of the formula.
    ab, bc, ca = 460.0, 467.0, 450.0
    x = (ab**2 + ca**2 - bc**2) / (2 * ab)
    vab, vca = complex(ab, 0), -complex(x, math.sqrt(ca**2 - x**2))
    vbc = -(vab + vca)
    a = complex(-0.5, math.sqrt(3) / 2)
    one, other = abs(vab + a * vbc + a * a * vca), abs(vab + a * a * vbc + a * vca)
    assert three_phase.negative_sequence(ab, bc, ca) == pytest.approx(100 * min(one, other) / max(one, other))
    assert three_phase.negative_sequence(400, 400, 400) == pytest.approx(0, abs=1e-6)
    with pytest.raises(ValueError, match="cannot belong"):
        three_phase.negative_sequence(100, 100, 300)


@pytest.mark.source(
    "NEMA MG 1 derating curve: 2 % .95, 3 % .89-.90, 4 % .82, 5 % .76, within .01", found="read in public text"
)
def test_derating() -> None:
    for percent, share in ((2, 0.95), (3, 0.895), (4, 0.82), (5, 0.76)):
        assert three_phase.derating(percent) == pytest.approx(share, abs=0.01)
    assert three_phase.derating(0) == three_phase.derating(1) == 1
    assert three_phase.derating(5.01) is None


@pytest.mark.source("Winding pairs within about 5 %", found="common practice")
def test_winding_unbalance() -> None:
    assert three_phase.winding_unbalance(4.7, 4.7, 4.8) < three_phase.WINDING_LIMIT
    assert three_phase.winding_unbalance(4.7, 4.7, 9.4) > three_phase.WINDING_LIMIT


@pytest.mark.source("IEC 60228 class 5: 26.0, 19.5, 13.3, 7.98 ohm/km at 20 degC", found="read in public text")
def test_conductors() -> None:
    assert cable.OHM_PER_KM == {0.75: 26.0, 1: 19.5, 1.5: 13.3, 2.5: 7.98}


@pytest.mark.source(
    "IEC 60228 correction to 20 degC at 70 degC: 0.833 (the physical law gives 0.836)", found="read in public text"
)
def test_conductor_temperature() -> None:
    assert 1 / cable.at_temperature(1, 70) == pytest.approx(0.833, abs=5e-4)
    assert cable.at_temperature(13.3, 20) == 13.3
    with pytest.raises(ValueError, match="between"):
        cable.at_temperature(1, 500)


@given(st.floats(-200, 850))
@settings(max_examples=100, deadline=None)
def test_pt100_there_and_back(celsius: float) -> None:
    assert pt100.celsius(pt100.ohms(celsius)) == pytest.approx(celsius, abs=1e-6)


@pytest.mark.source("IEC 60751 classes: A 0.15 + 0.002 |t|, B 0.3 + 0.005 |t|", found="read in public text")
def test_pt100_tolerance_and_range() -> None:
    assert pt100.tolerance(-100, "A") == pytest.approx(0.35)
    assert pt100.tolerance(200) == pytest.approx(1.3)
    for ohm in (0, 18.5, 391, math.inf, math.nan):
        with pytest.raises(ValueError, match="outside"):
            pt100.celsius(ohm)


@pytest.mark.source("NAMUR NE 43: valid 3.8-20.5 mA, failed at <= 3.6 and >= 21 mA", found="read in public text")
@pytest.mark.parametrize(
    ("current", "says"),
    [(0, Loop.FAILED_LOW), (3.6, Loop.FAILED_LOW), (3.7, Loop.UNSURE_LOW), (3.8, Loop.VALID), (20.5, Loop.VALID),
     (20.7, Loop.UNSURE_HIGH), (21, Loop.FAILED_HIGH), (math.inf, Loop.FAILED_HIGH)],
)  # fmt: skip
def test_loop_bands(current: float, says: Loop) -> None:
    assert loop.band(current) is says


def test_loop_there_and_back() -> None:
    assert loop.milliamps(loop.percent(7.3)) == pytest.approx(7.3)
    for current in (3.6, 21.0):
        with pytest.raises(ValueError, match="NE 43"):
            loop.percent(current)


def test_discharge_time_is_a_caution() -> None:
    assert "permits nothing" in discharge.CAUTION
    assert FORMULAS["discharge time"].caution == discharge.CAUTION


@pytest.mark.source(
    "ISO 11898-2: 60 ohm healthy, 120 one missing, 40 one extra, near 0 a short", found="read in public text"
)
@pytest.mark.parametrize(
    ("ohm", "says"),
    [(60, Bus.HEALTHY), (58, Bus.HEALTHY), (120, Bus.ONE), (40, Bus.EXTRA), (0, Bus.SHORT), (2, Bus.SHORT),
     (80, Bus.UNSURE), (math.inf, Bus.NONE), (20e3, Bus.NONE), (20, Bus.UNSURE)],
)  # fmt: skip
def test_bus_termination(ohm: float, says: Bus) -> None:
    assert bus.judge(ohm) is says


@pytest.mark.source("IEEE 43: polarization index >= 1.5 class A, >= 2.0 classes B, F, H", found="read in public text")
def test_polarization_index() -> None:
    assert insulation.index_is_enough(1.5, "A")
    assert not insulation.index_is_enough(1.5, "F")
    assert not insulation.index_means_something(6000)
    with pytest.raises(ValueError, match="positive"):
        insulation.polarization_index(120, math.inf)


@pytest.mark.source("IEEE 802.3: a least frame takes 84 byte times, 6.72 us at 100 Mbit/s", found="from memory")
def test_cycle_budget() -> None:
    least = cycle.budget(1, 0, 0, 1, pass_on=0)
    assert least.once == pytest.approx(6.72)
    assert cycle.wire_bytes(1500) == 1538
    assert cycle.wire_bytes(1501) == 1538 + 84
    some = cycle.budget(8, 32, 2, 1)
    assert some.once == pytest.approx((8 * 32 + 38) * 0.08 + 16)
    assert some.used == pytest.approx(3 * some.once)
    assert some.fits
    most = cycle.budget(8, 32, some.most_retries, 1)
    assert most.fits
    assert not cycle.budget(8, 32, some.most_retries + 1, 1).fits
    assert cycle.budget(60, 200, 0, 0.25).most_retries == -1


def test_a_slip_of_many_zeros_takes_no_memory() -> None:
    share = FORMULAS["cycle budget"].compute(["999999999999", "999999999999", "0", "1"])
    assert share > 1e20
    assert not cycle.budget(10**12, 10**12, 0, 1).fits


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
