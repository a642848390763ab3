"""Reading: the entries of a case, lists by page, what stands at a machine, and search."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Any

from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import BLANKED, EARLIEST, LATEST, CaseHead, Entry, Stamp, Standing, Stream, moment
from diag.record.store.agreeing import check_stream, proved_rest
from diag.record.store.appending import PERSON, TEXT
from diag.record.words import words_of

FAR = 1 << 62
"""Later than any time and more than any number."""
NEWEST = 20_000
"""How many of the newest cases are searched before all of them: common words are found there at once."""
PAGE = 500
ID = re.compile("[0-9a-f]{32}")

Persons = Mapping[str, tuple[str, str]]
"""From a mark to name and account."""


def number_of(engine: Engine, case: str) -> int:
    """The number of a case in this casebook. `1130-a` is the newest of that name, `1130-a/2026` that of a year; its
    id of 32 hexadecimal digits means the same case for ever, whatever is opened or imported later.

    Raises KeyError where there is none."""
    if ID.fullmatch(case):
        rows = engine.run(sql.CASE_BY_ID, {"id": case})
        if not rows:
            raise KeyError(case)
        return int(rows[0][0])
    name, parted, year = case.partition("/")
    wanted = int(year) if year.isascii() and year.isdigit() and len(year) == 4 else 0
    rows = engine.run(sql.CASE, {"name": name, "year": wanted}) if "\0" not in case else []
    if not rows or (parted and not wanted):
        raise KeyError(case)
    return int(rows[0][0])


def label_of(engine: Engine, no: int) -> str:
    """The name of a case, with its year where a later one has the same."""
    rows = engine.run(sql.LABEL, {"no": no})
    return _label(*rows[0]) if rows else str(no)


def entries_of(engine: Engine, no: int, case: str, after: int = 0) -> tuple[Entry, ...]:
    """The entries of a case behind entry `after`, in order. One that was damaged keeps its place."""
    span = {"no": no, "after": after}
    rows = engine.run(sql.ENTRIES, span)
    texts: dict[str, str] = dict(engine.run(sql.TEXTS, span)) if rows else {}
    found = engine.run(sql.PERSONS_OF, span) if rows else []
    persons = _Persons(engine, {mark: (name, account) for mark, name, account in found})
    return tuple(read_entry(case, row, persons, texts) for row in rows)


def read_entry(case: str, row: Sequence[Any], persons: Persons, texts: Mapping[str, str]) -> Entry:
    """One entry from its columns: seq, at, who, kind, stamp, body, digest."""
    seq, at, who, kind, stamp_column, body_column, digest = row
    name, account = persons.get(who) or (forgotten(str(who)), "")
    stamp, rev, revs = _stamp(stamp_column, account)
    body: dict[str, Any] | None = None
    with suppress(ValueError, TypeError, RecursionError):
        loaded = _filled(json.loads(body_column), persons, texts)
        body = loaded if isinstance(loaded, dict) and isinstance(at, int) and EARLIEST <= at < LATEST else None
    time = moment(at if isinstance(at, int) else 0)
    return Entry(case, seq, time, name, str(kind), body, stamp, revs, rev, digest if isinstance(digest, bytes) else b"")


def forgotten(mark: str) -> str:
    """What stands for a person who was forgotten; two of them stay two."""
    return f"forgotten person {mark[:4]}" if mark else ""


def heads(
    engine: Engine,
    *,
    machine: str = "",
    only_open: bool = False,
    cause: str = "",
    before: tuple[int, int] | None = None,
    limit: int = 50,
) -> tuple[CaseHead, ...]:
    """A page of cases, the one with the latest entry first; `before` is the cursor of the last one seen."""
    statement = {
        (False, False): sql.PAGE_ALL,
        (False, True): sql.PAGE_OPEN,
        (True, False): sql.PAGE_MACHINE,
        (True, True): sql.PAGE_MACHINE_OPEN,
    }[bool(machine), only_open]
    if cause:
        statement = sql.PAGE_CAUSE
    last, no = before or (FAR, FAR)
    values = {"machine": machine, "cause": cause, "last": last, "no": no, "limit": limit}
    rows = engine.run(statement, {key: value for key, value in values.items() if f":{key}" in statement})
    return _heads(engine, rows)


def all_heads(engine: Engine, *, machine: str = "", only_open: bool = False) -> Iterator[CaseHead]:
    """All cases, page after page, the one with the latest entry first."""
    before = None
    while page := heads(engine, machine=machine, only_open=only_open, before=before, limit=PAGE):
        yield from page
        before = page[-1].cursor


def head_of(engine: Engine, no: int) -> CaseHead:
    """One case as lists show it."""
    return _heads(engine, engine.run(sql.HEAD, {"no": no}))[0]


def search(engine: Engine, text: str, limit: int, below: int = FAR) -> tuple[CaseHead, ...]:
    """Cases in which all of these words were said, the newest first. A `*` at the end stands for any ending."""
    words = words_of(text)
    if not words:
        return ()
    last = ["*" if text.rstrip().endswith("*") else ""]
    ends = [""] * (len(words) - 1) + last
    if engine.dialect == "sqlite":
        query = " ".join(f'"{word}"{end}' for word, end in zip(words, ends, strict=True))
    else:
        query = " & ".join(f"'{word}'{end and ':*'}" for word, end in zip(words, ends, strict=True))
    find = sql.WORDS[engine.dialect]["find"]
    newest = min(int(engine.run(sql.NEWEST)[0][0]) + 1, below)
    values = {"words": query, "below": newest, "limit": limit, "above": max(newest - NEWEST, 0)}
    found = [row[0] for row in engine.run(find, values)]
    if len(found) < limit and newest > NEWEST:
        rest = {"words": query, "below": newest - NEWEST + 1, "limit": limit - len(found), "above": 0}
        found += [row[0] for row in engine.run(find, rest)]
    return tuple(head_of(engine, no) for no in found)


def standing(engine: Engine, statement: str, **values: Any) -> tuple[Standing, ...]:
    """What stands at a machine: locks, dangers or resets."""
    labels: dict[int, str] = {}
    found = []
    for machine, what, who, no, seq, at, mistaken in engine.run(statement, values):
        if no not in labels:
            labels[no] = label_of(engine, no)
        found.append(Standing(machine, what, who, labels[no], seq, moment(at), bool(mistaken)))
    return tuple(found)


def touching(
    engine: Engine, machine: str, after: int = 0, but: int = 0, until: int = FAR
) -> tuple[tuple[int, Entry], ...]:
    """State number and entry, for all that touched a machine behind that number, up to another, in the order in which
    it was recorded, but for those of one case."""
    values = {"machine": machine, "after": after, "until": until, "but": but}
    rows = engine.run(sql.TOUCHING, values)
    texts: dict[str, str] = dict(engine.run(sql.TOUCHING_TEXTS, values)) if rows else {}
    persons, labels = _Persons(engine, {}), dict[int, str]()
    found = []
    for rev, no, *row in rows:
        if no not in labels:
            labels[no] = label_of(engine, no)
        found.append((int(rev), read_entry(labels[no], row, persons, texts)))
    return tuple(found)


def place_of(engine: Engine, no: int) -> tuple[str, int, int]:
    """The machine of a case, the number of its last entry, and the machine's state number."""
    machine, seq, rev = engine.run(sql.PLACE, {"no": no})[0]
    return machine, int(seq), int(rev)


