"""Taking over the cases of an export. Anybody may have written the file, so each line is held against what this program
writes, and nothing of it is stored before all of it was verified.

A name, a text or a mark of what was forgotten is taken only with a case that is new here, and never where it would
bring back what was forgotten here.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

from diag.record.copies.moving import FORMAT
from diag.record.digest import canonical, entry_digest, genesis, mark_of
from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.engines.schema import VERSION
from diag.record.entry import EARLIEST, LATEST, Derive, micros, moment
from diag.record.errors import CasebookError
from diag.record.store.appending import PERSON, TEXT
from diag.record.store.reading import marks_in
from diag.record.store.rebuilding import rebuild_case

LINE = 4_000_000
"""Characters; no line that this program writes comes near it."""
MOST = 1 << 31
"""No state number and no minutes of a clock come near it, and each database stores it."""
NAME = re.compile(r"(?:0[1-9]|1[0-2])(?:0[1-9]|[12][0-9]|3[01])-[a-hjkmnp-z]{1,8}")
"""A case's name as it was born: month and day, and letters."""
_MARK = re.compile(r"\.[a-z0-9-]{1,16}")
"""What a laptop may put behind the name of a case."""
AHEAD = ".ahead"
"""What an import puts behind the name of a case that was opened at a time to come."""
SLACK = timedelta(seconds=2)
"""By how much two clocks may differ."""
_ID = re.compile(r"[0-9a-f]{32}")
WEST, EAST = timedelta(hours=-12), timedelta(hours=14)
"""How far a clock on a wall can be from UTC."""


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did."""

    added: tuple[str, ...]
    """Names of the cases that are new here."""
    known: tuple[str, ...]
    """Those that were here already, the same to the last entry."""
    remarks: tuple[str, ...] = ()
    """Of what is dated ahead of the clock here, a sentence each."""


@dataclass(slots=True)
class _Case:
    head: dict[str, Any]
    entries: list[dict[str, Any]] = field(default_factory=list)
    marks: set[str] = field(default_factory=set)
    """Of all persons and texts that its entries name."""


@dataclass(slots=True)
class _Found:
    """What a file holds, each line of it verified."""

    cases: list[_Case] = field(default_factory=list)
    persons: dict[str, tuple[bytes, str, str]] = field(default_factory=dict)
    """Salt, name and account, by the mark."""
    gone: dict[str, int] = field(default_factory=dict)
    """When it was forgotten, by the mark."""


def import_file(engine: Engine, path: Path, derive: Derive, now: datetime | None = None) -> Imported:
    """Takes over the cases of an export, once every line of it was verified; all or none. Only cases that are over are
    taken, and nothing of them is put at a machine: no lock, no danger, no reset. One that is dated ahead of the clock
    (`now`, else this computer's) is named so, and its name never stands for a case of today.

    Raises `CasebookError` where the file does not verify, and where a case went on both here and there."""
    found = _read(path)
    for case in found.cases:
        if not case.head["over"]:
            raise CasebookError(f"Case {case.head['name']} is not over. Only cases that are over can be imported.")

    def work() -> Imported:
        added: list[str] = []
        known: list[str] = []
        remarks: list[str] = []
        gone: dict[str, int] = dict(engine.run(sql.FORGOTTEN))
        latest = micros((now or datetime.now(UTC)) + SLACK)
        for case in found.cases:
            name = case.head["name"]
            if case.head["opened"] > latest and name == case.head["born"]:
                case.head["name"] = f"{name}{AHEAD}"
            if _take(engine, case, found, gone, derive):
                added.append(case.head["name"])
                remarks += _ahead(case, name, latest)
            else:
                known.append(name)
        return Imported(tuple(added), tuple(known), tuple(remarks))

    return engine.write(work, lambda _: False)


def _ahead(case: _Case, name: str, latest: int) -> Iterator[str]:
    """What is to be said of a case with entries that are dated ahead of the clock here."""
    ahead = [entry for entry in case.entries if entry["at"] > latest]
    if not ahead:
        return
    here = case.head["name"]
    called = f" It is called {here} here." if here != name else ""
    some = "entry is" if len(ahead) == 1 else "entries are"
    first = moment(ahead[0]["at"])
    yield f"Case {name}: {len(ahead)} {some} dated ahead of this clock, from {first:%Y-%m-%d %H:%M} UTC on.{called}"


def _take(engine: Engine, case: _Case, found: _Found, gone: Mapping[str, int], derive: Derive) -> bool:
    """Stores a case that is new here; `gone`: the marks of what was forgotten here. False for one that is here
    already."""
    head, entries = case.head, case.entries
    name = head["name"]
    if rows := engine.run(sql.CASE_BY_ID, {"id": head["id"]}):
        if (rows[0][2], bytes(rows[0][3]).hex()) == (head["seq"], head["digest"]):
            return False
        raise CasebookError(f"Case {name} is here already and says something else. Nothing was imported.")
    values = {key: head[key] for key in ("id", "name", "born", "year", "machine", "opened", "seq")}
    values |= {"last": entries[-1]["at"], "who": entries[-1]["who"], "digest": bytes.fromhex(head["digest"])}
    rows = engine.run(sql.IMPORT_HEAD, values)
    if not rows:
        raise CasebookError(f"Another case is called {name} here already. Nothing was imported.")
    no = rows[0][0]
    _take_apart(engine, case.marks, found, gone)
    for entry in entries:
        columns = {key: entry[key] for key in ("seq", "at", "who", "kind", "stamp", "body")}
        engine.run(sql.ADD, {"no": no, **columns, "digest": bytes.fromhex(entry["digest"])})
        for mark, salt, words in entry["texts"]:
            if mark not in gone:
                text = {"mark": mark, "salt": bytes.fromhex(salt), "words": words}
                engine.run(sql.ADD_TEXT, {"no": no, "seq": entry["seq"], **text})
    rebuild_case(engine, no, derive)
    if not engine.run(sql.HEAD, {"no": no})[0][10] or entries[-1]["kind"] != "closed":
        raise CasebookError(f"By its entries case {name} is not over. Nothing was imported.")
    return True


def _take_apart(engine: Engine, marks: set[str], found: _Found, gone: Mapping[str, int]) -> None:
    """Stores the persons of a new case, and which of its marks were forgotten there; neither where it is otherwise
    here."""
    for mark in sorted(marks & found.persons.keys() - gone.keys()):
        salt, name, account = found.persons[mark]
        engine.run(sql.KEEP_PERSON, {"mark": mark, "salt": salt, "name": name, "account": account})
    for mark in sorted(marks & found.gone.keys() - gone.keys()):
        if not engine.run(sql.APART, {"mark": mark}):
            engine.run(sql.NOTE_FORGOTTEN, {"mark": mark, "at": found.gone[mark]})


# ------------------------------------------------------------ the lines of a file


def _read(path: Path) -> _Found:
    found = _Found()
    whole, ended, number = sha256(), False, 0
    try:
        with path.open(encoding="utf-8", newline="") as lines:
            while line := lines.readline(LINE):
                number += 1
                said = json.loads(line)
                if ended or not line.endswith("\n") or (number == 1) != ("format" in said):
                    raise ValueError
                if "end" in said:
                    ended = said == {"end": whole.hexdigest()}
                if not ended:
                    _take_in(found, said)
                whole.update(line.encode())
        _check_end(found)
        if not ended:
            raise CasebookError(f"{path} ends too early. Nothing was imported.")
    except OSError as error:
        raise CasebookError(f"{path} cannot be read: {(error.strerror or str(error)).lower()}.") from None
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError, OverflowError):
        raise CasebookError(f"{path}, line {number} does not verify. Nothing was imported.") from None
    return found


def _take_in(found: _Found, said: Any) -> None:
    """One line. Raises ValueError and its like where this program cannot have written it there."""
    match said:
        case {"format": str(form), "version": int(version)} if form == FORMAT and version == VERSION:
            return
        case {"person": [str(mark), str(salt), str(name), str(account)]}:
            _check_apart(mark, salt, name, account)
            if mark in found.gone:
                raise ValueError
            found.persons[mark] = (bytes.fromhex(salt), name, account)
        case {"forgotten": [str(mark), at]} if _ID.fullmatch(mark) and mark not in found.persons:
            found.gone[mark] = _number(at, EARLIEST, LATEST)
        case {"case": dict(head)}:
            _check_end(found)
            _check_head(head)
            found.cases.append(_Case(head))
        case {"entry": dict(entry)}:
            case = found.cases[-1]
            case.marks |= _check_entry(case, entry, found)
            case.entries.append(entry)
        case _:
            raise ValueError


def _check_head(head: dict[str, Any]) -> None:
    """That the head of a case says what one can say."""
    name, born, machine = head["name"], head["born"], head["machine"]
    if not NAME.fullmatch(born) or (name != born and not _MARK.fullmatch(name.removeprefix(born))):
        raise ValueError
    named = machine.split("/")  # the machine, and one of its assets
    if not machine.isprintable() or "\\" in machine or len(named) > 2:
        raise ValueError
    if not all(word.strip(". ") for word in named):
        raise ValueError
    if not _ID.fullmatch(head["id"]) or len(bytes.fromhex(head["digest"])) != 32 or type(head["over"]) is not bool:
        raise ValueError
    _number(head["seq"], 1, MOST)
    opened = moment(_number(head["opened"], EARLIEST, LATEST))
    _number(head["year"], (opened + WEST).year, (opened + EAST).year + 1)


def _check_entry(case: _Case, entry: dict[str, Any], found: _Found) -> set[str]:
    """That an entry follows on the ones before, and that all that it names is there or was forgotten. Gives the marks
    of what it names."""
    head, seq = case.head, len(case.entries) + 1
    before = bytes.fromhex(case.entries[-1]["digest"]) if case.entries else b""
    before = before or genesis(head["id"], head["born"], head["year"], head["machine"])
    at, *words = (entry[key] for key in ("at", "who", "kind", "stamp", "body"))
    if _number(entry["seq"], seq, seq + 1) != seq or not all(
        isinstance(word, str) and "\0" not in word for word in words
    ):
        raise ValueError
    if entry_digest(before, head["id"], seq, _number(at, EARLIEST, LATEST), *words).hex() != entry["digest"]:
        raise ValueError
    who, kind, stamp, body = words
    _check_stamp(_as_written(stamp))
    said = _as_written(body)
    if seq == 1 and (kind, said.get("machine"), at) != ("opened", head["machine"], head["opened"]):
        raise ValueError
    named = {sort: {mark for of, mark in marks_in(said) if of == sort} for sort in (PERSON, TEXT)}
    named[PERSON].add(who)
    texts = {text[0] for text in entry["texts"]}
    for mark, salt, spoken in entry["texts"]:
        _check_apart(mark, salt, spoken)
    if len(texts) != len(entry["texts"]) or not texts <= named[TEXT] or texts & found.gone.keys():
        raise ValueError
    if not (named[PERSON] <= found.persons.keys() | found.gone.keys() and named[TEXT] - texts <= found.gone.keys()):
        raise ValueError
    return named[PERSON] | named[TEXT]


def _check_stamp(stamp: dict[str, Any]) -> None:
    """That its numbers are such as are stored."""
    revs = stamp.get("revs", {})
    for number in (stamp.get("rev", 0), *revs.values()):
        _number(number, 0, MOST)
    _number(stamp.get("offset", 0), -1440, 1441)


def _as_written(text: str) -> dict[str, Any]:
    """The map that a column holds, which this program writes in one way only."""
    found = json.loads(text)
    if not isinstance(found, dict) or canonical(found) != text:
        raise ValueError
    return found


def _check_apart(mark: str, salt: str, *words: str) -> None:
    """That a mark stands for these words."""
    sound = all(isinstance(word, str) and "\0" not in word for word in words)
    if not sound or mark_of(bytes.fromhex(salt), *words) != mark:
        raise ValueError


def _number(value: Any, least: int, below: int) -> int:
    if type(value) is not int or not least <= value < below:
        raise ValueError
    return value


def _check_end(found: _Found) -> None:
    """That the case read last is whole."""
    if not found.cases:
        return
    head, entries = found.cases[-1].head, found.cases[-1].entries
    if (len(entries), entries[-1]["digest"]) != (head["seq"], head["digest"]):
        raise ValueError
