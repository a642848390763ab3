"""Who was last at the keys of this terminal, so that the name need not be typed again. Whoever sits at another one is
not offered here: two people would become one by a single key.

It is kept in the user's state folder. What is read back is treated like any other input; where it cannot be read or
written, nobody is remembered.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from diag.machine.model import Role
from diag.safety.types import Person
from diag.text import one_line

MOST_BYTES = 4000
LONGEST = 60
"""Characters of a name."""


def state_file() -> Path:
    from platformdirs import user_state_path

    return user_state_path("diag", appauthor=False) / f"last-person{_terminal()}.json"


def _terminal() -> str:
    """What tells this terminal's file from others', such as `-pts-3`; empty where there is no terminal to name."""
    try:
        name = os.ttyname(sys.stdin.fileno())
    except (OSError, AttributeError, ValueError):
        return ""
    return re.sub(r"[^A-Za-z0-9]+", "-", name.removeprefix("/dev"))[:LONGEST]


def last() -> Person | None:
    """The person who was here last, with what they said of themselves; None where nothing usable is kept."""
    try:
        file = state_file()
        if not file.is_file():
            return None
        with file.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
        found = json.loads(raw.decode("utf-8")) if len(raw) <= MOST_BYTES else None
        return _person(found) if isinstance(found, dict) else None
    except (OSError, ValueError, RecursionError):
        return None


def _person(found: dict[str, Any]) -> Person | None:
    name, role = found.get("name"), found.get("role")
    if not isinstance(name, str) or not isinstance(role, str) or role not in set(Role):
        return None
    name = one_line(name)[:LONGEST].strip()
    return Person(name, Role(role), found.get("authorised") is True, found.get("qualified") is True) if name else None


def keep(person: Person) -> None:
    """Keeps this person for the next time. Where nothing can be written, nothing is kept and nothing is said."""
    text = json.dumps(asdict(person))
    with contextlib.suppress(OSError):
        file = state_file()
        file.parent.mkdir(parents=True, exist_ok=True)
        new = file.with_suffix(f".{os.getpid()}.new")
        new.write_text(text, encoding="utf-8")
        new.replace(file)
