"""What a line of a machine's file was probably meant to be, where YAML makes something else of it, or nothing.

The parser complains where it can go no further, which is often a line too late, and in words for programmers. These
functions look at the lines themselves for the usual slips of the hand, and say what to write instead.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from diag.machine.problem import shown

KEY: Final = r"[A-Za-z_][\w-]*"
_NO_SPACE: Final = re.compile(rf"(\s*(?:- )?)({KEY}):([^\s:/].*)")
_NO_COLON: Final = re.compile(rf"(\s*(?:- )?)({KEY})(?:\s+([^\s:#].*))?")
_EQUALS: Final = re.compile(rf"(\s*(?:- )?)({KEY})\s*=\s*(\S.*)")
_DASH: Final = re.compile(r"(\s*)-([^\s\d>.,-].*)")
_FIELD: Final = re.compile(rf"\s*(?:- )?{KEY}:\s+(\S.*)")
REMARK: Final = re.compile(r"[ \t]#(?=[^\s#!])")
_CODE: Final = re.compile(r"(\s*)(#\d[\w.-]*):(?:\s|$)")
_TENTHS: Final = re.compile(r"\d+,$")
SHORT: Final = 40
"""Characters of a line that are said again."""


@dataclass(frozen=True, slots=True)
class Slip:
    """A line as a person counts it, the column, and what to do, in words."""

    line: int
    column: int
    text: str


def of_line(line: str, number: int) -> Slip | None:
    """A space or a ':' that is missing in a line which should be a field or an entry of a list."""
    line = line.split(" #")[0].rstrip()
    if match := _NO_SPACE.fullmatch(line):
        return Slip(number, len(match[1]) + 1, f"after a ':' comes a space; write {_quoted(match[2], match[3])}")
    if slip := of_dash(line, number):
        return slip
    if match := _EQUALS.fullmatch(line):
        text = f"a field and what it holds are parted by ': '; write {_quoted(match[2], match[3])}"
        return Slip(number, len(match[1]) + 1, text)
    if match := _NO_COLON.fullmatch(line):
        text = f"a ':' is missing; write {_quoted(match[2], match[3] or '')}"
        if match[3]:
            text += ", or indent it further where it goes on with the text above"
        return Slip(number, len(match[1]) + 1, text)
    return None


def of_dash(line: str, number: int) -> Slip | None:
    """A '-' without its space at the begin of a line."""
    match = _DASH.fullmatch(line.rstrip())
    if match is None:
        return None
    return Slip(number, len(match[1]) + 1, f"after a '-' comes a space; write {shown('- ' + _short(match[2]))}")


def of_more_text(line: str, number: int) -> Slip | None:
    """The same of a line that YAML takes for more of the text above: only what can hardly be meant as words."""
    slip = of_line(line, number)
    if slip is None or "is missing" in slip.text:
        return None
    return Slip(number, slip.column, f"taken for more of the text above; {slip.text}")


def of_remark(lines: Sequence[str]) -> dict[int, int]:
    """Lines, counted from 0, in which a '#' follows a space and is followed by none, to the column of the '#'."""
    return {n: match.start() + 1 for n, line in enumerate(lines) if "#" in line and (match := REMARK.search(line))}


def of_code(line: str, number: int) -> Slip | None:
    """A code that begins with '#' and so is a remark."""
    match = _CODE.match(line)
    if match is None:
        return None
    text = (
        f"a line that begins with '#' is a remark; put the code in quotes: \"{match[2]}\":, or write '# ' for a remark"
    )
    return Slip(number, len(match[1]) + 1, text)


def of_braces(lines: Sequence[str], number: int, column: int, word: str) -> str:
    """What is wrong with a key in braces that has no ':', at that line and column; empty where it has one."""
    line, end = lines[number - 1], column - 1 + len(word)
    after = next((rest for rest in (line[end:].strip(), *(li.strip() for li in lines[number:])) if rest), "")
    if after.startswith(":"):
        return ""
    before = line[: column - 1]
    tenths = _TENTHS.search(before)
    if tenths and word[:1].isdigit():
        return f"a comma parts fields here; write {shown(f'{tenths[0][:-1]}.{word}')}"
    return f"in {{ }} a comma parts fields, and {shown(word)} has no ':'; a text with a comma goes in quotes"


def of_quotes(line: str, number: int, column: int) -> Slip | None:
    """Words after a text in quotes, from that column counted from 0."""
    if not line[:column].rstrip().endswith(('"', "'")):
        return None
    return Slip(
        number, column + 1, "the quotes end before the text does; put all of it in quotes, inside them the other kind"
    )


def of_two_colons(line: str, number: int, column: int) -> Slip | None:
    """A ': ' in the text of a field that has its own, at that column counted from 0."""
    match = _FIELD.match(line)
    if match is None or column <= match.start(1):
        return None
    return Slip(number, match.start(1) + 1, "a text that holds ': ' goes in quotes")


def of_deeper(lines: Sequence[str], number: int) -> Slip | None:
    """A field that is indented further than the one above, which has its text already."""
    above = _above(lines, number)
    if above is None:
        return None
    line, before = lines[number - 1], lines[above - 1]
    if _indent(line) > _indent(before) and _FIELD.match(before):
        return Slip(number, _indent(line) + 1, f"indented further than line {above}, which it does not belong to")
    return None


def above(lines: Sequence[str], number: int) -> Slip | None:
    """What is wrong with the line above that one, remarks and empty lines left out."""
    found = _above(lines, number)
    if found is None or _indent(lines[found - 1]) > _indent(lines[number - 1]):
        return None
    return of_line(lines[found - 1], found)


def _above(lines: Sequence[str], number: int) -> int | None:
    for n in range(min(number - 1, len(lines)), 0, -1):
        words = lines[n - 1].strip()
        if words and not words.startswith("#"):
            return n
    return None


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _short(words: str) -> str:
    return words if len(words) <= SHORT else words[:SHORT].rstrip() + " ..."


def _quoted(key: str, value: str) -> str:
    return shown(f"{key}: {_short(value)}".rstrip())
