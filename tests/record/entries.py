"""Entries for the casebook's tests. What they mean is made up here, since the casebook does not care."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from diag.record.casebook import Casebook
from diag.record.entry import DangerOn, Derived, Entry, LockOn, Name, NewEntry, ResetDone, Stamp, Stored, Text

START = datetime(2026, 11, 25, 3, 0, tzinfo=UTC)
STAMP = Stamp("electrician", ("authorised",), "plant", "pc-7", "/dev/pts/3", "0.2", "5f", 60)


def names(day: str = "1125") -> Iterator[str]:
    return (f"{day}-{letter}" for letter in "abcdefghjkmnpqrstuvwxyz")


def note(minute: int, text: str = "a bang", who: str = "Ann", **more: Any) -> NewEntry:
    """A note, so many minutes after the start."""
    at = START + timedelta(minutes=minute)
    return NewEntry(at, who, "noted", {"text": Text(text)}, more.pop("stamp", STAMP), Derived(words=text), **more)


def opening(minute: int = 0, who: str = "Ann", machine: str = "mixer") -> NewEntry:
    body = {"machine": machine, "revision": "1"}
    return NewEntry(START + timedelta(minutes=minute), who, "opened", body, STAMP, Derived(lead=who, words=machine))


def ending(minute: int, who: str = "Ann", cause: str = "fuse") -> NewEntry:
    derived = Derived(ended="cured", over=True, cause=cause, minutes=minute)
    body = {"outcome": "cured", "cause": cause, "to": Name("")}
    return NewEntry(START + timedelta(minutes=minute), who, "closed", body, STAMP, derived)


def lock(minute: int, point: str = "q1", who: str = "Ann", machine: str = "mixer", seen: int | None = None) -> NewEntry:
    derived = Derived(locked=(LockOn(machine, point, who),))
    body = {"zone": "box", "act": "off-and-locked", "target": point, "owner": Name(who)}
    return NewEntry(START + timedelta(minutes=minute), who, "gate", body, STAMP, derived, {machine: seen})


def unlock(minute: int, point: str = "q1", who: str = "Ann", stamp: Stamp = STAMP) -> NewEntry:
    derived = Derived(unlocked=(LockOn("mixer", point, who),))
    body = {"zone": "box", "act": "locks-off", "target": point, "owner": Name(who)}
    return NewEntry(START + timedelta(minutes=minute), who, "gate", body, stamp, derived, {"mixer": None})


def begin(book: Casebook, *more: NewEntry, machine: str = "mixer", minute: int = 0) -> str:
    """A case of this machine, with further entries."""
    return book.begin(names(), machine, [opening(minute, machine=machine), *more])


def add(book: Casebook, case: str, *entries: NewEntry) -> Stored:
    """Adds behind the last entry."""
    found = book.append(case, entries, after=book.case(case).seq)
    assert isinstance(found, Stored)
    return found


def derive(entries: Sequence[Entry]) -> list[Derived]:
    """What the entries above handed in, worked out from what was stored."""
    found = []
    for entry in entries:
        body = entry.body or {}
        match entry.kind:
            case "opened":
                found.append(Derived(lead=entry.who, words=body["machine"]))
            case "noted":
                found.append(Derived(words=body["text"]))
            case "gate":
                machine = next(iter(entry.revs))
                moved = (LockOn(machine, body["target"], body["owner"]),)
                on = body["act"] == "off-and-locked"
                found.append(Derived(locked=moved if on else (), unlocked=() if on else moved))
            case "closed":
                minutes = round((entry.at - START).total_seconds() / 60)
                found.append(Derived(ended="cured", over=True, cause=body["cause"], minutes=minutes))
            case "danger":
                found.append(Derived(dangers=(DangerOn(next(iter(entry.revs)), body["sign"]),)))
            case "reset":
                found.append(Derived(resets=(ResetDone(next(iter(entry.revs)), body["reset"]),)))
            case _:
                found.append(Derived())
    return found
