"""What is so at a machine, whoever did it and in whichever case: locks, danger signs, resets, and the open cases.

It is read from what the casebook keeps beside its entries, held against their stamps, without replaying any of them.
Nothing at the gate is decided by it: there every case replays what was entered at its machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from diag.case import tags
from diag.case.log.events import OwnerAbsent, Stamped
from diag.case.log.owners import TAG, TOLD, read_listed
from diag.case.log.stored import event_of
from diag.case.phrases import listed
from diag.case.snapshot import TagLock, ToBeTold
from diag.case.tags import tag_locks
from diag.machine.assets import parted
from diag.machine.model import Machine
from diag.record.casebook import Casebook
from diag.record.entry import Standing
from diag.text import one_line

DAY = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Stands:
    """A lock that is on, a danger sign or tag that stands, somebody who is to be told, or a reset that was said by
    mistake."""

    what: str
    """The isolation point (empty for elsewhere), the sign, or the reset."""
    who: str
    """Whose it is; of a sign, who found it."""
    case: str
    since: datetime


@dataclass(frozen=True, slots=True)
class OpenCase:
    """A case of the machine that is not over."""

    id: str
    lead: str
    opened: datetime
    last: datetime
    handed_over: bool
    """Nobody has it in hand since it was handed over."""


@dataclass(frozen=True, slots=True)
class MachineCondition:
    """What is so at one machine, as far as its cases say."""

    machine: str
    locks: tuple[Stands, ...] = ()
    dangers: tuple[Stands, ...] = ()
    tags: tuple[Stands, ...] = ()
    """Danger tags, each with the name on it."""
    to_be_told: tuple[ToBeTold, ...] = ()
    """Those whose lock or tag was taken off while they were absent, and who do not know it."""
    resets: int = 0
    """Done in the last 24 hours, those that were said by mistake among them."""
    mistaken: tuple[Stands, ...] = ()
    """Those of them that were said by mistake."""
    cases: tuple[OpenCase, ...] = ()
    """The latest first."""
    tag_locks: tuple[TagLock, ...] = ()
    """Locks of other machines on what this one shares with them by a tag."""


def condition_of(book: Casebook, machine: Machine, now: datetime) -> MachineCondition:
    """The condition of a machine. Raises `CasebookError`, also where what stands is not what was entered."""
    recorded = machine.recorded_as
    book.check(recorded)
    heads = book.all_cases(machine=recorded, only_open=True)
    resets = book.resets(recorded, now - DAY)
    by_word: dict[str, list[Stands]] = {"": [], TAG: []}
    told = []
    for s in book.locks(recorded):
        word, point = read_listed(s.what)
        if word == TOLD:
            told.append(s)
        else:
            by_word.setdefault(word, []).append(Stands(point, s.who, s.case, s.at))
    return MachineCondition(
        recorded,
        tuple(by_word[""]),
        tuple(Stands(s.what, s.who, s.case, s.at) for s in book.dangers(recorded)),
        tuple(by_word[TAG]),
        tuple(dict.fromkeys(_taken_off(book, s) for s in told)),
        len(resets),
        tuple(Stands(r.what, r.who, r.case, r.at) for r in resets if r.mistaken),
        tuple(OpenCase(h.name, h.who, h.opened, h.last, h.ended == "handed-over") for h in heads),
        tag_locks(book, machine),
    )


def in_words(found: MachineCondition, machine: Machine | None = None) -> Iterator[str]:
    """The condition, a sentence for each thing that stands; nothing where nothing does. `machine`: for the titles of
    its isolation points."""
    for sign in found.dangers:
        yield f"DANGER stands: {one_line(sign.what)} ({_said(sign)})."
    for tag in found.tags:
        since = f"case {tag.case}, since {_clock(tag.since)}"
        yield f"DANGER TAG{_at(machine, tag)} names {one_line(tag.who)} ({since}). It stays until they take it down."
    for lock in found.locks:
        yield f"LOCK ON: {_point(machine, lock.what)} ({_said(lock)})."
    for shared in found.tag_locks:
        since = f", since {_clock(shared.since)}" if shared.since else ""
        yield f"LOCK ON at {one_line(shared.tag)}, which this machine shares: {tags.in_words(shared)}{since}."
    for one in found.to_be_told:
        at = listed(_point(machine, p) for p in dict.fromkeys((*one.locks, *one.tags)))
        by = f" by {one_line(one.removed_by)}" if one.removed_by else ""
        when = f"case {one.case}, {_clock(one.at)}"
        yield f"TO BE TOLD: {one_line(one.owner)}, before any work. Taken off{f' at {at}' * bool(at)}{by} ({when})."
    for case in found.cases:
        who = "handed over by" if case.handed_over else "in hand:"
        yield f"Open: case {case.id}, {who} {one_line(case.lead)}, last entry {_clock(case.last)}."
    if found.resets:
        by = ", ".join(one_line(reset.who) for reset in found.mistaken)
        mistaken = f", {len(found.mistaken)} of them said by mistake ({by})" if by else ""
        yield f"{found.resets} {'reset' if found.resets == 1 else 'resets'} in the last 24 h{mistaken}."


def as_object(found: MachineCondition) -> dict[str, Any]:
    """The condition as JSON values."""

    def stands(all_of: tuple[Stands, ...], word: str) -> list[dict[str, str]]:
        return [{word: s.what, "who": s.who, "case": s.case, "since": s.since.isoformat()} for s in all_of]

    return {
        "locks": stands(found.locks, "point"),
        "dangers": stands(found.dangers, "sign"),
        "tag_locks": [
            {
                "point": t.point,
                "tag": t.tag,
                "machine": parted(t.machine)[0],
                "asset": parted(t.machine)[1] or None,
                "who": t.who,
                "case": t.case,
                "since": t.since.isoformat() if t.since else None,
            }
            for t in found.tag_locks
        ],
        "danger_tags": stands(found.tags, "point"),
        "owners_to_be_told": [
            {
                "who": one.owner,
                "locks": list(one.locks),
                "tags": list(one.tags),
                "removed_by": one.removed_by,
                "directed_by": one.directed_by,
                "case": one.case,
                "since": one.at.isoformat(),
            }
            for one in found.to_be_told
        ],
        "resets_24h": found.resets,
        "resets_by_mistake": stands(found.mistaken, "reset"),
        "open_cases": [
            {
                "case": c.id,
                "lead": None if c.handed_over else c.lead,
                "opened": c.opened.isoformat(),
                "last": c.last.isoformat(),
            }
            for c in found.cases
        ],
    }


def _taken_off(book: Casebook, found: Standing) -> ToBeTold:
    """What its entry says was taken off."""
    entries = book.entries(found.case, found.seq - 1)
    event = event_of(entries[0]) if entries else None
    if isinstance(event, Stamped) and isinstance(event.event, OwnerAbsent):
        gone = event.event
        return ToBeTold(found.who, gone.locks, gone.tags, gone.directed_by, gone.removed_by, found.at, found.case)
    return ToBeTold(found.who, (read_listed(found.what)[1],), (), "", "", found.at, found.case)


def _point(machine: Machine | None, id: str) -> str:
    point = machine.points.get(id) if machine is not None else None
    return one_line(point.title if point else id)


def _at(machine: Machine | None, one: Stands) -> str:
    return f" at {_point(machine, one.what)}" if one.what else ""


def _said(one: Stands) -> str:
    return f"{one_line(one.who)}, case {one.case}, since {_clock(one.since)}"


def _clock(at: datetime) -> str:
    return f"{at.astimezone():%Y-%m-%d %H:%M}"
