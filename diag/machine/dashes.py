"""Lines of a list whose dash is left out, is another sign, or has no space behind it."""

from __future__ import annotations

from diag.machine import outline
from diag.machine.mend import DASHES, dashed, levelled
from diag.machine.outline import At, indent, line_at, said, text_at
from diag.machine.problem import shown
from diag.machine.slips import Slip


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
    if rest[0] == "{":
        return Slip(*at, f"begin each line with a dash: write {shown(said(mend).strip())}", {at[0]: mend})
    if rest[0] not in DASHES or rest[1:2] in ("", rest[0]) or rest[:2] == "- ":
        return None
    if rest[0] == "-":
        return Slip(*at, f"after the '-' of a list comes a space: write {shown(said(mend).strip())}", {at[0]: mend})
    return Slip(*at, f"the sign for a list is the '-': write {shown(said(mend).strip())}", {at[0]: mend})


def no_dash(at: At, lines: list[str]) -> Slip:
    """A line among those of a list that has no dash."""
    rest = said(text_at(lines, at[0])[at[1] - 1 :])
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
    """Lines in braces, one below the other, of which none has a dash."""
    first = line_at(lines, at[0])
    if first is None or first.column != at[1]:
        return None
    run = [first]
    for ahead in (outline.above, outline.below):
        for line in ahead(lines, at[0]):
            if line.dashed or line.column != at[1] or line.rest[0] != "{" or line.rest[-1] != "}":
                break
            run.append(line)
    top = min(run, key=lambda line: line.number)
    before = next(outline.above(lines, top.number), None)
    if len(run) < 2 or first.rest[-1] != "}" or before is None or not before.key or before.value:
        return None
    mend = {line.number: dashed(text_at(lines, line.number), at[1]) for line in run}
    text = f"begin each line below {shown(before.key + ':')} with a dash: write {shown('- ' + top.rest)}"
    return Slip(top.number, top.column, text, mend)
