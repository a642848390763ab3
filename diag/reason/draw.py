"""Drawing a stop from the model: what is to be seen under one cause."""

from __future__ import annotations

import numpy as np

from diag.reason.compile import Array, Index, Table
from diag.reason.constants import SLIP
from diag.reason.joint import Joint


def draw(table: Table, row: int, rng: np.random.Generator) -> Index:
    """What a look at each indication shows, the slip in it, under the cause of that row (which shows itself), [I]."""
    u = rng.random(len(table.indications))
    states = _own(table, row, u)
    for joint in table.joints:
        _follow(joint, u, states)
    if table.joints:
        slips = rng.random(len(table.indications)) / SLIP
        at = table.joined & (slips < 1.0)
        states[at] = (slips[at] * np.diff(table.start)[at]).astype(np.intp)
    return states


def _own(table: Table, row: int, u: Array) -> Index:
    """What each indication shows where it follows nothing: the first state whose cumulated chance is above its `u`."""
    first = table.start[:-1]
    cumulated = table.p[row].cumsum()
    before = np.concatenate([[0.0], cumulated])[first]
    passed = cumulated - before[table.owner] <= u[table.owner]
    states: Index = np.minimum(np.add.reduceat(passed, first, dtype=np.intp), np.diff(table.start) - 1)
    return states


def _follow(joint: Joint, u: Array, states: Index) -> None:
    """Members that follow something are drawn again by their rule, once what they follow stands."""
    for member in joint.in_order:
        for r, (when, _) in enumerate(member.rules):
            if all(states[parent] in wanted for parent, wanted in when):
                cumulated = member.shown[r].cumsum()
                i = member.indication
                states[i] = min(int(np.searchsorted(cumulated, u[i], side="right")), len(cumulated) - 1)
                break
