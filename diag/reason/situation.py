"""From where a person starts: who they are, what is isolated, and what it takes to get to where an action is done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from diag.machine.model import Access, Energy, Role


class Times(Protocol):
    """Minutes of the machine's set-ups."""

    @property
    def lock(self) -> float: ...
    @property
    def restore(self) -> float: ...
    @property
    def live(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Place:
    """Where an action is done and in what state of energy."""

    access: Access
    zone: str
    energy: Energy


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
    barred: frozenset[str] = frozenset()
    """Checks and remedies not to offer: set aside, or nobody could tell."""
    begun: tuple[tuple[str, float], ...] = ()
    """Checks of several answers in the middle of which the person is, with the share of their minutes that is left."""

    def left(self, check: str) -> float:
        """The share of a check's minutes that is still to be spent: 1, but for one that is begun."""
        return next((share for id, share in self.begun if id == check), 1.0)

    def setup(self, times: Times, place: Place) -> float:
        """Minutes from here to the state of access and energy that an action needs."""
        back = 0.0 if self.energised else times.restore
        match place.access:
            case Access.DEAD:
                return 0.0 if place.zone in self.dead else times.lock
            case Access.LIVE:
                return 0.0 if place.zone in self.live else back + times.live
            case Access.OUTSIDE if place.energy is Energy.ON:
                return back
            case Access.OUTSIDE if place.energy is Energy.OFF and self.energised:
                return times.lock
        return 0.0

    def after(self, place: Place) -> Situation:
        """The situation once an action of that place was set up."""
        barred, role = self.barred, self.role
        match place.access:
            case Access.DEAD:
                return Situation(role, False, self.dead | {place.zone}, frozenset(), barred)
            case Access.LIVE:
                return Situation(role, True, frozenset(), self.live | {place.zone}, barred)
            case Access.OUTSIDE if place.energy is Energy.ON and not self.energised:
                return Situation(role, True, frozenset(), frozenset(), barred)
            case Access.OUTSIDE if place.energy is Energy.OFF and self.energised:
                return Situation(role, False, frozenset(), frozenset(), barred)
        return self
