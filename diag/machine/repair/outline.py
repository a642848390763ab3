"""The lines of a file as a person sees them: how far in each stands, its name, and what stands around it.

For a file that cannot be read as YAML, so that what is wrong can be told by the lines that are right. Lines and columns
count from 1; no look goes further than `FURTHEST` lines, so that no file makes it slow.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from diag.machine.language.fields.base_source import fields, names, required
from diag.machine.language.fields.cause_fields import CauseSource, RemedySource
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.panel_fields import (
    CodeSource,
    DisplaySource,
    FollowSource,
    IndicationSource,
    LampSource,
)
from diag.machine.language.fields.sections import FOLDERS, LISTS, NAMED_IN, Sections, entry_type
from diag.machine.language.fields.tree_fields import NODES, ExampleSource, LookSource
from diag.machine.language.shapes import Shape, entries, models_in
from diag.machine.repair.layout import ROOT, section_of

FURTHEST: Final = 80
"""Lines up or down that are looked at."""
LONGEST: Final = 2_000
"""Characters of a line that are looked at; no text may be longer."""
_LINE: Final = re.compile(r"(?P<before> *(?:- +)*)(?P<rest>.*)", re.DOTALL)
At = tuple[int, int]
"""A line and a column."""
PAIR: Final = re.compile(r"[ \t]*(?:- +)*(?P<key>[^\s#\"'{\[][^:#]*): +(?P<value>[^\s#\"'{\[&*>|].*)")
"""A line that is a name with its value."""
_REMARK: Final = re.compile(r"(?:^|[ \t])#")
_INLINE: Final = re.compile(r"[{,] *([\w-]+) *:(?=[ ,}])")
_LOOK: Final = re.compile(r"(?:steady|off|on|blink|flicker|\d+ flash)\b")


@dataclass(frozen=True, slots=True)
class Line:
    """One line that says something, without the remark at its end."""

    number: int
    column: int
    """Where its words begin, behind the dashes."""
    dashed: bool
    rest: str
    key: str
    """Its name, where it is a name with a ':'."""
    value: str

    @property
    def whole(self) -> bool:
        """A name with its value."""
        return bool(self.key and self.value)


def text_at(lines: list[str], number: int) -> str:
    """The line of that number; empty where it is not there."""
    return lines[number - 1] if number <= len(lines) else ""


def indent(line: str) -> int:
    """The spaces before a line."""
    return len(line) - len(line.lstrip(" "))


def said(line: str) -> str:
    """A line without the remark at its end, as far as that can be made out."""
    for found in _REMARK.finditer(line[:LONGEST]):
        if line.count('"', 0, found.start()) % 2 == 0 and line.count("'", 0, found.start()) != 1:
            return line[: found.start()].rstrip()
    return line.rstrip()


def line_at(lines: Sequence[str], number: int) -> Line | None:
    """The line of that number; None where it says nothing or is not there."""
    if not 1 <= number <= len(lines):
        return None
    found = _LINE.fullmatch(said(lines[number - 1][:LONGEST]))
    if found is None or not found["rest"]:
        return None
    before = found["before"]
    return Line(number, len(before) + 1, "-" in before, found["rest"], *_named(found["rest"]))


def _named(rest: str) -> tuple[str, str]:
    """The name and the value that a line's words are; both empty where there is no name."""
    if rest[0] in "\"'":
        end = rest.find(rest[0], 1)
        name, after = rest[1:end], rest[end + 1 :].lstrip(" ") if end > 0 else ""
        return (name, after[1:].strip()) if after[:1] == ":" and after[1:2] in ("", " ") else ("", "")
    at = rest.find(": ") if ": " in rest else len(rest) - 1 if rest.endswith(":") else -1
    name = rest[: max(at, 0)].rstrip()
    return (name, rest[at + 1 :].strip()) if name and not set(name) & set('{}[]"#&*!|>%@`') else ("", "")


def above(lines: Sequence[str], number: int) -> Iterator[Line]:
    """The lines above this one that say something, the nearest first."""
    for n in range(number - 1, max(0, number - 1 - FURTHEST), -1):
        line = line_at(lines, n)
        if line is not None:
            yield line


def below(lines: Sequence[str], number: int) -> Iterator[Line]:
    """The lines below it that say something, the nearest first."""
    for n in range(number + 1, min(len(lines), number + FURTHEST) + 1):
        line = line_at(lines, n)
        if line is not None:
            yield line


def beside(lines: Sequence[str], number: int, column: int) -> set[str]:
    """The names that stand in one entry with what begins at `column` of this line."""
    names = set()
    for line in above(lines, number):
        if line.column == column and line.key:
            names.add(line.key)
        if line.column < column or (line.column == column and line.dashed):
            break
    for line in below(lines, number):
        if line.column < column or (line.column == column and line.dashed):
            break
        if line.column == column and line.key:
            names.add(line.key)
    return names


