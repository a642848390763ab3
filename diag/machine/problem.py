"""One problem in one file, at one place, in one line."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum, auto
from typing import Final, Literal

from diag.machine.place import Place
from diag.text import clean

Level = Literal["error", "warning", "info"]


class Broken(StrEnum):
    """The rules of the reader, which a file may break: `diag vet --explain` gives the reason of each."""

    MACHINE = auto()
    FILE = auto()
    EMPTY = auto()
    ENCODING = auto()
    SIZE = auto()
    STRAY = auto()
    SPELLING = auto()
    YAML = auto()
    REMARK = auto()
    TWICE = auto()
    FIELD = auto()
    MISSING = auto()
    KIND = auto()
    WORD = auto()
    NAME = auto()
    CHANCE = auto()
    OFTEN = auto()
    UNKNOWN = auto()
    CLASH = auto()
    STATES = auto()
    USUAL = auto()
    ENERGY = auto()
    ZONE = auto()
    PATTERN = auto()
    CODE = auto()
    NO_CODE = "no-code"
    BAND = auto()
    FORMULA = auto()
    ACCURACY = auto()
    CIRCLE = auto()
    TREE = auto()
    FACT = auto()
    UNFINISHED = auto()


LONGEST_WORD: Final = 60
"""Characters of a file's own word that a message repeats."""

UNSAFE: Final = re.compile(
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]"
)
"""Control characters, line separators other than the line feed, and what turns the writing direction: they could make
a terminal show something else. Tab and line feed are left out, a carriage return is not."""


def shown(word: str) -> str:
    """A word of a file as a message repeats it: in quotes, clean, and not too long."""
    word = _flat(word)
    return f"'{word[: LONGEST_WORD - 3]}...'" if len(word) > LONGEST_WORD else f"'{word}'"


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong, where, and under which rule. `str()` gives `file:line:column: level: text (rule)`."""

    file: str
    line: int
    column: int
    level: Level
    text: str
    rule: str
    hint: str = ""
    """The nearest right word, when there is one; the text names it too."""

    def __str__(self) -> str:
        return f"{_flat(self.file)}:{self.line}:{self.column}: {self.level}: {_flat(self.text)} ({self.rule})"

    @classmethod
    def at(cls, place: Place, text: str, rule: str, hint: str = "", level: Level = "error") -> Problem:
        """A problem at a place of a file. In a module the text also says where the module is used."""
        return cls(place.file, place.line, place.column, level, text + place.user, rule, hint)


def _flat(text: str) -> str:
    """The text on one line, with as many spaces as it has: a message repeats a word as it stands in its file."""
    return "".join(" " if c.isspace() else c for c in clean(text))
