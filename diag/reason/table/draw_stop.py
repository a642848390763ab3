"""Drawing stops from the model: what is to be seen under one cause."""

from __future__ import annotations

import numpy as np

from diag.reason.constants import SLIP
from diag.reason.table.compile import Array, Index, Table
from diag.reason.table.joint import Joint


def draw(table: Table, row: int, rng: np.random.Generator) -> Index:
    """What a look at each indication shows, the slip in it, under the cause of that row (which shows itself), [I]."""
    return np.asarray(draws(table, row, rng, 1)[0])


def draws(table: Table, row: int, rng: np.random.Generator, n: int) -> Index:
    """`n` stops at once, [n, I]; the same as `n` drawn one after the other."""
    indications = len(table.indications)
    u = rng.random((n, 2 if table.joints else 1, indications))
    states = _own(table, row, u[:, 0])
    for joint in table.joints:
        _follow(joint, states)
    if table.joints:
        slips = u[:, 1] / SLIP
        at = table.joined & (slips < 1.0)
        states[at] = (slips * np.diff(table.start))[at].astype(np.intp)
    return states


def _own(table: Table, row: int, u: Array) -> Index:
    """What each indication shows where it follows nothing: the first state whose cumulated chance is above its `u`."""
    first = table.start[:-1]
    cumulated = table.p[row].cumsum()
    before = np.concatenate([[0.0], cumulated])[first]
    passed = cumulated - before[table.owner] <= u[:, table.owner]
    states: Index = np.minimum(np.add.reduceat(passed, first, axis=1, dtype=np.intp), np.diff(table.start) - 1)
    return states


def _follow(joint: Joint, states: Index) -> None:
    """Members that follow something show what their rule says, once what they follow stands: first rule first."""
    for member in joint.in_order:
        left = np.ones(len(states), dtype=bool)
        for when, shown in member.rules:
            here = left.copy()
            for parent, wanted in when:
                here &= np.logical_or.reduce([states[:, parent] == state for state in wanted])
            states[here, member.indication] = shown
            left &= ~here
