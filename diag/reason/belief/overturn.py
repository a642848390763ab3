"""What single further fact would change the ranking.

For the leading cause: the likeliest state of something not yet seen after which another cause leads. For any other
cause: the likeliest one after which it leads. The chance of the fact is P(state | all that was seen).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diag.reason.belief.belief import Belief

LEAST = 1e-3
"""A fact that is less likely than this is not told: almost anything can be overturned by a wonder."""


@dataclass(frozen=True, slots=True)
class Overturn:
    """A state of an indication, how likely it is to be seen, and which cause leads after it."""

    indication: str
    state: str
    chance: float
    leads: str


def overturn(belief: Belief, cause: str) -> Overturn | None:
    """The likeliest single fact that ends the lead of `cause`, or that gives it the lead; None when none does.

    Raises KeyError on an unknown cause.
    """
    table = belief.table
    c = table.cause_index[cause]
    posterior = belief.posterior
    joint = posterior[:, None] * belief.predicted
    chance = joint.sum(axis=0)
    first = joint.argmax(axis=0)
    leads = int(posterior.argmax())
    wanted = (first != c) if c == leads else (first == c)
    seen = {s.indication for s in belief.evidence.observed}
    for i, id in enumerate(table.indications):
        if id in seen:
            wanted[table.columns(i)] = False
    found = np.flatnonzero(wanted & (chance >= LEAST))
    if not len(found):
        return None
    at = int(found[np.argmax(chance[found])])
    i = int(np.searchsorted(table.start, at, side="right")) - 1
    state = table.states[i][at - int(table.start[i])]
    return Overturn(table.indications[i], state, float(chance[at]), table.causes[int(first[at])])
