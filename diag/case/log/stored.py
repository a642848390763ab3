"""Entries as the casebook keeps them: an event and what follows from it as an entry to add, an entry read with the care
that any input gets, and the list of cases."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from pydantic import ValidationError

from diag.case.log.carried import Carried, read_carried
from diag.case.log.events import Elsewhere, Entry, Event, Stamped, Unreadable
from diag.case.log.facts import sign_name
from diag.case.log.owners import TAG, TOLD, read_listed
from diag.case.sitting import Sitting
from diag.case.snapshot import TagLock
from diag.case.tags import at_tags, tag_locks, tags_of
from diag.machine.assets import parted
from diag.machine.model import Danger, Machine
from diag.record import entry as record
from diag.record.casebook import Casebook
from diag.record.errors import Contradicts
from diag.text import one_line

OUTLINE = ("opened", "took-over", "closed", "taken-back")
"""The kinds of entries that change a case's line in lists."""
TOUCHES = (
    *("took-over", "joined", "resumed", "gate", "made-safe", "reset-done", "remedied", "remedy-failed", "closed"),
    *("tag-found", "tag-down", "owner-absent", "owner-told", "lists-repaired"),
)
"""The kinds of entries that every case of the machine takes in. Whoever sits down is among them: what was proved dead
for them before is proved anew."""
NAMES = ("person", "before", "owner", "directed_by", "removed_by")
TEXTS = (
    "text",
    "why",
    "reason",
    "permit",
    "to",
    "note",
    "said",
    "how",
    "where",
    "says",
    "off_site",
    "tried",
    "checked",
)
"""Fields of events that hold a person's name, and free words. They are kept apart, so that they can be forgotten."""
OVER = ("cured", "running")
ADVICE = "advice"
"""Where an entry's body keeps what the person was advised."""

Locks = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One case in the list of cases."""

    id: str
    machine: str
    asset: str
    """The one of the machine's assets, folded; empty where it has none."""
    opened: datetime
    last: datetime
    person: str
    """Who had the keys last."""
    closed: str
    """`cured`, `running`, `handed-over`, or empty while open."""
    locks: Locks
    """Isolation point and person, each lock that is on."""
    danger: bool = False
    """A danger sign stands at its machine."""
    tags: Locks = ()
    """Isolation point (empty for elsewhere) and person of each danger tag that stands at its machine."""
    to_be_told: tuple[str, ...] = ()
    """Who is to be told, at its machine, that a lock or tag of theirs was taken off."""
    doubtful: bool = False
    """What the lists have standing at its machine is not what was entered, so that locks and dangers are not known."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands at the machine."""

    locks: frozenset[tuple[str, str]] = frozenset()
    """Isolation point and person; so are danger tags and who is to be told, as `owners.listed_as` names them."""
    dangers: tuple[Danger, ...] = ()
    rest: str | None = None
    """What is carried on where nothing stands."""


@dataclass(frozen=True, slots=True)
class Place:
    """How far a case and its machine have been read."""

    seq: int
    """Of the case's last entry."""
    rev: int
    """The machine's state number."""
    tags: int = 0
    """The sum of the state numbers of its tags."""


@dataclass(frozen=True, slots=True)
class Listed:
    """What a casebook's lists have standing at a machine. They are worked out from the entries, so both must agree."""

    locks: frozenset[tuple[str, str]]
    """Isolation point and person; so are danger tags and who is to be told, as `owners.listed_as` names them."""
    signs: frozenset[str]
    """Signs of danger by their names (`sign_name`)."""


@dataclass(frozen=True, slots=True)
class Stream:
    """What a case is replayed from."""

    entries: tuple[Entry | Elsewhere, ...]
    """Its own, and in their places those of other cases that touched its machine."""
    place: Place
    """How far they go."""
    carried: Carried | None = None
    """What was carried on from the rest that they begin at; None where they begin with the machine's first entry."""
    listed: Listed | None = None
    """What the casebook's lists have standing at the machine; None without a casebook."""
    tagged: tuple[TagLock, ...] = ()
    """Locks of other machines on what this one shares with them."""


def entry_to_add(
    machine: Machine,
    before: Sequence[Entry],
    stamped: Stamped,
    sitting: Sitting,
    had: Standing = Standing(),
    now: Standing = Standing(),
    seen: int | None = None,
) -> record.NewEntry:
    """An entry as it is stored. `before`: the entries of the case before it; `had` and `now`: what stands before and
    after it; `seen`: the machine's state number that the person saw, where it is to be compared."""
    at = machine.recorded_as
    on = tuple(record.LockOn(at, *lock) for lock in sorted(now.locks - had.locks))
    off = tuple(record.LockOn(at, *lock) for lock in sorted(had.locks - now.locks))
    tags = (tuple(at_tags(machine, on)), tuple(at_tags(machine, off)))
    derived = replace(
        _derived((*before, stamped)),
        locked=(*on, *tags[0]),
        unlocked=(*off, *tags[1]),
        dangers=tuple(record.DangerOn(at, sign_name(d)) for d in now.dangers if d not in had.dangers),
        made_safe=tuple(record.DangerOn(at, sign_name(d)) for d in had.dangers if d not in now.dangers),
        resets=_resets(at, before, stamped),
    )
    if now.rest is not None and (had.rest is None or stamped.event.kind == "closed"):
        derived = replace(derived, rest=now.rest)
    touches: dict[str, int | None] = {at: seen} if touching(machine, before, stamped.event) else {}
    touches |= {lock.machine: None for lock in (*tags[0], *tags[1])}
    body, stamp = _body(stamped.event), _stamp(stamped, sitting)
    if stamped.advice is not None:
        body[ADVICE] = stamped.advice.model_dump(mode="json")
    return record.NewEntry(stamped.at, stamped.by, stamped.event.kind, body, stamp, derived, touches)


