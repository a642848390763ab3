"""Forgetting a person: the name, the account and the salt go, and the chain still verifies.

What was printed, exported or copied before is not reached, nor are the logs and archives of a PostgreSQL server.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import Derive
from diag.record.errors import CasebookError
from diag.record.store.reading import label_of
from diag.record.store.rebuilding import rebuild_case
from diag.record.words import fold


@dataclass(frozen=True, slots=True)
class Naming:
    """Free words of an entry that name somebody."""

    case: str
    seq: int
    words: str


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What a person was forgotten in."""

    names: tuple[str, ...]
    """The spellings under which they were known."""
    cases: int
    naming: tuple[Naming, ...]
    """Texts that name them."""
    blanked: bool
    """Whether those texts were blanked."""


def naming(engine: Engine, person: str) -> tuple[Naming, ...]:
    """The texts that name a person of this name: all that `forget` with `blank` would blank.

    Raises KeyError where nobody has this name."""
    with engine.snapshot():
        return _listed(engine, _naming(engine, _known(engine, person)))


def forget(engine: Engine, person: str, derive: Derive, *, blank: bool = False) -> Forgotten:
    """Forgets all persons of this name, whatever case and accents it is written with, and with `blank` every text that
    names them. What follows from the entries of their cases is worked out anew, so that no search finds them.

    Raises KeyError where nobody has this name, and `CasebookError` while a lock of theirs is on."""

    def work() -> Forgotten:
        engine.run(sql.ALL_REVS)  # no lock comes on at any machine until this is over
        known = _known(engine, person)
        for mark, name in known:
            if rows := engine.run(sql.LOCKED_BY, {"mark": mark}):
                raise CasebookError(
                    f"What stands at {rows[0][0]} is in the name of {name} ({rows[0][1]}), so it is still needed."
                )
        found = _naming(engine, known)
        cases: set[int] = {no for no, _, _, _ in found} if blank else set()
        at = time.time_ns() // 1000
        for mark, _ in known:
            cases |= {row[0] for row in engine.run(sql.CASES_OF, {"mark": mark, "within": f"%{mark}%"})}
            engine.run(sql.NOTE_FORGOTTEN, {"mark": mark, "at": at})
            engine.run(sql.FORGET_PERSON, {"mark": mark})
        for no, seq, mark, _ in found if blank else ():
            engine.run(sql.NOTE_FORGOTTEN, {"mark": mark, "at": at})
            engine.run(sql.BLANK, {"no": no, "seq": seq, "mark": mark})
        for no in sorted(cases):
            rebuild_case(engine, no, derive)
        return Forgotten(tuple(sorted({name for _, name in known})), len(cases), _listed(engine, found), blank)

    done = engine.write(work, lambda _: False)
    engine.clean_out()
    return done


def _known(engine: Engine, person: str) -> list[tuple[str, str]]:
    """Mark and name of all persons of this name. Raises KeyError where there is none."""
    wanted = fold(person).split()
    known = [(mark, name) for mark, _, name, _ in engine.run(sql.PERSONS) if fold(name).split() == wanted]
    if not wanted or not known:
        raise KeyError(person)
    return known


def _naming(engine: Engine, known: Sequence[tuple[str, str]]) -> list[tuple[int, int, str, str]]:
    """Number, seq, mark and words of every text in which all parts of the name of one of these persons stand one after
    another."""
    parts = {_spoken(name) for _, name in known} - {""}
    rows: list[tuple[int, int, str, str]] = [row for row in engine.run(sql.ALL_TEXTS) if parts]
    return [row for row in rows if any(f" {name} " in f" {_spoken(row[3])} " for name in parts)]


def _spoken(text: str) -> str:
    """The words of a text in order, folded, with one space between them."""
    return " ".join("".join(c if c.isalnum() else " " for c in fold(text)).split())


def _listed(engine: Engine, found: Sequence[tuple[int, int, str, str]]) -> tuple[Naming, ...]:
    return tuple(Naming(label_of(engine, no), seq, words) for no, seq, _, words in found)
