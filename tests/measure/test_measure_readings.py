"""Every derived reading gives its worked values."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diag.measure import worked_values as worked
from diag.measure.worked_values import Worked
from diag.panel.formulas.formulas import FORMULAS


@pytest.mark.parametrize(
    "value",
    [
        pytest.param(w, marks=pytest.mark.source(w.source, found=w.found), id=f"{w.formula} of {', '.join(w.typed)}")
        for w in worked.WORKED
    ],
)
def test_worked_values(value: Worked) -> None:
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