def touching(machine: Machine, before: Iterable[Entry], event: Event) -> bool:
    """Whether every case of the machine takes this in: it changes what is physically so there, or what may be done."""
    if event.kind in ("found", "cannot-tell"):
        check = machine.checks.get(event.check)
        off = check is not None and bool(check.takes_off)
        return off or (event.kind == "found" and event.indication in signs(machine))
    if event.kind == "taken-back":
        back = next((e.event for e in before if isinstance(e, Stamped) and e.seq == event.seq), None)
        return back is not None and touching(machine, (), back)
    return event.kind in TOUCHES


def signs(machine: Machine) -> frozenset[str]:
    """Indications that may show a danger, or that a protective device has operated."""
    dangers = {indication for danger in machine.dangers for indication, _ in danger.when}
    return frozenset(dangers).union(i.id for i in machine.indications.values() if any(s.protective for s in i.states))


def _resets(machine: str, before: Sequence[Entry], last: Stamped) -> tuple[record.ResetDone, ...] | None:
    """All resets of the case, where the last entry changes them."""
    if last.event.kind not in ("reset-done", "taken-back"):
        return None
    stamped = [entry for entry in (*before, last) if isinstance(entry, Stamped)]
    taken = {one.event.seq for one in stamped if one.event.kind == "taken-back"}
    return tuple(
        record.ResetDone(machine, one.event.reset, one.seq, one.seq in taken)
        for one in stamped
        if one.event.kind == "reset-done"
    )


def stream_of(
    book: Casebook, case_id: str, machine: Machine | None = None, *, whole: bool = False, to_end: bool = False
) -> Stream:
    """What a case is replayed from; with `whole` from its machine's first entry, with `to_end` no further than a case
    that is over. With the machine, the locks of others that stand at its tags are among it.

    Raises KeyError for an unknown case, and `CasebookError`."""
    tags, tagged = (0, ()) if machine is None else (_tag_revs(book, machine), tag_locks(book, machine))
    found = book.stream(case_id, whole=whole, to_end=to_end)
    try:
        carried = read_carried(found.carried) if found.carried else None
    except ValueError:
        return stream_of(book, case_id, machine, whole=True, to_end=to_end)
    entries = (event_of(e) if e.case == found.case else Elsewhere(e.case, event_of(e)) for e in found.entries)
    listed = None if found.past else Listed(found.locks, found.dangers)
    return Stream(tuple(entries), Place(*found.place, tags), carried, listed, tagged)


def place_of(book: Casebook, case_id: str, machine: Machine) -> Place:
    """How far a case and its machine have gone by now; it takes one look into an index, and one more for each tag."""
    return Place(*book.place(case_id), _tag_revs(book, machine))


def _tag_revs(book: Casebook, machine: Machine) -> int:
    return sum(map(book.machine_rev, tags_of(machine)))


def entries_of(book: Casebook, case_id: str, after: int = 0) -> tuple[Entry, ...]:
    """The entries of a case behind entry `after`, in order; one that cannot be read keeps its place as `Unreadable`.

    Raises KeyError for an unknown case, and `CasebookError`."""
    return tuple(map(event_of, book.entries(case_id, after)))


def machine_of(book: Casebook, case_id: str) -> str:
    """What the record knows the machine by that a case belongs to (`diag.machine.assets`).

    Raises KeyError for an unknown case, and `CasebookError`."""
    return book.case(case_id).machine


def cases_in(book: Casebook, *, only_open: bool = False) -> tuple[CaseLine, ...]:
    """All cases, or those that are not over, the one with the latest entry first. What stands at a machine with an open
    case is held against its entries. Raises `CasebookError`."""
    heads = book.all_cases(only_open=only_open)
    open_at = {h.machine for h in heads if not h.over}
    dangers = {machine: bool(book.dangers(machine)) for machine in open_at}
    named = {machine: _named_at(book, machine) for machine in open_at}
    doubtful = {machine for machine in open_at if not _sound(book, machine)}
    lines = []
    for h in heads:
        locks = tuple((point, who) for point, who in h.locks if not read_listed(point)[0])
        lines.append(CaseLine(h.name, *parted(h.machine), h.opened, h.last, h.who, h.ended, locks))
        if not h.over:
            tags, told = named[h.machine]
            danger, doubt = dangers[h.machine], h.machine in doubtful
            lines[-1] = replace(lines[-1], danger=danger, tags=tags, to_be_told=told, doubtful=doubt)
    return tuple(lines)


