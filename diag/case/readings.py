"""Readings: a value typed, or worked out of several, as a sight over the bands that the meter leaves open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from diag.case.sighting import Sighting, plain, weighed
from diag.case.snapshot import IN_DOUBT
from diag.case.words import clean
from diag.machine.model import Indication
from diag.machine.say import CannotRead, band, state_of
from diag.panel.accuracy import ORDINARY, Accuracy, band_weights, near_limit
from diag.panel.meter import BadReading, Measured, parse

if TYPE_CHECKING:
    from diag.panel.formulas import Formula

ELECTRICAL = ("V", "A", "ohm")
FINE = Accuracy(0.0, 1.0)
"""Of an instrument that is no electrical meter (a gauge, a scale): one step of what was read. Ours."""


def accuracy_of(indication: Indication) -> Accuracy:
    """The accuracy of the meter that a reading is taken with."""
    if indication.accuracy is not None:
        return indication.accuracy
    return ORDINARY if any(part in ELECTRICAL for part in _units(indication.unit)) else FINE


def of_formula(indication: Indication, texts: Sequence[str]) -> Sighting:
    """A reading that is worked out of several values as typed. Raises CannotRead."""
    from diag.panel.formulas import FORMULAS

    formula = FORMULAS[indication.formula]
    try:
        values = [formula.read(n, text) for n, text in enumerate(texts)]
        value = formula.of([v.value for v in values])
        half = _half_width(formula, values, indication.accuracy or ORDINARY)
    except BadReading as error:
        raise CannotRead(str(error)) from None
    # Rounded, so that a value that is meant to lie on a limit does.
    measured = Measured(float(f"{value:.9g}"), indication.unit, step=half)
    shown = f"{value:.3g} {indication.unit}".strip()
    says = f"{shown}. {formula.says(value) if formula.says else ''}".strip()
    return _banded(indication, measured, Accuracy(0.0, 1.0), f"{shown} from {', '.join(map(clean, texts))}", says)


def _half_width(formula: Formula, values: Sequence[Measured], meter: Accuracy) -> float:
    """Half the width of the interval that holds the result, from those of the values that an electrical meter gave.

    What a meter is off by in percent it is off by in all values of one unit, so that it falls out of a ratio; counts
    fall as they will, and add up as squares (GUM, JCGM 100 5.1).
    """
    plainly = [v.value for v in values]
    if not all(math.isfinite(v) for v in plainly):
        return 0.0
    try:
        value = formula.of(plainly)
        squares = 0.0
        units = [p.unit for p in formula.prompts]
        for unit in {u for u in units if any(part in ELECTRICAL for part in _units(u))}:
            share = 1 + meter.percent / 100
            scaled = [v * share if u == unit else v for v, u in zip(plainly, units, strict=True)]
            squares += (formula.of(scaled) - value) ** 2
        for n, (v, prompt) in enumerate(zip(values, formula.prompts, strict=True)):
            if not prompt.whole and any(part in ELECTRICAL for part in _units(prompt.unit)):
                moved = [*plainly[:n], v.value + meter.counts * v.step, *plainly[n + 1 :]]
                squares += (formula.of(moved) - value) ** 2
    except BadReading:
        return 0.0
    return math.sqrt(squares)


def of_reading(indication: Indication, said: str) -> Sighting:
    state = state_of(indication, said)
    try:
        measured = parse(said, indication.unit)
    except BadReading:
        return plain(indication, state, said)
    return _banded(indication, measured, accuracy_of(indication), said)


def _banded(indication: Indication, measured: Measured, accuracy: Accuracy, said: str, says: str = "") -> Sighting:
    weights = band_weights(measured, indication.bands, accuracy, indication.normal)
    if not measured.overload:
        # A value on a limit belongs to the band that the file's rule gives it to, when both are as likely.
        home = band(indication, measured.value)
        most = max(weights.values())
        if weights.get(home, 0.0) >= most * (1 - 1e-6):
            weights = {home: most, **{s: w for s, w in weights.items() if s != home}}
    told = {s: w for s, w in weights.items() if w >= IN_DOUBT * max(weights.values())}
    near = near_limit(told) if not measured.overload else ""
    return weighed(indication, weights, said, f"{says} {near}".strip())


def _units(unit: str) -> list[str]:
    """The unit without its prefix and its kind of current: `mA` is `A`, `V d.c.` is `V`."""
    first = unit.split()[0] if unit.split() else ""
    return [first, first[1:]]
