"""Slips that can mean one thing only, mended in memory, so that what else is wrong in a file is reported in the same
run.

A slip that is mended is still reported, and the file makes no machine. Only the reader carries on, with the line as it
was meant.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from diag.machine.problem import Problem
from diag.machine.repair.slips import Slip
from diag.machine.span import Node

MOST: Final = 20
"""The most slips that are mended in one file. After that, only what was found so far is reported."""
MOST_READ: Final = 2_000_000
"""The most characters that are read again in one file, over all of its mendings."""


@dataclass(slots=True)
class Mending:
    """A file's text, and what was mended in it."""

    file: str
    text: str
    told: list[Problem] = field(default_factory=list)
    last: int = 0
    """The last line that was mended; up to it all was read."""
    read_again: int = 0
    before: dict[int, str] = field(default_factory=dict)
    """The lines that were mended, as the file has them."""
    after: dict[int, str] = field(default_factory=dict)

    def tell(self, slip: Slip) -> bool:
        """Reports a slip, and whether it could be mended. One in lines that were read already may be caused by a
        mending, and is not reported."""
        if slip.line <= self.last:
            return False
        self.told.append(slip.problem(self.file))
        self.read_again += len(self.text)
        if not slip.mend or len(self.told) > MOST or self.read_again > MOST_READ:
            return False
        lines = self.text.split("\n")
        for number, meant in slip.mend.items():
            self.before.setdefault(number, lines[number - 1])
            self.after[number] = lines[number - 1] = meant
        self.text = "\n".join(lines)
        self.last = max(slip.mend)
        return True

    def columns(self, root: Node) -> None:
        """Gives what stands in a mended line the columns that it has in the file."""
        seen: set[int] = set()
        ahead = [root]
        while ahead:
            node = ahead.pop()
            if id(node) in seen:
                continue
            seen.add(id(node))
            node.column = self.column(node.line, node.column)
            node.key_column = self.column(node.key_line, node.key_column)
            if not isinstance(node.value, str):
                ahead.extend(node.value.values() if isinstance(node.value, dict) else node.value)

    def column(self, line: int, column: int) -> int:
        """The column in the file of what stands in this one of the text as it was mended."""
        if line not in self.before:
            return column
        was, now = self.before[line], self.after[line]
        same = next((n for n, (a, b) in enumerate(zip(was, now, strict=False)) if a != b), min(len(was), len(now)))
        if column <= same:
            return column
        return min(max(column + len(was) - len(now), same + 1, 1), len(was) + 1)


def put(column: int) -> str:
    """What to do with a line that should begin in this column."""
    spaces = column - 1
    return f"put {spaces} space{'s' * (spaces != 1)} before it" if spaces else "it begins at the left edge"


def levelled(line: str, column: int) -> str:
    """The line with its words beginning in this column."""
    return " " * (column - 1) + line.lstrip(" \t")


def spaced(line: str, column: int) -> str:
    """The line with a space behind the first ':' from this column on."""
    at = line.index(":", column - 1) + 1
    return f"{line[:at]} {line[at:]}"


def equalled(line: str, column: int) -> str:
    """The line with a ':' and a space for the '=' behind this column."""
    at = line.index("=", column - 1)
    return f"{line[:at].rstrip()}: {line[at + 1 :].lstrip()}"


def with_colon(line: str, column: int, key: str) -> str:
    """The line with a ':' behind the name that begins in this column."""
    at = column - 1 + len(key)
    return f"{line[:at]}:{line[at:]}"


def dashed(line: str, column: int) -> str:
    """The line with a '- ' in this column; a sign that was meant as one is taken out."""
    rest = line[column - 1 :]
    return f"{line[: column - 1]}- {rest[rest[0] in DASHES :].lstrip()}"


def in_quotes(line: str, column: int, words: str, quoted: str) -> str:
    """The line with the words that begin in this column, or behind it, in quotes."""
    at = line.find(words, column - 1)
    return line if at < 0 else f"{line[:at]}{quoted}{line[at + len(words) :]}"


DASHES: Final = "-\u2010\u2011\u2012\u2013\u2014\u2212\u2022\u00b7*"
"""What is typed, or made by a word processor, for the dash of a list."""