def _named_at(book: Casebook, machine: str) -> tuple[Locks, tuple[str, ...]]:
    """The danger tags of a machine, and who is to be told there."""
    found = [(*read_listed(one.what), one.who) for one in book.locks(machine)]
    told = dict.fromkeys(who for word, _, who in found if word == TOLD)
    return tuple((point, who) for word, point, who in found if word == TAG), tuple(told)


def _sound(book: Casebook, machine: str) -> bool:
    """Whether the lists of a machine are what its entries say. One that is not hides no other."""
    try:
        book.check(machine)
    except Contradicts:
        return False
    return True


def event_of(found: record.Entry) -> Entry:
    """One entry, checked as any other input is."""
    try:
        stamp, event = found.stamp, {**(found.body or {}), "kind": found.kind}
        said: dict[str, object] = {"sitting": stamp.sitting, "role": stamp.role or None}
        said["advice"] = event.pop(ADVICE, None)
        said |= {word: word in stamp.confirmed for word in ("authorised", "qualified")}
        return Stamped.model_validate({"seq": found.seq, "at": found.at, "by": found.who, "event": event, **said})
    except (ValidationError, ValueError, RecursionError):
        why = f"Entry {found.seq} of case {one_line(found.case)} cannot be read. The others stand."
        return Unreadable(found.seq, why)


def derive(entries: Sequence[record.Entry]) -> list[record.Derived]:
    """What each entry of a case handed in for lists and for searching. What stands at the machine is left as it is."""
    events = [event_of(entry) for entry in entries]
    return [_derived(events[: number + 1]) for number in range(len(events))]


def _derived(entries: Sequence[Entry]) -> record.Derived:
    """What follows from the last of these entries of a case."""
    last = entries[-1]
    if isinstance(last, Unreadable):
        return record.NOTHING
    words = " ".join(_words(last.event))
    if last.event.kind not in OUTLINE:
        return record.Derived(words=words)
    lead, ended, cause, remedy = _outline(entries)
    minutes = 0
    if ended in OVER:
        opened = next(entry.at for entry in entries if isinstance(entry, Stamped))
        minutes = max(int((last.at - opened).total_seconds() // 60), 0)
    return record.Derived(lead, ended, ended in OVER, cause, remedy, minutes, words=words)


def _outline(entries: Iterable[Entry]) -> tuple[str, str, str, str]:
    """Who has the case in hand, how it ended, its cause, and the remedy that cured it."""
    stamped = [entry for entry in entries if isinstance(entry, Stamped)]
    taken = {one.event.seq for one in stamped if one.event.kind == "taken-back"}
    lead = ended = cause = remedy = done = ""
    for one in stamped:
        match one.event.kind:
            case "opened":
                lead = one.by
            case "took-over":
                lead = one.event.person
                ended = "" if ended == "handed-over" else ended
            case "remedied" if one.seq not in taken:
                done = one.event.remedy
            case "remedy-failed" if one.seq not in taken:
                done = ""
            case "closed" if one.seq not in taken:
                ended, cause = one.event.outcome, one.event.cause
                remedy = done if ended == "cured" else ""
    return lead, ended, cause, remedy


def _words(event: Event) -> Iterable[str]:
    """What a case can be found by later, of one event."""
    match event.kind:
        case "opened":
            return (event.machine,)
        case "took-over" | "joined":
            return (event.person,)
        case "found":
            return (event.indication, *event.seen, event.said)
        case "noted":
            return (event.text,)
        case "made-safe":
            return (event.how,)
        case "tag-found":
            return (event.person, event.where, event.says)
        case "owner-absent":
            return (event.owner, event.directed_by, event.removed_by)
        case "remedied":
            return (event.remedy,)
        case "closed":
            return (event.cause, event.to, event.note)
        case _:
            return ()


def _body(event: Event) -> dict[str, object]:
    body = event.model_dump(mode="json", exclude={"kind"})
    for key, value in body.items():
        if isinstance(value, str) and key in NAMES:
            body[key] = record.Name(value)
        elif isinstance(value, str) and key in TEXTS:
            body[key] = record.Text(value)
    if event.kind == "lists-repaired":
        body["locks"] = [[point, record.Name(person)] for point, person in event.locks]
    return body


def _stamp(stamped: Stamped, sitting: Sitting) -> record.Stamp:
    said = (("authorised", stamped.authorised), ("qualified", stamped.qualified))
    ahead = stamped.at.astimezone().utcoffset()
    return record.Stamp(
        role="" if stamped.role is None else str(stamped.role.value),
        confirmed=tuple(word for word, so in said if so),
        account=sitting.account,
        host=sitting.host,
        terminal=sitting.terminal,
        version=sitting.version,
        sitting=stamped.sitting,
        offset=None if ahead is None else int(ahead.total_seconds() // 60),
    )
