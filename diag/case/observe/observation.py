"""An observation: what was read off one indication, as P(seen | true state). It never looks at what is believed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from diag.case.snapshot import IN_DOUBT
from diag.machine.model import Indication
from diag.machine.states.say import CannotRead

LEAST = 1e-3
"""A state below this share of the likeliest one is left out of an observation; the slip of belief covers it."""


@dataclass(frozen=True, slots=True)
class Observation:
    """An observation, how it was said, and what the screen says of it."""

    seen: Mapping[str, float]
    """State to P(seen | that state), the best 1; states that it hardly fits are left out."""
    said: str
    note: str = ""
    """One line, empty when there is nothing to say."""
    fault: str = ""
    """What may be wrong with the display itself, in one line; the note begins with it."""

    @property
    def doubtful(self) -> tuple[str, ...]:
        """The states that it could be, the best fit first; a plain one has one."""
        ranked = sorted(self.seen, key=lambda s: -self.seen[s])
        return tuple(s for s in ranked if self.seen[s] >= IN_DOUBT)


def plain(indication: Indication, state: str, said: str = "") -> Observation:
    """Exactly this state. Raises CannotRead when the indication has no such state."""
    if state not in indication.state_ids:
        raise CannotRead(f"{indication.title} has no state {state}.")
    return Observation({state: 1.0}, said or state)


def weighed(indication: Indication, weights: Mapping[str, float], said: str, note: str = "") -> Observation:
    """Scaled so that the best is 1, without what hardly fits, in the order of the weights."""
    best = max(weights.get(s, 0.0) for s in indication.state_ids)
    if not best > 0.0:
        raise CannotRead("that fits no state of it")
    seen = {s: w / best for s, w in weights.items() if s in indication.state_ids and w / best >= LEAST}
    return Observation(seen, said, note)