def stream(engine: Engine, no: int, *, whole: bool = False, to_end: bool = False) -> Stream:
    """The entries of a case, and those of others that touched its machine in their places among them, from the last
    rest of the machine before the case, or with `whole` from the machine's first entry. With `to_end` it goes no
    further than a case that is over; else up to now. One from another casebook has its own entries alone, since nothing
    here touched its machine.

    What touched the machine has a state number of its own. Anything else stands behind what gave the number that the
    machine had when it was recorded. So the order is the same for everybody, and no clock has a part in it.

    Raises `Contradicts` where what is kept beside the entries would leave one out."""
    with engine.snapshot():
        machine, seq, rev = place_of(engine, no)
        case = label_of(engine, no)
        own = entries_of(engine, no, case)
        touches: dict[int, int] = dict(engine.run(sql.OWN_TOUCHES, {"no": no, "machine": machine}))
        over = head_of(engine, no).over
        if here := bool(touches) or not over:
            rest, carried = proved_rest(engine, machine, own[0].rev if own and not whole else 0)
            until = max((own[-1].rev, *touches.values())) if own and over and to_end else rev
            others = touching(engine, machine, rest, but=no, until=until)
        else:
            rest, carried, until, others = 0, "", 0, ()
        check_stream(engine, machine, rev, (rest, until), own if here else (), touches, others)
        locks = frozenset((row[1], row[2]) for row in engine.run(sql.LOCKS, {"machine": machine}))
        dangers = frozenset(row[1] for row in engine.run(sql.DANGERS, {"machine": machine}))
    found: list[Entry] = []
    next_one = 0
    for entry in own:
        until = touches.get(entry.seq, entry.rev + 1)
        while next_one < len(others) and others[next_one][0] < until:
            found.append(others[next_one][1])
            next_one += 1
        found.append(entry)
    found += (entry for _, entry in others[next_one:])
    return Stream(case, tuple(found), (seq, rev), carried, locks, dangers, past=until < rev or not here)


