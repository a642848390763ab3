"""What looks can tell apart at all, before any stop: detection and ambiguity groups, as in IEEE Std 1522."""

from __future__ import annotations

import numpy as np

from diag.machine.model import Access
from diag.reason.belief import predict
from diag.reason.compile import Index, Table
from diag.reason.figures import Diagnosability, diagnosability


def isolability(table: Table, looks: Index) -> Diagnosability:
    """The listed causes by what each most likely shows of these indications, weighed by their rates.

    Causes whose likeliest states are the same everywhere are one ambiguity group: only how often something shows can
    part them, which one stop seldom does. Fault number `f` of the answer is the cause of that number in the table.
    """
    shows = predict(table, np.ones(int(table.start[-1])))
    likeliest = np.stack([shows[:, table.columns(int(i))].argmax(axis=1) for i in looks], axis=1)
    rows = likeliest.tolist()
    return diagnosability(rows[:-2], np.exp(table.log_prior[:-1]), rows[-1])


def every(table: Table) -> Index:
    """All indications."""
    return np.arange(len(table.indications))


def outside(table: Table) -> Index:
    """The indications that some look from outside gives."""
    return np.array(sorted({i for test in table.tests if test.place.access is Access.OUTSIDE for i in test.gives}))
