"""Every derived reading against its worked values, from what is typed to the result."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from itertools import groupby

from diag.measure import worked_values as worked
from diag.measure.measurement import Measurement
from diag.measure.worked_values import Outcome
from diag.panel.formulas.formulas import FORMULAS


def measure() -> Measurement:
    """Good when every worked value comes out and every formula has one."""
    outcomes = [worked.check(w) for w in worked.WORKED]
    bare = worked.without()
    wrong = sum(not outcome.right for outcome in outcomes)
    lines = [*_lines(outcomes), *(f"WRONG {name}: no worked value" for name in bare)]
    lines.append(f"{len(outcomes)} worked values, {wrong} wrong")
    figures = {
        "formulas": len(FORMULAS),
        "worked_values": len(outcomes),
        "right": len(outcomes) - wrong,
        "wrong": wrong,
        "formulas_without": len(bare),
    }
    details = {
        "readings": [
            {**asdict(o.worked), "result": o.result, "refusal": o.refusal, "right": o.right} for o in outcomes
        ],
        "without": list(bare),
    }
    return Measurement("readings", not wrong and not bare, figures, lines, details)


def _lines(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """A heading for each formula, each source once above the values that it gives."""
    for formula, of_formula in groupby(outcomes, key=lambda o: o.worked.formula):
        unit = FORMULAS[formula].unit
        title = f"{formula}, in {unit}" if unit else formula
        yield f"{title:<36}{'result':>13}{'worked':>13}{'within':>10}"
        for source, same in groupby(of_formula, key=lambda o: f"{o.worked.source} ({o.worked.found})"):
            yield f"  {source}"
            for outcome in same:
                yield _row(outcome)
                if not outcome.right and outcome.refusal:
                    yield f"      {outcome.refusal}"
        yield ""


def _row(outcome: Outcome) -> str:
    w = outcome.worked
    result = "refused" if outcome.result is None else f"{outcome.result:.7g}"
    value = "refused" if w.value is None else f"{w.value:.7g}"
    within = "" if w.value is None else f"{w.tolerance:g}" if w.tolerance else "exact"
    typed, right = ", ".join(w.typed), "ok" if outcome.right else "WRONG"
    return f"    {typed:<32}{result:>13}{value:>13}{within:>10}  {right}"
