"""Worked values of the derived readings: what a formula must give for what a person types, and who says so.

`WORKED` is the one table of them. The tests and `diag measure readings` both go through it. How a value was found is
said in the words of the tests: read in public text, recomputed (by hand from figures that were read), from memory,
common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from diag.panel.formulas.formulas import FORMULAS
from diag.panel.meter.meter import BadReading

Found = Literal["read in public text", "recomputed", "from memory", "common practice"]


@dataclass(frozen=True, slots=True)
class Worked:
    """One worked value of a formula."""

    formula: str
    typed: tuple[str, ...]
    """The answers to its prompts, as a person writes them."""
    value: float | None
    """In the unit of the formula's result; None where it must refuse to give one."""
    tolerance: float
    """How far the result may lie from `value`: half of the last digit that the source prints, where it prints it."""
    source: str
    found: Found


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the formula gave."""

    worked: Worked
    result: float | None
    """None where it gave none; then `refusal` says why."""
    refusal: str = ""

    @property
    def right(self) -> bool:
        """Whether it is the worked value, or a refusal that was due."""
        if self.result is None or self.worked.value is None:
            return self.result is self.worked.value
        return abs(self.result - self.worked.value) <= self.worked.tolerance + 1e-9


def check(worked: Worked) -> Outcome:
    """Compute it from what is typed."""
    try:
        return Outcome(worked, FORMULAS[worked.formula].compute(worked.typed))
    except BadReading as error:
        return Outcome(worked, None, str(error))


def without() -> tuple[str, ...]:
    """Formulas that have no worked value."""
    have = {w.formula for w in WORKED if w.value is not None}
    return tuple(name for name in FORMULAS if name not in have)


_UNBALANCE: Final = "voltage unbalance"
_NEMA: Final = "NEMA MG 1 14.36"
_WINDING: Final = "winding unbalance"
_PAIRS: Final = "largest deviation from the mean, over the mean"
_DROP: Final = "voltage drop"
_COPPER: Final = "IEC 60228 class 5 at 20 degC, both conductors: {} ohm/km"
_TO_CELSIUS: Final = "pt100 temperature"
_TO_OHM: Final = "pt100 resistance"
_PLATINUM: Final = "IEC 60751"
_ENDS: Final = "IEC 60751, the ends of its table"
_LOOP: Final = "loop percent"
_SPAN: Final = "4 mA is 0 %, 20 mA is 100 %"
_VALID: Final = "NAMUR NE 43: valid from 3.8 to 20.5 mA"
_FAILED: Final = "NAMUR NE 43: failed at 3.6 mA and below, at 21 mA and above"
_NEITHER: Final = "NAMUR NE 43: neither valid nor failed"
_DISCHARGE: Final = "discharge time"
_TO_60_V: Final = "t = R C ln(V0/60 V); 60 V: IEC 60204-1 6.2.4"
_BUS: Final = "bus termination"
_CAN: Final = "ISO 11898-2: 60 ohm healthy, 120 one missing"
_INDEX: Final = "polarization index"
_IEEE_43: Final = "IEEE 43: ten minutes over one minute"
_CYCLE: Final = "cycle budget"
_FRAMES: Final = "IEEE 802.3: a frame takes 84 to 1538 byte times of 0.08 us; 1 us a station each way is ours"

WORKED: Final = (
    Worked(_UNBALANCE, ("460", "467 V", "450 V a.c."), 1.96, 0.005, f"{_NEMA}, worked example", "read in public text"),
    Worked(_UNBALANCE, ("462", "463", "455"), 1.1, 0.05, f"{_NEMA}, published as 1.1", "read in public text"),
    Worked(_UNBALANCE, ("400", "400", "400"), 0.0, 0.0, f"{_NEMA}: no deviation", "recomputed"),
    Worked(_WINDING, ("4R7", "4.7", "4,7 ohm"), 0.0, 0.0, _PAIRS, "recomputed"),
    Worked(_WINDING, ("4.8", "4.7", "4.6"), 2.128, 0.0005, _PAIRS, "recomputed"),
    Worked(_DROP, ("50 m", "1", "0.75"), 2.60, 0.005, _COPPER.format("26.0"), "recomputed"),
    Worked(_DROP, ("50", "1 A", "1"), 1.95, 0.005, _COPPER.format("19.5"), "recomputed"),
    Worked(_DROP, ("50", "1000 mA", "1.5"), 1.33, 0.005, _COPPER.format("13.3"), "recomputed"),
    Worked(_DROP, ("50", "1", "2.5"), 0.798, 0.0005, _COPPER.format("7.98"), "recomputed"),
    Worked(_TO_CELSIUS, ("80.306",), -50.0, 0.002, _PLATINUM, "read in public text"),
    Worked(_TO_CELSIUS, ("100",), 0.0, 0.002, _PLATINUM, "read in public text"),
    Worked(_TO_CELSIUS, ("119.397",), 50.0, 0.002, _PLATINUM, "read in public text"),
    Worked(_TO_CELSIUS, ("138.506 ohm",), 100.0, 0.002, _PLATINUM, "read in public text"),
    Worked(_TO_CELSIUS, ("175.856",), 200.0, 0.002, _PLATINUM, "read in public text"),
    Worked(_TO_OHM, ("-50",), 80.306, 0.0005, _PLATINUM, "read in public text"),
    Worked(_TO_OHM, ("0",), 100.0, 0.0005, _PLATINUM, "read in public text"),
    Worked(_TO_OHM, ("50 \u00b0C",), 119.397, 0.0005, _PLATINUM, "read in public text"),
    Worked(_TO_OHM, ("100",), 138.506, 0.0005, _PLATINUM, "read in public text"),
    Worked(_TO_OHM, ("200",), 175.856, 0.0005, _PLATINUM, "read in public text"),
    Worked(_TO_OHM, ("-200",), 18.52, 0.005, _ENDS, "from memory"),
    Worked(_TO_OHM, ("850",), 390.48, 0.005, _ENDS, "from memory"),
    Worked(_LOOP, ("4",), 0.0, 0.0, _SPAN, "common practice"),
    Worked(_LOOP, ("12 mA",), 50.0, 0.0, _SPAN, "common practice"),
    Worked(_LOOP, ("20",), 100.0, 0.0, _SPAN, "common practice"),
    Worked(_LOOP, ("3.8",), -1.25, 0.0, _VALID, "read in public text"),
    Worked(_LOOP, ("20.5",), 103.125, 0.0, _VALID, "read in public text"),
    Worked(_LOOP, ("3.7",), None, 0.0, _NEITHER, "read in public text"),
    Worked(_LOOP, ("20.7",), None, 0.0, _NEITHER, "read in public text"),
    Worked(_LOOP, ("3.6",), None, 0.0, _FAILED, "read in public text"),
    Worked(_LOOP, ("21",), None, 0.0, _FAILED, "read in public text"),
    Worked(_DISCHARGE, ("565", "1000 uF", "22k"), 49.33, 0.005, _TO_60_V, "recomputed"),
    Worked(_DISCHARGE, ("50", "1000", "22k"), 0.0, 0.0, _TO_60_V, "recomputed"),
    Worked(_BUS, ("60",), 2.0, 0.0, _CAN, "read in public text"),
    Worked(_BUS, ("120 ohm",), 1.0, 0.0, _CAN, "read in public text"),
    Worked(_BUS, ("40",), 3.0, 0.0, "ISO 11898-2: three of 120 ohm in parallel", "recomputed"),
    Worked(_BUS, ("OL",), 0.0, 0.0, "no terminator, no path", "common practice"),
    Worked(_INDEX, ("120", "264 Mohm"), 2.2, 0.0, _IEEE_43, "recomputed"),
    Worked(_INDEX, ("200", "300"), 1.5, 0.0, f"{_IEEE_43}; the least of class A", "recomputed"),
    Worked(_INDEX, ("200", "400"), 2.0, 0.0, f"{_IEEE_43}; the least of B, F and H", "recomputed"),
    Worked(_CYCLE, ("1", "0", "0", "1"), 0.872, 0.0, _FRAMES, "from memory"),
    Worked(_CYCLE, ("1", "1500", "0", "1 ms"), 12.504, 0.0, _FRAMES, "from memory"),
    Worked(_CYCLE, ("8", "32", "2", "1 ms"), 11.856, 0.0, _FRAMES, "from memory"),
)
"""At least one for each formula, in the order of `FORMULAS`."""
