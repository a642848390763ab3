"""Derived readings by the name that a machine file uses: what to ask for, and how the result comes from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from diag.panel.formulas import power, signals
from diag.panel.meter import meter
from diag.panel.meter.meter import BadReading, Measured


@dataclass(frozen=True, slots=True)
class Prompt:
    """One value to ask for."""

    text: str
    unit: str
    example: str
    whole: bool = False
    """A count: no decimals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A reading made of several values."""

    name: str
    prompts: tuple[Prompt, ...]
    unit: str
    """Of the result."""
    function: Callable[..., float]
    source: str
    caution: str = ""
    says: Callable[[float], str] | None = None
    """One line about the result, with its limit."""
    takes_overload: bool = False
    """An overload of the meter is a value here: no path at all."""

    def of(self, values: Sequence[float]) -> float:
        """The result for these values, in the order and units of the prompts.

        Raises BadReading on a wrong number of values, and where a value is not possible.
        """
        if len(values) != len(self.prompts):
            raise BadReading(f"{self.name} needs {len(self.prompts)} values, not {len(values)}.")
        try:
            return self.function(*values)
        except (OverflowError, ZeroDivisionError):
            raise BadReading("These values have no result; look for a slip in one of them.") from None
        except ValueError as error:
            raise BadReading(str(error)) from None

    def read(self, at: int, text: str) -> Measured:
        """One answer as typed, for the prompt at that place. Raises BadReading."""
        prompt = self.prompts[at]
        found = meter.parse(text, prompt.unit)
        if found.overload and not self.takes_overload:
            raise BadReading("An overload gives no result here; write a number.")
        if prompt.whole and found.value != int(found.value):
            raise BadReading("Write a whole number.")
        return found

    def compute(self, texts: Sequence[str]) -> float:
        """The result for the answers as typed. Raises BadReading."""
        return self.of([self.read(i, text).value for i, text in enumerate(texts)])


def _unbalance_says(percent: float) -> str:
    share = power.derating(percent)
    if share is None:
        return "Above 5 %: do not run a motor on it (NEMA MG 1)."
    return f"A motor may give {100 * share:.0f} % of its rated power (NEMA MG 1, read off its curve)."


def _winding_says(percent: float) -> str:
    good = percent <= power.WINDING_LIMIT
    return f"{'Within' if good else 'Beyond'} the usual {power.WINDING_LIMIT:g} %. Compare warm with warm."


def _index_says(index: float) -> str:
    least = power.LEAST_INDEX
    return (
        f"IEEE 43 wants {least['A']} for class A and {least['B']} for B, F and H. "
        f"Above {power.TOO_GOOD_MOHM:g} Mohm after one minute the index says nothing."
    )


def _terminators_says(count: float) -> str:
    return f"{signals.bus_state(count)}; two of 120 ohm are right."


def _budget_says(percent: float) -> str:
    good = percent <= 100 * signals.USABLE
    most = f"telegrams should take at most {100 * signals.USABLE:.0f} % of the cycle"
    return f"{'Fits' if good else 'Does not fit'}: {most}."


def _lines(unit: str, texts: Sequence[str], example: str) -> tuple[Prompt, ...]:
    return tuple(Prompt(t, unit, example) for t in texts)


_ALL: Final = (
    Formula(
        name="voltage unbalance",
        prompts=_lines("V a.c.", ("L1 to L2", "L2 to L3", "L3 to L1"), "398"),
        unit="%",
        function=power.voltage_unbalance,
        source="NEMA MG 1 14.36",
        says=_unbalance_says,
    ),
    Formula(
        name="winding unbalance",
        prompts=_lines("ohm", ("U to V", "V to W", "W to U"), "4.7"),
        unit="%",
        function=power.winding_unbalance,
        source="common practice: pairs within about 5 %",
        caution="Isolated and proved dead; disconnect the motor from its drive first.",
        says=_winding_says,
    ),
    Formula(
        name="voltage drop",
        prompts=(
            Prompt("Length of the cable, one way", "m", "50"),
            Prompt("Current", "A", "1"),
            Prompt("Cross-section in mm2 (0.75, 1, 1.5 or 2.5)", "", "1.5"),
        ),
        unit="V",
        function=power.voltage_drop,
        source="IEC 60228, class 5, plain copper, 20 degC, both conductors",
    ),
    Formula(
        name="pt100 temperature",
        prompts=(Prompt("Resistance", "ohm", "119.4"),),
        unit="degC",
        function=signals.pt100_celsius,
        source="IEC 60751",
    ),
    Formula(
        name="pt100 resistance",
        prompts=(Prompt("Temperature", "degC", "50"),),
        unit="ohm",
        function=signals.pt100_ohms,
        source="IEC 60751",
    ),
    Formula(
        name="loop percent",
        prompts=(Prompt("Loop current", "mA", "12"),),
        unit="%",
        function=signals.loop_percent,
        source="NAMUR NE 43",
    ),
    Formula(
        name="discharge time",
        prompts=(
            Prompt("Voltage of the bus", "V d.c.", "565"),
            Prompt("Capacitance", "uF", "1000"),
            Prompt("Discharge resistor", "ohm", "22k"),
        ),
        unit="s",
        function=power.discharge_seconds,
        source="R C ln(V0/60 V); IEC 60204-1 6.2.4",
        caution=power.DISCHARGE_CAUTION,
    ),
    Formula(
        name="bus termination",
        prompts=(Prompt("Between the two wires, power off", "ohm", "60"),),
        unit="",
        function=signals.terminators,
        source="ISO 11898-2: 120 ohm at each end",
        caution="Power off, and the supply of every station too.",
        says=_terminators_says,
        takes_overload=True,
    ),
    Formula(
        name="polarization index",
        prompts=_lines("Mohm", ("After one minute", "After ten minutes"), "120"),
        unit="",
        function=power.polarization_index,
        source="IEEE 43",
        caution=power.INSULATION_CAUTION,
        says=_index_says,
    ),
    Formula(
        name="cycle budget",
        prompts=(
            Prompt("Stations on the line", "", "8", whole=True),
            Prompt("Bytes of process data for each", "", "32", whole=True),
            Prompt("Retries allowed", "", "2", whole=True),
            Prompt("Cycle time", "ms", "1"),
        ),
        unit="%",
        function=signals.cycle_percent,
        source="IEEE 802.3 frame times at 100 Mbit/s; passing on 1 us a station, our assumption",
        says=_budget_says,
    ),
)

FORMULAS: Final = {f.name: f for f in _ALL}
"""By the name that a machine file uses."""
