"""The frozen types that leave this room: persons, acts at the gate, permissions, the banner."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from diag.machine.model import Access, Role


@dataclass(frozen=True, slots=True)
class Person:
    """Who is at the keys. `authorised` (to lock out) and `qualified` (to work near live parts) are the person's own
    word, apart from the role."""

    name: str
    role: Role
    authorised: bool = False
    qualified: bool = False


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
    # The way back, and power for a test in between.
    TOOLS_OUT = "tools-out"
    GUARDS_ON = "guards-on"
    CLEAR = "clear"
    """People clear."""
    LOCKS_OFF = "locks-off"
    """This person takes off their own locks."""
    TOLD_BACK = "told-back"
    POWER_ON = "power-on"
    """Isolation points back on."""
    TEST_POWER = "test-power"
    """From dead: power is wanted for a test; the way back starts, with the promise to isolate again."""
    ISOLATE_AGAIN = "isolate-again"
    """The test is over; isolate, lock and test for dead again."""
    BACK = "back"
    """From dead (or from a stop, or from locking): start the way back."""
    RETRACT = "retract"
    """The last confirmation was a mistake: one step back, never towards dead."""
    LIVE = "live"
    """Live acknowledgement for this zone: qualified, the reason, the permit (see `LiveWork`)."""
    LIVE_OVER = "live-over"
    """Closed again after live work."""


@dataclass(frozen=True, slots=True)
class Step:
    """One confirmation that may be given next: what to do in words, and the act that says so."""

    zone: str
    act: Act
    target: str
    text: str
    """What the person confirms, in one or two short sentences."""
    wait: float = 0.0
    """Minutes on the label, for a countdown that informs."""
    needs: str = ""
    """`authorised`, `qualified` or empty: whom this step asks for."""
    fails: tuple[Act, ...] = ()
    """What else may be found at this step (voltage, a meter that does not prove, a movement)."""
    asks: tuple[str, ...] = ()
    """What must be given in words with it: `reason`, `permit`."""


@dataclass(frozen=True, slots=True)
class LiveWork:
    """A live acknowledgement: one person, one zone."""

    person: str
    zone: str
    reason: str
    permit: str


@dataclass(frozen=True, slots=True)
class Permission:
    """The answer of the one rule, for one check or remedy and one person, now."""

    how: bool
    """Its instructions may be shown."""
    now: bool
    """Its answer (or its doing) may be taken as done now."""
    because: str
    """In words: why not, or why so."""
    needs: Access = Access.OUTSIDE
    way: str = ""
    """What opens it: `lock`, `live`, `restore`, `isolate`, `call`, or empty when nothing is in the way."""


@dataclass(frozen=True, slots=True)
class Banner:
    """The state of the lockout in words and a symbol, and what it allows."""

    symbol: str
    title: str
    allows: str
    level: str
    """`energised`, `locking`, `dead`, `live`, `stop` or `danger`; the screen's style hangs on it, never its meaning."""


class Refused(Exception):
    """The rule says no; the message says why and what to do, in one line."""
