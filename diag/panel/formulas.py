"""Derived readings by name: what to ask for, and how the answer comes from it.

A machine file says `formula: voltage unbalance`; `FORMULAS` says that three line voltages are asked for, in which
units, and that the result is in percent. Each formula's source stands with it and in its own module.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from diag.panel import bus, cable, cycle, discharge, insulation, loop, meter, pt100, three_phase
from diag.panel.meter import BadReading, Measured


@dataclass(frozen=True, slots=True)
class Prompt:
    """One value to ask for."""

    text: str
    unit: str
    example: str
    whole: bool = False
    """A count: no decimals."""


@dataclass(frozen=True, slots=True)
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
        if found.overload and self.name not in _TAKES_OVERLOAD:
            raise BadReading("An overload gives no result here; write a number.")
        if prompt.whole and found.value != int(found.value):
            raise BadReading("Write a whole number.")
        return found

    def compute(self, texts: Sequence[str]) -> float:
        """The result for the answers as typed. Raises BadReading."""
        if len(texts) != len(self.prompts):
            raise BadReading(f"{self.name} needs {len(self.prompts)} values, not {len(texts)}.")
        return self.of([self.read(i, text).value for i, text in enumerate(texts)])


_TAKES_OVERLOAD: Final = ("bus termination",)


def _unbalance_says(percent: float) -> str:
    share = three_phase.derating(percent)
    if share is None:
        return "Above 5 %: do not run a motor on it (NEMA MG 1)."
    return f"A motor may give {100 * share:.0f} % of its rated power (NEMA MG 1, read off its curve)."


def _winding_says(percent: float) -> str:
    good = percent <= three_phase.WINDING_LIMIT
    return f"{'Within' if good else 'Beyond'} the usual {three_phase.WINDING_LIMIT:g} %. Compare warm with warm."


def _pi_says(index: float) -> str:
    return (
        f"IEEE 43 wants 1.5 for class A and 2.0 for B, F and H. Above {insulation.TOO_GOOD_MOHM:g} Mohm "
        "after one minute the index says nothing."
    )


def _terminators_says(count: float) -> str:
    return f"{bus.judge(bus.EACH / count if count else float('inf')).value}; two of 120 ohm are right."


def _budget_share(stations: float, bytes_each: float, retries: float, cycle_ms: float) -> float:
    return 100 * cycle.budget(int(stations), int(bytes_each), int(retries), cycle_ms).share


def _budget_says(percent: float) -> str:
    good = percent <= 100 * cycle.USABLE
    return (
        f"{'Fits' if good else 'Does not fit'}: telegrams should take at most {100 * cycle.USABLE:.0f} % of the cycle."
    )


def _lines(unit: str, texts: Sequence[str], example: str) -> tuple[Prompt, ...]:
    return tuple(Prompt(t, unit, example) for t in texts)


_ALL: Final = (
    Formula(
        "voltage unbalance",
        _lines("V a.c.", ("L1 to L2", "L2 to L3", "L3 to L1"), "398"),
        "%",
        three_phase.voltage_unbalance,
        "NEMA MG 1 14.36",
        says=_unbalance_says,
    ),
    Formula(
        "winding unbalance",
        _lines("ohm", ("U to V", "V to W", "W to U"), "4.7"),
        "%",
        three_phase.winding_unbalance,
        "common practice: pairs within about 5 %",
        "Isolated and proved dead; disconnect the motor from its drive first.",
        _winding_says,
    ),
    Formula(
        "voltage drop",
        (
            Prompt("Length of the cable, one way", "m", "50"),
            Prompt("Current", "A", "1"),
            Prompt("Cross-section in mm2 (0.75, 1, 1.5 or 2.5)", "", "1.5"),
        ),
        "V",
        cable.voltage_drop,
        "IEC 60228, class 5, plain copper, 20 degC, both conductors",
    ),
    Formula("pt100 temperature", (Prompt("Resistance", "ohm", "119.4"),), "degC", pt100.celsius, "IEC 60751"),
    Formula("pt100 resistance", (Prompt("Temperature", "degC", "50"),), "ohm", pt100.ohms, "IEC 60751"),
    Formula("loop percent", (Prompt("Loop current", "mA", "12"),), "%", loop.percent, "NAMUR NE 43"),
    Formula(
        "discharge time",
        (
            Prompt("Voltage of the bus", "V d.c.", "565"),
            Prompt("Capacitance", "uF", "1000"),
            Prompt("Discharge resistor", "ohm", "22k"),
        ),
        "s",
        discharge.seconds,
        "R C ln(V0/60 V); IEC 60204-1 6.2.4",
        discharge.CAUTION,
    ),
    Formula(
        "bus termination",
        (Prompt("Between the two wires, power off", "ohm", "60"),),
        "",
        bus.terminators,
        "ISO 11898-2: 120 ohm at each end",
        "Power off, and the supply of every station too.",
        _terminators_says,
    ),
    Formula(
        "polarization index",
        _lines("Mohm", ("After one minute", "After ten minutes"), "120"),
        "",
        insulation.polarization_index,
        "IEEE 43",
        insulation.CAUTION,
        _pi_says,
    ),
    Formula(
        "cycle budget",
        (
            Prompt("Stations on the line", "", "8", whole=True),
            Prompt("Bytes of process data for each", "", "32", whole=True),
            Prompt("Retries allowed", "", "2", whole=True),
            Prompt("Cycle time", "ms", "1"),
        ),
        "%",
        _budget_share,
        "IEEE 802.3 frame times at 100 Mbit/s; passing on 1 us a station, our assumption",
        says=_budget_says,
    ),
)

FORMULAS: Final = {f.name: f for f in _ALL}
"""By the name that a machine file uses."""


def find(name: str) -> Formula:
    """The formula of that name, in any case and spacing. Raises KeyError."""
    return FORMULAS[" ".join(name.lower().split())]
