"""What goes into a casebook and what comes out, as frozen types. What an entry means is for whoever hands it in."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from diag.record.errors import CasebookError

EARLIEST, LATEST = 946_684_800_000_000, 32_503_680_000_000_000
"""The times that can be stored, in microseconds since 1970 UTC: from the year 2000 up to the year 3000."""
BLANKED = "(blanked)"
"""Stands for a text that was blanked since."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Name:
    """A person's name within a body. It is kept apart, so that it can be forgotten."""

    name: str


@dataclass(frozen=True, slots=True)
class Text:
    """Free words within a body. They are kept apart, since they may name somebody, and so can be blanked."""

    words: str


@dataclass(frozen=True, slots=True)
class Stamp:
    """Where and as what the person entered it. Its digest covers it. What is not known stays empty."""

    role: str = ""
    confirmed: tuple[str, ...] = ()
    """What they confirmed of themselves, such as `authorised`."""
    account: str = ""
    """The system's account. It is kept with the name, and is forgotten with it."""
    host: str = ""
    terminal: str = ""
    version: str = ""
    """Of this program."""
    sitting: str = ""
    """One terminal with one person, from sitting down to getting up."""
    offset: int | None = None
    """Minutes that the terminal's clock was ahead of UTC."""


@dataclass(frozen=True, slots=True)
class LockOn:
    """A lock that is on: whose, at which point of which machine."""

    machine: str
    point: str
    who: str


@dataclass(frozen=True, slots=True)
class DangerOn:
    """A sign of danger that stands."""

    machine: str
    sign: str


@dataclass(frozen=True, slots=True)
class ResetDone:
    """A reset that was carried out, or said to be."""

    machine: str
    reset: str
    seq: int = 0
    """Of its entry; 0 for the entry that is being added."""
    mistaken: bool = False
    """Its entry was taken back since. It still counts."""


@dataclass(frozen=True, slots=True)
class Derived:
    """What follows from a case's entries up to this one, for lists and for searching. None: as before."""

    lead: str | None = None
    """The person who has the case in hand."""
    ended: str | None = None
    """How it ended, in the word for lists; empty while it goes on."""
    over: bool | None = None
    """Whether it is over for good."""
    cause: str | None = None
    remedy: str | None = None
    minutes: int | None = None
    locked: tuple[LockOn, ...] = ()
    unlocked: tuple[LockOn, ...] = ()
    """Locks that this entry put on, and took off, whichever case they were put on in."""
    dangers: tuple[DangerOn, ...] = ()
    made_safe: tuple[DangerOn, ...] = ()
    """Signs of danger that stand since this entry, and that are over with it."""
    resets: tuple[ResetDone, ...] | None = None
    """All resets of this case."""
    rest: str | None = None
    """Where the machine is at rest with this entry: what is carried on from here, so that the streams of later cases
    need not begin before. What it says is for whoever hands it in."""
    words: str = ""
    """Words to find the case by, beside those that it has."""


NOTHING = Derived()


@dataclass(frozen=True, slots=True)
class NewEntry:
    """An entry that is to be added."""

    at: datetime
    who: str
    """The person's name."""
    kind: str
    body: Mapping[str, Any]
    """JSON values, and `Name` and `Text` where what is written is kept apart."""
    stamp: Stamp = Stamp()
    derived: Derived = NOTHING
    touches: Mapping[str, int | None] = field(default_factory=dict)
    """The machines whose state it touches, each with the state number that the person saw; None: not compared."""


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry as it was found. The file may have been damaged since, so nothing of it is to be taken on trust."""

    case: str
    seq: int
    """From 1, without gaps."""
    at: datetime
    who: str
    kind: str
    body: dict[str, Any] | None
    """None where it cannot be read."""
    stamp: Stamp
    revs: Mapping[str, int]
    """The state numbers that this entry gave to the machines that it touched."""
    rev: int
    """The state number of the case's machine once this entry was recorded."""
    digest: bytes


@dataclass(frozen=True, slots=True)
class Stored:
    """The entries are in the casebook."""

    seq: int
    """Of the last one."""
    digest: bytes
    """The case's digest now."""
    rev: int
    """The state number of the case's machine with them."""
    revs: Mapping[str, int]
    """The state numbers of the machines that were touched, as they are now."""


@dataclass(frozen=True, slots=True)
class Stream:
    """The entries of a case, and in their places among them those of other cases that touched its machine."""

    case: str
    """What the case is called in its own entries."""
    entries: tuple[Entry, ...]
    place: tuple[int, int]
    """The number of the case's last entry, and the state number of the machine."""
    carried: str
    """What was carried on from the rest that it begins at; empty where it begins with the machine's first entry."""
    locks: frozenset[tuple[str, str]] = frozenset()
    """Point and person of the locks that the casebook's list has on at the machine, to be held against the entries."""
    dangers: frozenset[str] = frozenset()
    """The signs of danger that its list has standing there."""
    past: bool = False
    """It ends before what stands there now."""


@dataclass(frozen=True, slots=True)
class Stale:
    """Nothing was recorded: the machine is not as the person saw it."""

    machine: str
    rev: int
    """Its state number now."""


@dataclass(frozen=True, slots=True)
class CaseHead:
    """A case as lists show it."""

    id: str
    """The same everywhere, 32 hexadecimal digits."""
    name: str
    """For reading, such as `1130-a`; with the year behind a slash where a later case has the same."""
    machine: str
    opened: datetime
    last: datetime
    seq: int
    who: str
    ended: str
    over: bool
    cause: str
    remedy: str
    minutes: int
    digest: bytes
    cursor: tuple[int, int]
    """Where the next page begins."""
    locks: tuple[tuple[str, str], ...]
    """Points and persons of the locks of this case that are on."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A lock, a danger or a reset of a machine, with the entry that it comes from."""

    machine: str
    what: str
    """The point, the sign or the reset."""
    who: str
    case: str
    seq: int
    at: datetime
    mistaken: bool = False


Derive = Callable[[Sequence[Entry]], Sequence[Derived]]
"""Works out anew, from the entries of one case in order, what each of them handed in when it was added."""


def micros(at: datetime) -> int:
    """Microseconds since 1970 UTC. Raises `CasebookError` for a time that cannot be stored."""
    found = (at - _EPOCH) // timedelta(microseconds=1)
    if not EARLIEST <= found < LATEST:
        raise CasebookError(
            f"The clock says {at.year}, which cannot be right. Set it, then repeat. Nothing was recorded."
        )
    return found


def moment(found: int) -> datetime:
    """The time of so many microseconds; one that cannot be shown becomes the nearest that can."""
    return _EPOCH + timedelta(microseconds=min(max(found, EARLIEST), LATEST - 1))
