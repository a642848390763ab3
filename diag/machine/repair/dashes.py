"""Lines of a list whose dash is left out, is another sign, or has no space behind it."""

from __future__ import annotations

from diag.machine.language.shapes import Shape
from diag.machine.language.written_pairs import unparted
from diag.machine.problem import shown
from diag.machine.repair import outline
from diag.machine.repair.mend import DASHES, dashed, levelled, put
from diag.machine.repair.outline import At, Line, indent, line_at, said, text_at
from diag.machine.repair.slips import Slip


def listed(at: At, rest: str, lines: list[str]) -> Slip | None:
    """A line of a list whose dash is left out, or is another sign, or has no space behind it."""
    near = [next(outline.above(lines, at[0]), None), next(outline.below(lines, at[0]), None)]
    line = text_at(lines, at[0])
    other = next(
        (n for n in near if n is not None and n.dashed and indent(text_at(lines, n.number)) == at[1] - 1), None
    )
    if other is None or not rest:
        return None
    mend = dashed(line, at[1])
    write = f"write {shown(said(mend).strip())}"
    if rest[0] == "{":
        return Slip(*at, f"begin each line with a dash: {write}", {at[0]: mend})
    if rest[0] not in DASHES and (own := line_at(lines, at[0])) is not None and not own.key and not own.dashed:
        field = unparted(rest)
        if field is None or not outline.is_field(lines, at[0], at[1], field.key):
            return Slip(*at, f"begin each line with a dash: {write}", {at[0]: mend})
    if rest[0] not in DASHES or rest[1:2] in ("", rest[0]) or rest[:2] == "- ":
        return None
    text = "after the '-' of a list comes a space" if rest[0] == "-" else "the sign for a list is the '-'"
    return Slip(*at, f"{text}: {write}", {at[0]: mend})


def item(at: At, lines: list[str]) -> Slip | None:
    """An entry of a list that is not level with the others, told by the first word of the nearest one."""
    own = line_at(lines, at[0])
    if own is None or not own.dashed:
        return None
    for line in (*outline.above(lines, at[0]), *outline.below(lines, at[0])):
        same = line.key == own.key if own.key else own.rest[0] == "{" == line.rest[0]
        if line.dashed and same:
            there, here = (indent(text_at(lines, one.number)) for one in (line, own))
            text = f"this line is not level with the '- ' of line {line.number}: {put(there + 1)}"
            mend = {own.number: levelled(text_at(lines, own.number), there + 1)}
            return Slip(own.number, here + 1, text, mend) if here != there else None
    return None


def no_dash(at: At, lines: list[str]) -> Slip:
    """A line among those of a list that has no dash."""
    told = item(at, lines)
    if told:
        return told
    level = outline.level(lines, at[0])
    if level and level != at[1]:
        text = f"this line is not level with the others: {put(level)}"
        return Slip(*at, text, {at[0]: levelled(text_at(lines, at[0]), level)})
    rest = said(text_at(lines, at[0])[at[1] - 1 :])
    told = listed(at, rest, lines)
    if told:
        return told
    before = next((line for line in outline.above(lines, at[0]) if line.dashed), None)
    if rest[:1] == "{" and before is not None:
        start = indent(text_at(lines, before.number)) + 1
        mend = dashed(levelled(text_at(lines, at[0]), start), start)
        return Slip(*at, f"begin each line with a dash: write {shown(said(mend).strip())}", {at[0]: mend})
    missing = outline.heading(lines, at[0])
    if missing:
        return Slip(*at, f"the line {shown(missing + ':')} is missing above; or a '- ' is, as in the lines above")
    return Slip(*at, "a '- ' was expected here; check the indent")


def rows(at: At, lines: list[str]) -> Slip | None:
    """Lines one below the other that are the entries of a list, of which none has a dash."""
    first = line_at(lines, at[0])
    if first is None or first.column != at[1] or not _is_entry(first):
        return None
    run = [first]
    for ahead in (outline.above, outline.below):
        for line in ahead(lines, at[0]):
            if line.column != at[1] or not _is_entry(line):
                break
            run.append(line)
    top = min(run, key=lambda line: line.number)
    before = next(outline.above(lines, top.number), None)
    if len(run) < 2 or before is None or not before.key or before.value or before.column > top.column:
        return None
    braces = all(line.rest[0] == "{" for line in run)
    if not braces and not outline.shape_at(lines, before) & Shape.ROW:
        return None
    mend = {line.number: dashed(text_at(lines, line.number), at[1]) for line in run}
    text = f"begin each line below {shown(before.key + ':')} with a dash: write {shown('- ' + top.rest)}"
    return Slip(top.number, top.column, text, mend)


def _is_entry(line: Line) -> bool:
    """Whether a line can be an entry of a list: it has no dash and is not a field with its value."""
    if line.dashed:
        return False
    return line.rest[-1] == "}" if line.rest[0] == "{" else not line.key
