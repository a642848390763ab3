"""The lockout of one zone: which confirmations stand, and which one a person gives next. Pure, and ignorant of locks.

Locks belong to the isolation points, and so to the `Isolation` (in `diag.safety.lockout`), which passes in whose locks
are on every point of this zone.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum, auto
from functools import lru_cache

from diag.machine.isolation import Zone
from diag.safety.types import Act

NOBODY: frozenset[str] = frozenset()

FINDINGS = (Act.MOVED, Act.VOLTAGE_FOUND, Act.METER_FAILED)
"""Findings that stop a zone. Anybody may report one, at any time after the shut-down."""

PROOF = (Act.METER_PROVED, Act.TESTED_DEAD)
"""The run with the meter: proved, each point tested, proved again."""

AFTER_LOCKS = (Act.WAIT_BEGUN, Act.RELEASED, Act.START_TRIED, Act.OPENED, *PROOF)
"""Confirmations that hold only while somebody's own lock is on every point."""

PAST_DANGER = (*FINDINGS, Act.LIVE_OVER, Act.RETRACT)
"""What may still be said while a danger sign stands: only what takes permission away."""


class Phase(StrEnum):
    """How far the lockout of a zone has come."""

    NONE = auto()
    LOCKING = auto()
    DEAD = auto()
    STOP = auto()
    BACK = auto()
    TESTING = auto()
    """Power is back on for a test, with the promise to isolate again."""
    HOLDS = "holds"
    """Power is back on, and what comes out or is looked at only under power is not done."""


STANDING = (Phase.LOCKING, Phase.DEAD, Phase.STOP, Phase.BACK)
"""Phases in which a zone stands on its isolation points."""

RETURNING = (Phase.BACK, Phase.HOLDS)
"""Phases in which a zone is on its way back, whose order is told in `diag.safety.order`."""

AT_WORK = (Phase.LOCKING, Phase.DEAD, Phase.STOP)
"""Phases of a zone that has its way back still before it."""


@dataclass(frozen=True, slots=True)
class Confirmed:
    """One confirmation that counts."""

    act: Act
    target: str
    person: str


@dataclass(frozen=True, slots=True)
class Lockout:
    """The lockout of one zone. Locks belong to points, so the `Isolation` knows which are on."""

    zone: str
    phase: Phase = Phase.NONE
    trail: tuple[Confirmed, ...] = ()
    """Those that count, in order: of locking and proving, or (phase `BACK`) of the return to service.
    Its order matters to `RETRACT` alone; every other decision reads it as a set."""
    covered: frozenset[str] = NOBODY
    """Those for whom the proof was made: all whose locks were on every point when it began."""
    left: frozenset[str] = NOBODY
    """Those who took their locks off here. A lock that they keep on a shared point is for another zone."""
    entered: bool = False
    """The enclosure was opened or the zone dead, and the guards are not back on."""
    again: bool = False
    """The return to service is for a test."""
    found: Act | None = None
    """Phase `STOP`: what was found; nothing when the record itself has a gap."""

    def has(self, act: Act) -> bool:
        for confirmed in self.trail:  # noqa: SIM110
            if confirmed.act is act:
                return True
        return False

    def targets(self, act: Act) -> frozenset[str]:
        return frozenset([c.target for c in self.trail if c.act is act])

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

    def next(self, zone: Zone, name: str, crew: frozenset[str], powered: bool = False) -> Act | None:
        """The kind of confirmation on the way to dead that this person gives next; `crew`: all whose own lock is on
        every point; `powered`: no point of the zone is off yet.

        `None` when nothing is left to confirm here: dead for this person, or stopped.
        """
        match self.phase:
            case Phase.NONE:
                return Act.TOLD
            case Phase.TESTING:
                return Act.ISOLATE_AGAIN
            case Phase.STOP:
                return None
            case Phase.LOCKING if not self.has(Act.SHUT_DOWN):
                return Act.BEFORE_OFF if powered and self.before(zone) else Act.SHUT_DOWN
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

    def before(self, zone: Zone) -> tuple[str, ...]:
        """What is still to be done by the controls before the power goes, in the file's order."""
        return tuple(what for what in zone.before_off if what not in self.targets(Act.BEFORE_OFF))


@lru_cache(maxsize=256)
def unopened(zone: str) -> Lockout:
    """The lockout of a zone in which nothing was said yet."""
    return Lockout(zone)


def first_of_proof(zone: Zone) -> Act:
    """What a proof begins with: the meter, or in a zone without electricity its first test point."""
    return Act.METER_PROVED if zone.electrical else Act.TESTED_DEAD
