"""Where a person starts: who they are, what is isolated, and what it takes to get to where an action is done."""

from __future__ import annotations

from dataclasses import dataclass

# The rest of reasoning takes these from here: it knows no machine.
from diag.machine.isolation import Minutes as Minutes
from diag.machine.model import Access as Access
from diag.machine.model import Energy as Energy
from diag.machine.model import Role as Role


@dataclass(frozen=True, slots=True)
class Place:
    """Where an action is done and in what state of energy."""

    access: Access
    zone: str
    energy: Energy
    lock: float | None = None
    """Minutes to lock out its zone, where the file gives that zone its own."""


@dataclass(frozen=True, slots=True)
class Situation:
    """What may be done now, and from where one starts."""

    role: Role | None = None
    """None: everything allowed, for measuring the knowledge."""
    energised: bool = True
    dead: frozenset[str] = frozenset()
    """Zones now proved dead."""
    live: frozenset[str] = frozenset()
    """Zones now open and energised under an acknowledgement."""
    excluded: frozenset[str] = frozenset()
    """Checks and remedies not to offer: set aside, or nobody could tell."""
    partially_done: tuple[tuple[str, float], ...] = ()
    """Checks of several answers that were begun, with the share of their minutes that is left."""

    def left(self, check: str) -> float:
        """The share of a check's minutes that is still to be spent: 1, unless it was begun."""
        return next((share for id, share in self.partially_done if id == check), 1.0)

    def setup(self, times: Minutes, place: Place) -> float:
        """Minutes from here to the state of access and energy that an action needs."""
        back = 0.0 if self.energised else times.restore
        match place.access:
            case Access.DEAD:
                own = times.lock if place.lock is None else place.lock
                return 0.0 if place.zone in self.dead else own
            case Access.LIVE:
                return 0.0 if place.zone in self.live else back + times.live
            case Access.OUTSIDE if place.energy is Energy.ON:
                return back
            case Access.OUTSIDE if place.energy is Energy.OFF and self.energised:
                return times.lock
        return 0.0

    def after(self, place: Place) -> Situation:
        """The situation once an action of that place was set up."""
        dead, live = frozenset[str](), frozenset[str]()
        match place.access:
            case Access.DEAD:
                energised, dead = False, self.dead | {place.zone}
            case Access.LIVE:
                energised, live = True, self.live | {place.zone}
            case Access.OUTSIDE if place.energy in (Energy.ANY, Energy.ON if self.energised else Energy.OFF):
                return self
            case Access.OUTSIDE:
                energised = not self.energised
        return Situation(self.role, energised, dead, live, self.excluded)
