"""Readings: a value typed, or worked out of several, as an observation over the bands that the meter leaves open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from diag.case.observe.observation import Observation, plain, weighed
from diag.machine.model import Indication
from diag.machine.states.say import CannotRead, band, state_of
from diag.panel.meter.accuracy import ORDINARY, Accuracy, band_weights, near_limit
from diag.panel.meter.meter import BadReading, Measured, parse
from diag.text import clean

if TYPE_CHECKING:
    from diag.panel.formulas.formulas import Formula

ELECTRICAL = ("V", "A", "ohm")
FINE = Accuracy(0.0, 1.0)
"""Of an instrument that is no electrical meter (a gauge, a scale): one step of what was read. Ours."""


def accuracy_of(indication: Indication) -> Accuracy:
    """The accuracy of the meter that a reading is taken with."""
    if indication.accuracy is not None:
        return indication.accuracy
    return ORDINARY if _electrical(indication.unit) else FINE


def of_formula(indication: Indication, texts: Sequence[str]) -> Observation:
    """A reading that is worked out of several values as typed. Raises CannotRead."""
    from diag.panel.formulas.formulas import FORMULAS

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
    return _banded(indication, measured, FINE, f"{shown} from {', '.join(map(clean, texts))}", says)


def _half_width(formula: Formula, values: Sequence[Measured], meter: Accuracy) -> float:
    """Half the width of the interval that holds the result, from those of the values that an electrical meter gave.

    A meter is off by the same percentage in all values of one unit, which therefore cancels in a ratio. Its counts are
    independent, and add up as squares (GUM, JCGM 100 5.1).
    """
    plainly = [v.value for v in values]
    try:
        value = formula.of(plainly)
        squares = 0.0
        units = [p.unit for p in formula.prompts]
        for unit in filter(_electrical, set(units)):
            share = 1 + meter.percent / 100
            scaled = [v * share if u == unit else v for v, u in zip(plainly, units, strict=True)]
            squares += (formula.of(scaled) - value) ** 2
        for n, (v, prompt) in enumerate(zip(values, formula.prompts, strict=True)):
            if _electrical(prompt.unit):
                moved = [*plainly[:n], v.value + meter.counts * v.step, *plainly[n + 1 :]]
                squares += (formula.of(moved) - value) ** 2
    except BadReading:
        return 0.0
    return math.sqrt(squares)


def of_reading(indication: Indication, said: str) -> Observation:
    state = state_of(indication, said)
    try:
        measured = parse(said, indication.unit)
    except BadReading:
        return plain(indication, state, said)
    return _banded(indication, measured, accuracy_of(indication), said)


def _banded(indication: Indication, measured: Measured, accuracy: Accuracy, said: str, says: str = "") -> Observation:
    weights = band_weights(measured, indication.bands, accuracy, indication.normal)
    # A value on a limit belongs to the band that the file's rule gives it to, when both are as likely.
    home = band(indication, measured.value)
    if home not in weights:
        weights = {home: 1.0}
    elif math.isclose(weights[home], 1.0):
        weights = {home: 1.0, **{s: w for s, w in weights.items() if s != home}}
    found = weighed(indication, weights, said)
    near = near_limit({state: found.seen[state] for state in found.doubtful})
    return replace(found, note=f"{says} {near}".strip())


def _electrical(unit: str) -> bool:
    """Whether it is one of `ELECTRICAL`, with any prefix and kind of current: `mA` is `A`, `V d.c.` is `V`."""
    first = unit.partition(" ")[0]
    return first in ELECTRICAL or first[1:] in ELECTRICAL
