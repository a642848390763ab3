"""A name and its value in one line: how a message shows them, and what it says of the missing space behind a ':'."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from diag.machine.problem import LONGEST_WORD
from diag.text import one_line

LONGEST_LINE: Final = 200
"""Characters of a value that a message repeats, so that what it proposes is whole."""
NO_SPACE: Final = re.compile(r"(?P<key>[A-Za-z][A-Za-z0-9_-]*):(?P<value>[^\s:/,}\]][^\n]*)")


def quoted(text: str) -> str:
    """A text in quotes, as a message shows it."""
    text = one_line(text)
    text = f"{text[: LONGEST_WORD - 3]}..." if len(text) > LONGEST_WORD else text
    return f"'{text}'" if '"' in text or "\\" in text else f'"{text}"'


def so(key: str, value: str) -> str:
    """How it is written, as a message shows it: whole, or not at all where it is too long for one."""
    value = one_line(" ".join(value.split()))
    whole = f"{one_line(key)}: {value if len(value) <= LONGEST_LINE else '...'}"
    return f"'{whole.strip()}'"


_UNPARTED: Final = re.compile(r"(?P<key>[a-z][a-z0-9-]*)(?P<sign>:(?! )|[ \t]*=[ \t]*|[ \t]+)(?P<value>[^\s:=#][^\n]*)")


class Unparted(NamedTuple):
    """A name and its value without the ': ' between them."""

    key: str
    value: str
    text: str
    """What to say of it."""


def unparted(line: str) -> Unparted | None:
    """A line such as `part front`, `part:front` or `part = front`, its indent taken off; None for any other line. Only
    the one who knows the names can tell whether it is meant so."""
    found = _UNPARTED.fullmatch(line)
    if found is None:
        return None
    sign, write = found["sign"].strip(), so(found["key"], found["value"])
    said = {
        ":": f"after a ':' comes a space: write {write}",
        "=": f"a ':' and a space belong here, and no '=': write {write}",
        "": f"a ':' is missing: write {write}",
    }
    return Unparted(found["key"], found["value"].rstrip(), said[sign])


def no_space(word: str) -> str:
    """What to say of a word such as `run-lamp:dark`; empty for anything else."""
    found = NO_SPACE.match(word)
    return f"after a ':' comes a space: write {so(found['key'], found['value'])}" if found else ""
