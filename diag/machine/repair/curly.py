"""Quotes and spaces that a word processor puts in place of those of the keyboard: found in a file's lines."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from diag.machine.problem import Problem, shown
from diag.machine.repair.slips import Slip

QUOTES: Final = "\u201c\u201d\u201e\u201f\u2018\u2019\u201a\u201b"
"""The curly ones, double and single."""
_BEGINS: Final = r"(?:^[ \t]*|[:,\[{-][ \t]+|[\[{][ \t]*)"
_ENDS: Final = r"(?=[ \t]*(?:$|[,}\]]|:(?:[ \t]|$)|[ \t]#))"
_CURLY: Final = re.compile(
    _BEGINS
    + '(?P<whole>[\u201c\u201d\u201e\u201f](?P<double>[^\u201c\u201d\u201e\u201f"\n]{0,200})[\u201c\u201d\u201e\u201f"]'
    + "|[\u2018\u2019\u201a\u201b](?P<single>[^\u2018\u2019\u201a\u201b'\"\n]{0,200})[\u2018\u2019\u201a\u201b']"
    + '|"(?P<closed>[^\u201c\u201d\u201e\u201f"\n]{0,200})[\u201c\u201d\u201e\u201f])'
    + _ENDS
)
_HARD: Final = "\u00a0\u1680\u2000-\u200a\u202f\u205f\u3000"
HARD: Final = re.compile(f"[{_HARD}]")
"""Spaces that are none to YAML."""
_SOME: Final = f"[{_HARD}][ {_HARD}]*"
_AMISS: Final = re.compile(
    rf"^[ \t]*(?P<indent>{_SOME})|^[ {_HARD}]*(?:-[ {_HARD}]*)?[\w-]*[:-][ ]*(?P<behind>{_SOME})"
)
_IN_BRACES: Final = re.compile(rf"(?<=[,{{\[])[ ]*{_SOME}|:{_SOME}|{_SOME}(?=[,}}\]])")
_OPEN: Final = re.compile(r"(?:^|[\s:,\[{-])'[^']*$")
LONGEST_LINE: Final = 2_000
"""Characters of a line that is looked at; no text may be longer."""
MOST: Final = 20
"""Lines with hard spaces that are reported one by one."""
SPACE: Final = "a hard space, which only looks like an ordinary one; type an ordinary space in its place"
IN_LINE: Final = (
    "; this line holds a hard space, which only looks like an ordinary one: type an ordinary space in its place"
)


def curly(lines: Sequence[str], number: int) -> Slip | None:
    """The first text of a line that stands in curly quotes, or opens or closes with one; None where the line has
    none."""
    line = lines[number - 1] if number <= len(lines) else ""
    if len(line) > LONGEST_LINE or not any(quote in line for quote in QUOTES):
        return None
    found = _CURLY.search(line)
    if found is None:
        return None
    words = next(group for group in (found["double"], found["single"], found["closed"]) if group is not None)
    straight = f'"{words}"'
    text = f"curly quotes; type straight ones: {shown(straight)[1:-1]}"
    start, end = found.span("whole")
    mend = {} if "\\" in words else {number: f"{line[:start]}{straight}{line[end:]}"}
    return Slip(number, start + 1, text, mend)


def hard_spaces(text: str) -> tuple[str, list[Slip]]:
    """The text with ordinary spaces for the hard ones in its indents and beside its signs, and where they stood, once
    for each line. Those inside a text are let be."""
    lines, told = text.split("\n"), []
    for n, line in enumerate(lines):
        if len(line) > LONGEST_LINE or not HARD.search(line) or line.lstrip().startswith("#"):
            continue
        if not line.strip():
            lines[n] = ""
            continue
        meant, first = line, 0
        for found in [*_AMISS.finditer(line), *(_IN_BRACES.finditer(line) if set(line) & set("{[") else ())]:
            hard = HARD.search(line, found.start(), found.end())
            if hard is not None and not _quoted(line, hard.start()):
                first = min(first or hard.start() + 1, hard.start() + 1)
                meant = meant[: found.start()] + HARD.sub(" ", found[0]) + meant[found.end() :]
        if first:
            lines[n] = meant
            told.append(Slip(n + 1, first, SPACE))
    if len(told) > MOST:
        text = f"{told[0].text}; and so in {len(told) - MOST} lines further down"
        told = [replace(told[0], text=text), *told[1:MOST]]
    return "\n".join(lines), told


def _quoted(line: str, at: int) -> bool:
    """Whether what stands there is inside straight quotes. An apostrophe within a word opens none."""
    return line.count('"', 0, at) % 2 == 1 or (bool(_OPEN.search(line, 0, at)) and "'" in line[at:])


def lines_with_hard_spaces(text: str) -> list[int]:
    """The numbers of the lines that hold one, or none where the text has none."""
    if not HARD.search(text):
        return []
    return [n for n, line in enumerate(text.split("\n"), 1) if HARD.search(line)]


def with_spaces_told(problem: Problem) -> Problem:
    """An error in a line that holds a hard space, which may be all that is wrong with it."""
    if problem.level != "error" or "hard space" in problem.text:
        return problem
    return replace(problem, text=f"{problem.text}{IN_LINE}")
