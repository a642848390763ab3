"""Drawing a stop from the model: true states of all indications under one cause."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from diag.reason.compile import Array, Index, Table
from diag.reason.joint import Joint


def draw(table: Table, row: int, rng: np.random.Generator, wanted: npt.NDArray[np.bool_] | None = None) -> Index:
    """A state for each indication, shape [I], under the cause of that row (which shows itself, if intermittent).

    With `wanted` [I] the states of the others may be left at 0; those wanted are the same as without it."""
    u = rng.random(len(table.indications))
    states = np.zeros(len(table.indications), dtype=np.intp)
    free = table.free if wanted is None else table.free[wanted[table.free]]
    for i in free:
        states[i] = _pick(table.p[row, table.columns(int(i))], u[i])
    for joint in table.joints:
        if wanted is None or wanted[list(joint.members)].any():
            _joint(table, joint, row, u, states, wanted)
    return states


def _joint(table: Table, joint: Joint, row: int, u: Array, states: Index, wanted: npt.NDArray[np.bool_] | None) -> None:
    """Members in an order in which what is followed comes first; each follows its rule or its own distribution."""
    done: set[int] = set()
    waiting = [m for m in joint.members.values() if wanted is None or m.drives or wanted[m.indication]]
    while waiting:
        ready = [m for m in waiting if all(parent in done for when, _ in m.rules for parent, _ in when)]
        for member in ready:
            i = member.indication
            p = table.p[row, table.columns(i)]
            for r, (when, _) in enumerate(member.rules):
                if all(states[parent] in wanted for parent, wanted in when):
                    p = member.shown[r]
                    break
            states[i] = _pick(p, u[i])
            done.add(i)
        waiting = [m for m in waiting if m.indication not in done]


def _pick(p: Array, u: float) -> int:
    return min(int(np.searchsorted(p.cumsum(), u, side="right")), len(p) - 1)