def is_field(lines: Sequence[str], number: int, column: int, word: str) -> bool:
    """Whether `word`, at this place, is a field that the entry around it may have, and has not yet."""
    there = beside(lines, number, column)
    if word in there:
        return False
    return any(word in kind for kind in _kinds(there, column))


def shape_at(lines: Sequence[str], line: Line) -> Shape:
    """What may stand behind the name of a line, by the names beside it: of an entry that could be of several kinds,
    what may stand in any of them."""
    found = Shape.NOTHING
    for kind in _kinds(beside(lines, line.number, line.column), line.column):
        found |= kind.get(line.key, Shape.NOTHING)
    return found


def _kinds(there: Collection[str], column: int) -> Iterator[Mapping[str, Shape]]:
    """The kinds of entries that have these fields; at the left edge that of a file as a whole in any case."""
    for n, kind in enumerate(entries()):
        if (n == 0 and column == 1) or all(name in kind for name in there):
            yield kind


def level(lines: Sequence[str], number: int) -> int:
    """The column that a line must begin in, as those around it tell; 0 where that is not certain."""
    text = lines[number - 1]
    here = text.lstrip(" \t")
    line = line_at([*lines[max(0, number - 2) : number - 1], here], min(number, 2))
    before, after = next(above(lines, number), None), next(below(lines, number), None)
    if line is None or before is None or after is None or line.dashed or not line.key or not before.key:
        return 0
    if line.whole:
        alike = before.whole and before.column == after.column
        first = not before.value and before.column < after.column
        right = (alike or first) and not after.dashed and after.key and is_field(lines, number, after.column, line.key)
        return after.column if right else 0
    return _opening(lines, number, line.key, after)


def _opening(lines: Sequence[str], number: int, name: str, after: Line) -> int:
    """The column of a line that opens what stands further right below it: the one in which it can stand."""
    open_at: list[int] = []
    for line in above(lines, number):
        if not open_at or line.column < open_at[-1]:
            open_at.append(line.column)
    possible = [column for column in open_at if column < after.column and (column > 1 or name in ROOT)]
    fields_of = [column for column in possible if is_field(lines, number, column, name)]
    if len(fields_of) == 1:
        return fields_of[0]
    return possible[0] if len(possible) == 1 and not fields_of else 0


def heading(lines: Sequence[str], number: int) -> str:
    """The line that seems to be missing above this one, such as `causes`; empty where nothing tells."""
    first = line_at(lines, number)
    if first is None:
        return ""
    names, inside, values = [first.key], set(_INLINE.findall(first.value)), [first.value]
    deeper = 0
    for line in below(lines, number):
        if line.column < first.column or (line.dashed and line.column == first.column):
            break
        if line.column == first.column:
            names.append(line.key)
            values.append(line.value)
        elif len(names) == 1:
            deeper = deeper or line.column
            if line.column == deeper:
                inside.add(line.key)
    keys = frozenset(names)
    if first.dashed:
        return _row(first, keys)
    if not all(keys):
        return ""
    return _fields(keys) or _parts(frozenset(inside), values)


def _row(first: Line, keys: frozenset[str]) -> str:
    """The heading of a list, by the names in its first entry."""
    keys = keys | set(_INLINE.findall(first.rest))
    for name, model in _LISTED.items():
        if set(required(model)) <= keys:
            return name
    for section, key in FOLDERS.values():
        if key in keys:
            return section
    if first.rest.startswith("{") and len(keys - {""}) == 1:
        return names(ExampleSource).facts
    return _HEAD.hazards if not keys - {""} and first.column < 6 else ""


_HEAD, _LIT, _SHOWS = names(HeadSource), names(LampSource), names(DisplaySource)
_LISTED: Final = {
    **{name: entry_type(name) for name in LISTS if name not in NAMED_IN},
    names(IndicationSource).follows: FollowSource,
}
"""Lists whose entries have no name, and what an entry is."""


def _fields(keys: frozenset[str]) -> str:
    for name, field in fields(HeadSource).items():
        if any(keys <= set(fields(model)) for model in models_in(field.annotation)):
            return name
    doing, remedy = names(RemedySource), set(fields(RemedySource))
    some = doing.do in keys and keys & {doing.access, doing.minutes} and keys <= remedy
    return names(CauseSource).remedy if some else ""


def _parts(inside: frozenset[str], values: Sequence[str]) -> str:
    if set(required(CodeSource)) <= inside <= set(fields(CodeSource)):
        return _SHOWS.codes
    kinds = [kind for kind in NODES if kind in inside]
    if kinds and (len(inside) == 1 or kinds[0] in required(LookSource)) and inside <= set(fields(NODES[kinds[0]])):
        return names(LookSource).when
    if values[0].startswith("[["):
        return names(Sections).face
    if all(_LOOK.match(value) for value in values):
        return _LIT.states
    return section_of(inside)
