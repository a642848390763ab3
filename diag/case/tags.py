"""Locks at what machines of a site share: an isolation point that several of them name by one tag.

Such a lock is shown at each of them. It is nobody's own lock there, and proves nothing dead.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from diag.case.snapshot import TagLock
from diag.machine.assets import folded, shown_name
from diag.machine.model import Machine
from diag.record.casebook import Casebook
from diag.record.entry import LockOn, Standing
from diag.record.errors import Contradicts
from diag.safety.types import Act, Step
from diag.text import one_line

BEFORE = "/"
"""How the record's name of a tag begins; no machine's does."""
BETWEEN = "|"
"""Stands between machine and isolation point; no point's name holds it."""


def recorded_tag(tag: str) -> str:
    """What the record knows a tag by, among the machines."""
    return BEFORE + folded(tag)


def tags_of(machine: Machine) -> tuple[str, ...]:
    """What the record knows the tags of a machine by."""
    return tuple(recorded_tag(point.tag) for point in machine.points.values() if point.tag)


def at_tags(machine: Machine, locks: Iterable[LockOn]) -> Iterator[LockOn]:
    """The same locks, as they stand at the tags of their points."""
    for lock in locks:
        point = machine.points.get(lock.point)
        if point is not None and point.tag:
            yield LockOn(recorded_tag(point.tag), f"{lock.machine}{BETWEEN}{lock.point}", lock.who)


def tag_locks(book: Casebook, machine: Machine) -> tuple[TagLock, ...]:
    """The locks that are on at other machines and assets, at points that this one has by the same tag. A lock that
    came off while the file there named no tag is not among them; where the list of a tag is not what was entered, that
    stands there too. Raises `CasebookError`."""
    found: list[TagLock] = []
    on: dict[str, tuple[Standing, ...]] = {}
    for point in (point for point in machine.points.values() if point.tag):
        try:
            book.check(recorded_tag(point.tag))
        except Contradicts:
            found.append(TagLock(point.id, point.tag))
        for lock in book.locks(recorded_tag(point.tag)):
            where, _, other = lock.what.rpartition(BETWEEN)
            if where == machine.recorded_as:
                continue
            if where not in on:
                on[where] = book.locks(where)
            if any((one.what, one.who) == (other, lock.who) for one in on[where]):
                found.append(TagLock(point.id, point.tag, where, lock.who, lock.case, lock.at))
    return tuple(found)


def in_words(lock: TagLock) -> str:
    """Whose lock it is, and where: `lock of Ann at sorter, line 2, case 1125-a`."""
    if not lock.who:
        return "the casebook contradicts itself there, so look whose locks are on it"
    return f"lock of {one_line(lock.who)} at {one_line(shown_name(lock.machine))}, case {lock.case}"


def told(steps: tuple[Step, ...], locks: tuple[TagLock, ...]) -> tuple[Step, ...]:
    """The steps of a gate, in which each that switches a point off or on also names the locks of others there."""
    return tuple(_told(step, [lock for lock in locks if lock.point == step.target]) for step in steps)


def _told(step: Step, locks: list[TagLock]) -> Step:
    if not locks or step.act not in (Act.OFF_AND_LOCKED, Act.POWER_ON):
        return step
    whose = "; ".join(map(in_words, locks))
    return replace(step, text=f"{step.text} By its tag {one_line(locks[0].tag)} there is also: {whose}.")
