"""The lockout of one zone: which confirmations stand, and which one a person gives next. Pure, and ignorant of locks.

Which locks are on belongs to the isolation points, and so to the `Site` (in `diag.safety.lockout`), which passes in
whose locks are on every point of this zone.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from diag.machine.site import Zone
from diag.safety.types import Act

NOBODY: frozenset[str] = frozenset()

FINDINGS = (Act.MOVED, Act.VOLTAGE_FOUND, Act.METER_FAILED)
"""What stops a zone. Anybody may say so, at any time after it was shut down."""

PROOF = (Act.METER_PROVED, Act.TESTED_DEAD)
"""The run with the meter: proved, each point tested, proved again."""

AFTER_LOCKS = (Act.RELEASED, Act.START_TRIED, Act.OPENED, *PROOF)
"""What stands only while somebody's own lock is on every point."""

WAY_BACK = (Act.TOOLS_OUT, Act.GUARDS_ON, Act.CLEAR, Act.TOLD_BACK, Act.POWER_ON)

PAST_DANGER = (*FINDINGS, Act.LIVE_OVER, Act.RETRACT)
"""What may still be said when a danger sign stands: only what takes permission away."""


class Phase(StrEnum):
    """Where the lockout of a zone stands."""

    NONE = "none"
    LOCKING = "locking"
    DEAD = "dead"
    STOP = "stop"
    BACK = "back"
    TESTING = "testing"
    """Power is back on for a test, with the promise to isolate again."""


STANDING = (Phase.LOCKING, Phase.DEAD, Phase.STOP, Phase.BACK)
"""Phases in which a zone stands on its isolation points."""


@dataclass(frozen=True, slots=True)
class Confirmed:
    """One confirmation that counts."""

    act: Act
    target: str
    person: str


@dataclass(frozen=True, slots=True)
class Lockout:
    """The lockout of one zone. Which locks are on is a matter of the points, so it stands in the `Site`."""

    zone: str
    phase: Phase = Phase.NONE
    trail: tuple[Confirmed, ...] = ()
    """Confirmations that count, in order: those of locking and proving, or (phase `BACK`) those of the way back.
    Its order matters to `RETRACT` alone; every other decision reads it as a set."""
    covered: frozenset[str] = NOBODY
    """For whom the proof was made: all whose locks were on every point when it began."""
    left: frozenset[str] = NOBODY
    """Who took their locks off here. A lock that they keep on a shared point is for another zone."""
    entered: bool = False
    """The enclosure was opened or the zone dead, and the guards are not back on."""
    again: bool = False
    """The way back is for a test."""
    found: Act | None = None
    """Phase `STOP`: what was found; nothing when the record itself has a gap."""

    def has(self, act: Act) -> bool:
        return any(c.act is act for c in self.trail)

    def targets(self, act: Act) -> frozenset[str]:
        return frozenset(c.target for c in self.trail if c.act is act)

    def without(self, *acts: Act) -> tuple[Confirmed, ...]:
        return tuple(c for c in self.trail if c.act not in acts)

    def run(self, name: str) -> tuple[Confirmed, ...]:
        """The proof under way, if it is this person's; empty for anybody else, who starts their own."""
        run = tuple(c for c in self.trail if c.act in PROOF)
        return run if run and run[0].person == name else ()

    def proved(self, zone: Zone) -> bool:
        """Every test point tested, with the meter proved before and after; without electricity the points alone."""
        tested = self.targets(Act.TESTED_DEAD) >= set(zone.test_points)
        return tested and (not zone.electrical or sum(c.act is Act.METER_PROVED for c in self.trail) == 2)

    def next(self, zone: Zone, name: str, crew: frozenset[str]) -> Act | None:
        """The kind of confirmation that this person gives next; `crew`: all whose own lock is on every point.

        `None` when nothing is left to confirm here: dead for this person, or stopped.
        """
        match self.phase:
            case Phase.NONE:
                return Act.TOLD
            case Phase.TESTING:
                return Act.ISOLATE_AGAIN
            case Phase.STOP:
                return None
            case Phase.BACK:
                return self._next_back()
            case Phase.LOCKING if not self.has(Act.SHUT_DOWN):
                return Act.SHUT_DOWN
        if name not in crew:
            return Act.OFF_AND_LOCKED
        if self.phase is Phase.DEAD:
            return None if name in self.covered else first_of_proof(zone)
        return self._next_proof(zone, name)

    def _next_proof(self, zone: Zone, name: str) -> Act:
        if set(zone.stored) - self.targets(Act.RELEASED):
            return Act.RELEASED
        if not self.has(Act.START_TRIED):
            return Act.START_TRIED
        if zone.electrical and not self.has(Act.OPENED):
            return Act.OPENED
        run = self.run(name)
        if zone.electrical and not run:
            return Act.METER_PROVED
        if set(zone.test_points) - {c.target for c in run}:
            return Act.TESTED_DEAD
        return Act.METER_PROVED

    def _next_back(self) -> Act:
        for act in (Act.TOOLS_OUT, Act.GUARDS_ON, Act.CLEAR):
            if not self.has(act):
                return act
        return Act.POWER_ON if self.has(Act.TOLD_BACK) else Act.LOCKS_OFF


def first_of_proof(zone: Zone) -> Act:
    """What a proof begins with: the meter, or in a zone without electricity its first test point."""
    return Act.METER_PROVED if zone.electrical else Act.TESTED_DEAD
