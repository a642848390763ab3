"""What followed from an entry at machines, as its stamp keeps it: under the chain, so that lists beside the entries can
be held against it.

A stamp keeps it where the entry touched a machine or something followed. Entries of an older version lack it, and of
those machines the lists are not proved by it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import Derived

REPAIRED = "repaired"
"""Stands where a rest has what is carried on from it: what stands at the machine begins anew with that entry, which
records a repair, and nothing before it has to be whole."""
SO = "so"
"""The stamp's key for it."""


@dataclass(frozen=True, slots=True)
class Followed:
    """What one stamp says of machines. Hostile input: what cannot be read is as if it were not there."""

    rev: int = 0
    """The state number of the case's machine once the entry was recorded."""
    revs: Mapping[str, int] = field(default_factory=dict)
    """The state numbers that the entry gave."""
    so: Mapping[str, Any] | None = None
    """What followed; None where the stamp does not keep it."""

    @property
    def known(self) -> bool:
        """Whether all that followed is known from the stamp."""
        return self.so is not None or not self.revs

    def rows(self, key: str, words: int) -> list[tuple[Any, ...]]:
        """The rows under a key, each of so many words."""
        found = (self.so or {}).get(key)
        return [tuple(row) for row in found if _words(row, words)] if isinstance(found, list) else []

    @property
    def resets(self) -> list[tuple[str, str, int, int]] | None:
        """Machine, reset, seq and whether it was said by mistake: all of the case; None: as before."""
        found = (self.so or {}).get("resets")
        if not isinstance(found, list):
            return None
        kinds = (str, str, int, int)
        return [tuple(row) for row in found if isinstance(row, list) and tuple(map(type, row)) == kinds]

    @property
    def rest(self) -> str:
        """The digits of what was carried on; empty where the machine did not come to rest."""
        found = (self.so or {}).get("rest")
        return found if isinstance(found, str) else ""


def _words(row: object, count: int) -> bool:
    return isinstance(row, list) and len(row) == count and all(isinstance(word, str) for word in row)


def followed(stamp: object) -> Followed:
    """Read from a stamp as its column holds it."""
    try:
        found = json.loads(stamp)  # type: ignore[arg-type]
    except (ValueError, TypeError, RecursionError):
        return Followed()
    if not isinstance(found, dict):
        return Followed()
    rev, revs, so = found.get("rev"), found.get("revs"), found.get(SO)
    return Followed(
        rev if type(rev) is int else 0,
        {k: v for k, v in revs.items() if type(v) is int} if isinstance(revs, dict) else {},
        so if isinstance(so, dict) else None,
    )


def rest_digits(carried: str) -> str:
    """What a stamp keeps of the text that is carried on from a rest: 32 digits of its SHA-256."""
    return sha256(carried.encode()).hexdigest()[:32]


def as_stamped(
    engine: Engine, derived: Derived, seq: int, touches: Iterable[str], machine: str, mark: Callable[[str], str]
) -> dict[str, Any] | None:
    """What a stamp keeps of what follows; None where nothing can. A lock comes off for each mark that its owner has,
    since one person may come by several accounts."""
    touched = set(touches)
    found: dict[str, Any] = {
        "on": [[lock.machine, lock.point, mark(lock.who)] for lock in derived.locked],
        "off": [
            [lock.machine, lock.point, str(row[0])]
            for lock in derived.unlocked
            for row in engine.run(sql.MARKS, {"name": lock.who})
        ],
        "danger": [[danger.machine, danger.sign] for danger in derived.dangers],
        "safe": [[danger.machine, danger.sign] for danger in derived.made_safe],
    }
    found = {key: value for key, value in found.items() if value}
    if derived.resets is not None:
        found["resets"] = [[r.machine, r.reset, r.seq or seq, int(r.mistaken)] for r in derived.resets]
    if derived.rest is not None and machine in touched:
        found["rest"] = rest_digits(derived.rest)
    return found if found or touched else None


@dataclass(slots=True)
class Standing:
    """What stands at one machine after entries in the order of its state numbers."""

    locks: dict[tuple[str, str], tuple[int, int, int]] = field(default_factory=dict)
    """Point and owner's mark, to the number and seq of the entry that put it on, and its time."""
    dangers: dict[str, tuple[int, int, int]] = field(default_factory=dict)

    def take(self, machine: str, found: Followed, entry: tuple[int, int, int]) -> None:
        """One entry more: its number, seq and time."""
        if found.rest == rest_digits(REPAIRED) and machine in found.revs:
            self.locks.clear()
            self.dangers.clear()
        for name, point, who in found.rows("off", 3):
            if name == machine:
                self.locks.pop((point, who), None)
        for name, point, who in found.rows("on", 3):
            if name == machine:
                self.locks.setdefault((point, who), entry)
        for name, sign in found.rows("safe", 2):
            if name == machine:
                self.dangers.pop(sign, None)
        for name, sign in found.rows("danger", 2):
            if name == machine:
                self.dangers.setdefault(sign, entry)