class _Persons(dict[str, tuple[str, str]]):
    """Persons of a case; one who only stands in a body is looked up when met."""

    def __init__(self, engine: Engine, known: Mapping[str, tuple[str, str]]) -> None:
        super().__init__(known)
        self._engine = engine

    def get(self, mark: str, default: Any = None) -> Any:
        if mark not in self:
            rows = self._engine.run(sql.PERSON_OF, {"mark": mark}) if isinstance(mark, str) else []
            self[mark] = (rows[0][0], rows[0][1]) if rows else ("", "")
        found = self[mark]
        return found if found[0] else default


def _filled(value: Any, persons: Persons, texts: Mapping[str, str]) -> Any:
    """A stored value with names and texts in the places of their marks."""
    match value:
        case {"$person": str(mark), **rest} if not rest:
            known = persons.get(mark)
            return known[0] if known else forgotten(mark)
        case {"$text": str(mark), **rest} if not rest:
            return texts.get(mark, BLANKED)
        case dict():
            return {key: _filled(one, persons, texts) for key, one in value.items()}
        case list():
            return [_filled(one, persons, texts) for one in value]
        case _:
            return value


def marks_in(value: Any) -> Iterator[tuple[str, str]]:
    """Kind and mark of each name and text that a stored body names."""
    match value:
        case dict():
            for key, one in value.items():
                if key in (PERSON, TEXT) and isinstance(one, str) and len(value) == 1:
                    yield key, one
                else:
                    yield from marks_in(one)
        case list():
            for one in value:
                yield from marks_in(one)


def _stamp(text: Any, account: str) -> tuple[Stamp, int, dict[str, int]]:
    """A stamp from its column; what cannot be read stays empty."""
    try:
        found = json.loads(text)
    except (ValueError, TypeError, RecursionError):
        found = None
    if not isinstance(found, dict):
        return Stamp(account=account), 0, {}
    words = {key: str(found.get(key, "")) for key in ("role", "host", "terminal", "version", "sitting")}
    confirmed, offset, rev, revs = (found.get(key) for key in ("confirmed", "offset", "rev", "revs"))
    stamp = Stamp(
        confirmed=tuple(map(str, confirmed)) if isinstance(confirmed, list) else (),
        account=account,
        offset=offset if isinstance(offset, int) else None,
        **words,
    )
    touched = {k: v for k, v in revs.items() if isinstance(v, int)} if isinstance(revs, dict) else {}
    return stamp, rev if isinstance(rev, int) else 0, touched


def _heads(engine: Engine, rows: Sequence[Sequence[Any]]) -> tuple[CaseHead, ...]:
    locks: dict[tuple[int, str], list[tuple[str, str]]] = {}
    if rows:
        for no, machine, point, who in engine.run(sql.ALL_LOCKS):  # there are few: only those that are on now
            locks.setdefault((no, machine), []).append((point, who))
    return tuple(_head(row, tuple(locks.get((row[0], row[4]), ()))) for row in rows)


def _head(row: Sequence[Any], locks: tuple[tuple[str, str], ...]) -> CaseHead:
    no, id, name, year, machine, opened, last, seq, who, ended, over, cause, remedy, minutes, digest, later = row
    return CaseHead(
        id,
        _label(name, year, later),
        machine,
        moment(opened),
        moment(last),
        seq,
        who,
        ended,
        bool(over),
        cause,
        remedy,
        minutes,
        bytes(digest),
        (last, no),
        locks,
    )


def _label(name: str, year: int, later: Any) -> str:
    return f"{name}/{year}" if later else name
