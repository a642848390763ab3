"""The frozen types that leave this room: persons, acts at the gate, permissions, the banner."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from diag.machine.model import Access, Role


@dataclass(frozen=True, slots=True)
class Person:
    """The person at the keys. `authorised` (to lock out) and `qualified` (to work near live parts) are their own word,
    independent of the role."""

    name: str
    role: Role
    authorised: bool = False
    qualified: bool = False

    @property
    def named(self) -> bool:
        """Whether this is a name of somebody's own. A role alone (`electrician on shift`) owns no lock."""
        return folded(self.name) not in NAMELESS


@lru_cache(maxsize=1024)
def folded(name: str) -> str:
    """A name as it is compared: without regard to case, spaces and accents."""
    plain = unicodedata.normalize("NFKD", name)
    return " ".join("".join(c for c in plain if not unicodedata.combining(c)).casefold().split())


def same_name(a: str, b: str) -> bool:
    """Whether two names are one person's."""
    return folded(a) == folded(b)


def nameless(role: Role) -> str:
    """What stands in the record for somebody who goes by the role alone."""
    return f"{role.value} on shift"


NAMELESS = frozenset(("", *(word for role in Role for word in (folded(nameless(role)), role.value))))
"""Folded names that are nobody's own."""


class Act(StrEnum):
    """What a person confirms at the gate of one zone. `target` names the point, source or test point that is meant."""

    TOLD = "told"
    SHUT_DOWN = "shut-down"
    OFF_AND_LOCKED = "off-and-locked"
    """One isolation point (target) off, with this person's own lock on it."""
    RELEASED = "released"
    """One stored energy (target) released."""
    START_TRIED = "start-tried"
    """Start attempted, nothing moved, control put back."""
    OPENED = "opened"
    """Opened as if live, by a qualified person."""
    METER_PROVED = "meter-proved"
    """Before the first and again after the last test point."""
    TESTED_DEAD = "tested-dead"
    """One test point (target) tested and dead."""
    # What ends it, never in `dead`.
    MOVED = "moved"
    """The start attempt moved something."""
    VOLTAGE_FOUND = "voltage-found"
    METER_FAILED = "meter-failed"
    # The return to service, and power for a test in between.
    TOOLS_OUT = "tools-out"
    GUARDS_ON = "guards-on"
    CLEAR = "clear"
    """People clear."""
    LOCKS_OFF = "locks-off"
    """This person takes off their own lock at one point (target), or leaves."""
    TOLD_BACK = "told-back"
    POWER_ON = "power-on"
    """One isolation point (target) back on, or nothing to be switched on."""
    TEST_POWER = "test-power"
    """From dead: power is wanted for a test; the return to service starts, with the promise to isolate again."""
    ISOLATE_AGAIN = "isolate-again"
    """The test is over; isolate, lock and test for dead again."""
    BACK = "back"
    """From dead (or from a stop, or from locking): start the return to service."""
    RETRACT = "retract"
    """The last confirmation was a mistake: one step back, never towards dead."""
    LIVE = "live"
    """Live acknowledgement for this zone: qualified, the reason, the permit (see `LiveWork`)."""
    LIVE_OVER = "live-over"
    """Closed again after live work."""
    # What is named one by one: casebooks from before have none of these.
    BEFORE_OFF = "before-off"
    """One thing (target) that is done by the controls while the power is still on."""
    WAIT_BEGUN = "wait-begun"
    """What starts the wait of one stored energy (target) has happened."""
    WORK_SAID = "work-said"
    """What was done inside is entered, or nothing was done."""
    PUT_BACK = "put-back"
    """One thing that was taken off (target) is back as marked, or an earth is out."""
    HOLD_OUT = "hold-out"
    """What holds one stored energy (target) is out."""
    EARTHS_OUT = "earths-out"
    """No earth and no short is left inside."""
    CONTROLS_OFF = "controls-off"
    LAST_LOOK = "last-look"
    """Everybody is clear, seen after the locks came off."""
    ROTATION = "rotation"
    """The direction of rotation is right."""


@dataclass(frozen=True, slots=True)
class Step:
    """One confirmation that may be given next: what to do in words, and the act that says so."""

    zone: str
    act: Act
    target: str
    text: str
    """What the person confirms, in one or two short sentences."""
    wait: float
    """Minutes on the label, for a countdown that informs."""
    needs: str
    """`authorised`, `qualified` or empty: what the person must be for this step."""
    fails: tuple[Act, ...]
    """What else may be found at this step (voltage, a meter that does not prove, a movement)."""
    asks: tuple[str, ...]
    """What must be given with it: `reason`, `permit`, or `values`, a voltage for each pair of the test point."""


@dataclass(frozen=True, slots=True, order=True)
class Taken:
    """One thing that was taken off in a zone, or an earth that was put on, and is not back."""

    zone: str
    what: str
    earth: bool = False


@dataclass(frozen=True, slots=True)
class LiveWork:
    """A live acknowledgement: one person, one zone."""

    person: str
    zone: str
    reason: str
    permit: str


@dataclass(frozen=True, slots=True)
class Permission:
    """What the one rule allows now, for one check, remedy or reset and one person."""

    how: bool
    """The instructions may be shown."""
    now: bool
    """Its answer, or that it was done, may be entered now."""
    because: str
    """Why, or why not, in words."""
    needs: Access = Access.OUTSIDE
    way: str = ""
    """What would allow it: `lock`, `live`, `restore`, `isolate`, `call`; empty when nothing is in the way."""


@dataclass(frozen=True, slots=True)
class Aged:
    """A proof of dead that is made again before anything more is begun."""

    tested: str
    """The time of day of its test."""
    why: str = ""
    """What changed since, as a sentence; empty where it is older than it holds."""


@dataclass(frozen=True, slots=True)
class Banner:
    """The state of the lockout in words and a symbol, and what it allows."""

    symbol: str
    title: str
    allows: str
    level: str
    """`energised`, `locking`, `dead`, `live`, `stop` or `danger`; it sets the screen's style, never its meaning."""


class Refused(Exception):
    """The rule says no; the message says why and what to do, in one line."""
