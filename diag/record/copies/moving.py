"""Copies of a casebook: a whole one as a file of its own, and cases as JSON Lines that `importing` takes over."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from diag.record.digest import canonical
from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.engines.schema import VERSION
from diag.record.errors import CasebookError
from diag.record.store.reading import marks_in, number_of
from diag.record.store.sealing import day_of

FORMAT = "diag cases"
TABLES = (
    *("head", "event", "person", "text", "forgotten", "machine", "touch"),
    *("lock_on", "danger_on", "reset_done", "rest", "seal", "sealed"),
)
"""What a copy of a whole casebook takes along; words to search by are made anew."""


def backup(engine: Engine, path: Path) -> None:
    """A sound copy of the whole casebook in one new file, while others may write; of a database too.

    Raises `CasebookError`, also where a file is there already."""
    from diag.record.engines.sqlite_engine import SqliteEngine

    if os.path.lexists(path):
        raise CasebookError(f"{path} is there already. Name a new file for the copy.")
    if not path.absolute().parent.is_dir():
        raise CasebookError(f"There is no folder {path.absolute().parent} for the copy.")
    if isinstance(engine, SqliteEngine):
        engine.copy_to(path)
        return
    target = SqliteEngine(path, "--backup", only_read=False, create=True, bring=lambda _: None)
    try:
        with engine.snapshot():
            target.write(lambda: _copy(engine, target), lambda _: False)
    except BaseException:
        target.close()
        path.unlink(missing_ok=True)
        raise
    target.close()


def _copy(engine: Engine, target: Engine) -> None:
    # A database leaves numbers out where a case was not stored after all; in a file a missing one is a case taken out.
    numbers = {row[0]: number for number, row in enumerate(engine.run(sql.ALL_NOS, {"all": 1}), 1)}
    for table in TABLES:
        columns = [row[1] for row in target.run(f"PRAGMA table_info({table})")]
        names = ", ".join(columns)
        add = f"INSERT INTO {table} ({names}) VALUES ({', '.join(f':{name}' for name in columns)})"
        order = "ORDER BY no, seq" if table == "event" else ""
        rows = engine.run(f"SELECT {names} FROM {table} {order}")
        values = [dict(zip(columns, row, strict=True)) for row in rows]
        for row in values if "no" in columns else ():
            row["no"] = numbers.get(row["no"], -row["no"])
        target.many(add, values)
    for no, words in engine.run("SELECT no, array_to_string(tsvector_to_array(words), ' ') FROM said"):
        if no in numbers:
            target.run(sql.WORDS["sqlite"]["add"], {"no": numbers[no], "words": words})
    day = day_of(engine, engine.run(sql.DAY.replace("{lock}", "")))
    target.run(sql.NEXT_DAY, {"day": day})


# ------------------------------------------------------------ JSON Lines


def export(engine: Engine, cases: Sequence[str], path: Path) -> int:
    """Writes cases as JSON Lines, all that are over where none is named; how many. Raises KeyError, `CasebookError`."""
    with engine.snapshot():
        numbers = [number_of(engine, case) for case in cases] or [n for (n,) in engine.run(sql.ALL_NOS, {"all": 0})]
        whole = sha256()
        try:
            file = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
            with os.fdopen(file, "w", encoding="utf-8", newline="\n") as out:
                for found in _lines(engine, numbers):
                    line = canonical(found) + "\n"
                    whole.update(line.encode())
                    out.write(line)
                out.write(canonical({"end": whole.hexdigest()}) + "\n")
                out.flush()
                os.fsync(out.fileno())
        except FileExistsError:
            raise CasebookError(f"{path} is there already. Name a new file.") from None
        except OSError as error:
            raise CasebookError(f"{path} cannot be written: {(error.strerror or str(error)).lower()}.") from None
    return len(numbers)


def _lines(engine: Engine, numbers: Sequence[int]) -> Iterator[dict[str, Any]]:
    yield {"format": FORMAT, "version": VERSION}
    persons = {mark: (bytes(salt).hex(), name, account) for mark, salt, name, account in engine.run(sql.PERSONS)}
    shown: set[str] = set()
    gone: dict[str, int] = dict(engine.run(sql.FORGOTTEN))
    for no in numbers:
        id, name, born, year, machine, opened, _, seq, _, over, digest = engine.run(sql.EXPORT_HEAD, {"no": no})[0]
        head = {"id": id, "name": name, "born": born, "year": year, "machine": machine, "opened": opened, "seq": seq}
        yield {"case": head | {"over": bool(over), "digest": bytes(digest).hex()}}
        texts: dict[int, list[list[str]]] = {}
        for n, mark, salt, words in engine.run(sql.CASE_TEXTS, {"no": no}):
            texts.setdefault(n, []).append([mark, bytes(salt).hex(), words])
        for n, at, who, kind, stamp, body, own in engine.run(sql.ENTRIES, {"no": no, "after": 0}):
            for mark in sorted({who, *(mark for _, mark in _marks(body))} - shown):
                if mark in persons:
                    yield {"person": [mark, *persons[mark]]}
                elif mark in gone:
                    yield {"forgotten": [mark, gone[mark]]}
                shown.add(mark)
            entry = {"seq": n, "at": at, "who": who, "kind": kind, "stamp": stamp, "body": body}
            yield {"entry": entry | {"digest": bytes(own).hex(), "texts": texts.get(n, [])}}


def _marks(body: str) -> list[tuple[str, str]]:
    with suppress(ValueError, RecursionError):
        return list(marks_in(json.loads(body)))
    return []
