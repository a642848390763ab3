"""Lines that stand too far left or right, or below a line that is missing, told by the lines around them."""

from __future__ import annotations

import re

from diag.machine.language.shapes import texts
from diag.machine.problem import shown
from diag.machine.repair import outline
from diag.machine.repair.dashes import item, listed, rows
from diag.machine.repair.layout import ROOT
from diag.machine.repair.mend import levelled, put
from diag.machine.repair.outline import PAIR, At, indent, line_at, said, text_at
from diag.machine.repair.slips import Slip


def behind_its_end(before: str) -> str:
    """What is wrong where something follows that cannot: a text that goes on behind its closing quote, or begins with
    a sign; empty for anything else."""
    bare = before.rstrip()
    begun = re.search(r"(?:^|[:,\[{-])[ \t]*([*&][^\s,:\]}]*)$", bare)
    if begun and before != bare:
        return f"a text that begins with '{begun[1][0]}' goes in quotes"
    if before != bare and bare[-1:] in ("'", '"', "]", "}"):
        return f"words after the closing {bare[-1]}; put all of the text in quotes"
    return ""


def out_of_level(at: At, sign: str, lines: list[str]) -> Slip:
    """Something that cannot stand where it does: mostly its indent is wrong, or that of a line above."""
    line = text_at(lines, at[0])
    if sign and sign in "}]":
        return Slip(*at, f"a '{sign}' too many")
    text = behind_its_end(line[: at[1] - 1])
    if text:
        return Slip(*at, text)
    told = item(at, lines) or rows(at, lines) or listed(at, said(line[at[1] - 1 :]), lines) or _left_edge(at, lines)
    if told:
        return told
    before = next(outline.above(lines, at[0]), None)
    if before is not None:
        here, there = at[1] - 1, indent(lines[before.number - 1])
        if here > there and (
            lines[before.number - 1].rstrip().endswith(("}", "]")) or PAIR.match(lines[before.number - 1])
        ):
            return further(at, before.number, lines)
        if here < there:
            opener = next((one for one in outline.above(lines, at[0]) if one.column <= here), None)
            moved = _moved_left(at, opener.number, lines) if opener is not None and not opener.value else None
            if moved:
                return moved
            level = outline.level(lines, at[0])
            said_so = f"this line stands further left than line {before.number} above, and lines up with none"
            if level:
                text = f"{said_so}; {put(level)}"
                return Slip(*at, text, {at[0]: levelled(line, level)})
            missing = outline.heading(lines, at[0]) if line_at(lines, at[0]) else ""
            there = any(line.key == missing and line.column == 1 for line in outline.above(lines, at[0]))
            missing = "" if there else missing
            or_line = f", or whether the line {shown(missing + ':')} is missing above" if missing else ""
            return Slip(*at, f"{said_so}; check the indent{or_line}")
    return Slip(*at, "a key was expected here; check the indent and the quotes")


def _left_edge(at: At, lines: list[str]) -> Slip | None:
    """An entry above that begins at the left edge, so that the next one, which stands right, is level with none."""
    here = at[1]
    if here < 2 or here > 5:
        return None
    entry = next((line for line in outline.above(lines, at[0]) if line.column < here), None)
    if entry is None or entry.column != 1 or not entry.key or entry.value or entry.dashed:
        return None
    if entry.key in ROOT:
        return None
    heading = next((line for line in outline.above(lines, entry.number) if line.column == 1 and line.key), None)
    while heading is not None and heading.key not in ROOT:
        heading = next((line for line in outline.above(lines, heading.number) if line.column == 1 and line.key), None)
    under = f"under {shown(heading.key + ':')}" if heading is not None else "under the heading above"
    text = f"{shown(entry.key)} stands at the left edge and belongs {under}: {put(here)}"
    return Slip(entry.number, 1, text, {entry.number: levelled(text_at(lines, entry.number), here)})


def further(at: At, above: int, lines: list[str]) -> Slip:
    """A line that stands further right than one above that has its value already."""
    line = text_at(lines, at[0])
    start = (at[0], indent(line) + 1)
    text = f"this line stands further right than line {above} above, which is complete"
    level = outline.level(lines, at[0])
    short = _too_far_left(at, above, lines) or _moved_left(at, above, lines)
    if short:
        return short
    if level:
        text = f"{text}; {put(level)}"
        return Slip(*start, text, {at[0]: levelled(line, level)})
    missing = outline.heading(lines, at[0])
    such = f"the line {shown(missing + ':')}" if missing else "a line such as 'causes:'"
    such = f"a line such as {shown(missing + ':')}" if missing in texts() else such
    return Slip(*at, f"{text}; check the indent, or whether {such} is missing between them")


def tab(at: At, lines: list[str]) -> Slip:
    line = text_at(lines, at[0])
    level = outline.level(lines, at[0]) if not line[: at[1] - 1].strip() else 0
    if level:
        return Slip(*at, f"a tab; indent with spaces, {level - 1} before this line", {at[0]: levelled(line, level)})
    return Slip(*at, "a tab; indent with spaces")


def _too_far_left(at: At, above: int, lines: list[str]) -> Slip | None:
    """The line above, where it stands level with the name that it belongs to, and the lines below it further right."""
    line = line_at(lines, above)
    opener = next(outline.above(lines, above), None)
    start = indent(text_at(lines, at[0])) + 1
    if line is None or opener is None or opener.value or not opener.key or opener.column != line.column:
        return None
    if outline.is_field(lines, above, line.column, line.key) or not outline.is_field(lines, at[0], start, line.key):
        return None
    text = f"{shown(line.key)} belongs to {shown(opener.key + ':')}: {put(start)}"
    return Slip(above, line.column, text, {above: levelled(text_at(lines, above), start)})


def _moved_left(at: At, above: int, lines: list[str]) -> Slip | None:
    """That line above, where it is a field of the entry that the lines around it belong to, and stands further left
    than they do."""
    line = line_at(lines, above)
    start = indent(text_at(lines, at[0])) + 1
    around = next((one for one in outline.above(lines, above) if one.column <= start), None)
    if line is None or not line.key or line.dashed or line.column >= start or around is None:
        return None
    first = line.column < around.column < start and not around.value
    if not (first or around.column == start) or not around.key or around.dashed:
        return None
    if not outline.is_field(lines, above, start, line.key):
        return None
    here = line_at(lines, at[0])
    if here is None or here.dashed or here.key == line.key or not outline.is_field(lines, at[0], start, here.key):
        return None
    text = f"{shown(line.key)} is not level with the lines around it: {put(start)}"
    return Slip(above, line.column, text, {above: levelled(text_at(lines, above), start)})
