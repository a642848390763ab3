"""What single further fact would change the ranking, against a walk over every state of everything unseen."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.load import read
from diag.machine.model import Machine
from diag.reason.belief.belief import Belief, believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.belief.overturn import LEAST, overturn
from diag.reason.table.compile import compile


@pytest.fixture(scope="module")
def stacker() -> Machine:
    return read(Path(__file__).resolve().parents[2] / "knowledge" / "tray-stacker")


@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_it_is_the_likeliest_fact_that_changes_the_lead(stacker: Machine, data: st.DataObject) -> None:
    table = compile(stacker)
    rng = np.random.default_rng(data.draw(st.integers(0, 2**32 - 1)))
    seen = rng.choice(len(table.indications), size=3, replace=False)
    observed = tuple(Observed(table.indications[i], {str(rng.choice(table.states[i])): 1.0}) for i in seen)
    belief = believe(table, Evidence(observed))
    top = table.causes[int(belief.posterior.argmax())]
    found = overturn(belief, top)
    if found is None:
        return
    after = believe(table, Evidence((*observed, Observed(found.indication, {found.state: 1.0}))))
    assert leads(after, found.leads)
    assert found.leads != top
    assert found.chance >= LEAST
    back = overturn(belief, found.leads)
    assert back is not None
    assert back.leads == found.leads
    # No state of twenty others that is likelier changes the lead.
    for i in rng.choice(len(table.indications), size=20, replace=False):
        if i in seen:
            continue
        span = table.columns(int(i))
        chances = belief.posterior @ belief.predicted[:, span]
        for state, chance in zip(table.states[i], chances, strict=True):
            if chance > found.chance * (1 + 1e-6):
                then = believe(table, Evidence((*observed, Observed(table.indications[i], {state: 1.0}))))
                assert leads(then, top)


def leads(belief: Belief, cause: str) -> bool:
    """It has the largest share. Causes of one rate that show the same tie, but for the last bits."""
    share = belief.posterior[belief.table.cause_index[cause]]
    return bool(share >= belief.posterior.max() * (1 - 1e-9))


def test_a_fact_is_named_from_the_least_chance_on(stacker: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    belief = believe(compile(stacker), Evidence(()))
    top = belief.table.causes[int(belief.posterior.argmax())]
    found = overturn(belief, top)
    assert found is not None
    monkeypatch.setattr("diag.reason.belief.overturn.LEAST", found.chance)
    assert overturn(belief, top) == found
    monkeypatch.setattr("diag.reason.belief.overturn.LEAST", float(np.nextafter(found.chance, 1.0)))
    assert overturn(belief, top) is None, "the likeliest was too unlikely, so all others are"


def test_an_unknown_cause(stacker: Machine) -> None:
    with pytest.raises(KeyError):
        overturn(believe(compile(stacker), Evidence(())), "nobody")
