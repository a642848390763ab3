"""The parser's complaints in plain words, at the line where the slip is, with the line to write."""

from __future__ import annotations

import re
from typing import Any, Final

from diag.machine import outline
from diag.machine.curly import curly
from diag.machine.dashes import listed, no_dash
from diag.machine.indents import behind_its_end, further, out_of_level, tab
from diag.machine.mend import dashed, equalled, in_quotes, spaced, with_colon
from diag.machine.outline import PAIR, At, indent, line_at, said, text_at
from diag.machine.problem import shown
from diag.machine.slips import EQUALS, HASH, NO_COLON, Slip, dash, no_space, quoted, so
from diag.machine.source import NODES
from diag.machine.span import DEEPEST

WIDE_COLON: Final = "\uff1a"
_SIGNS: Final = "%@`*&!>|?"
_ROWS: Final = frozenset(
    (
        "hazards",
        "neighbours",
        "parts",
        "series",
        "line",
        "facts",
        "points",
        "test-points",
        "note-first",
        "who",
        "answers",
    )
)
"""Fields that take several entries, each with a dash when they stand on lines of their own."""


def syntax(error: Any, text: str) -> Slip:
    """The parser's own complaint in plain words, at the line where the slip is. A file that breaks off is told at its
    last character: the parser means the line after it, which is not there."""
    lines = text.split("\n")
    complaint = str(getattr(error, "problem", None) or error).partition("\n")[0]
    context = str(getattr(error, "context", None) or "")
    at, since = _place(getattr(error, "problem_mark", None)), _place(getattr(error, "context_mark", None))
    slip = _plainer(complaint, context, at or since or (1, 1), since, lines)
    if slip.line > len(lines):
        return Slip(len(lines), len(lines[-1]) + 1, slip.text)
    return slip


def _place(mark: Any) -> tuple[int, int] | None:
    return None if mark is None else (mark.line + 1, mark.column + 1)


def _plainer(complaint: str, context: str, at: At, since: At | None, lines: list[str]) -> Slip:
    """Where the slip is, and what to say of it."""
    line = text_at(lines, at[0])
    sign = line[at[1] - 1 : at[1]]
    odd = next((slip for n in dict.fromkeys((since or at)[:1] + at[:1]) if (slip := curly(lines, n))), None)
    if odd:
        return odd
    if "quoted scalar" in context and "end of stream" in complaint:
        return Slip(*(since or at), "the quote that opens here is never closed")
    if "expected ':'" in complaint:
        return _without_colon(since or at, lines)
    if "expected ',' or" in complaint:
        return _unclosed(complaint, at, since, lines)
    if "mapping values are not allowed" in complaint:
        return _two_colons(at, lines)
    if "expected key" in complaint or "expected <block end>" in complaint:
        return out_of_level(at, sign, lines)
    if "<document start>" in complaint:
        first = next((n for n, above in enumerate(lines, 1) if above.strip() and above.lstrip()[0] != "#"), at[0])
        if first < at[0] and indent(lines[first - 1]) > 0:
            missing = outline.heading(lines, first)
            text = f"the line {shown(missing + ':')}" if missing else "a line such as 'indications:'"
            below = "is missing above; what stands below it begins two spaces in"
            return Slip(first, indent(lines[first - 1]) + 1, f"{text} {below}")
    if "cannot start any token" in complaint or "found a tab character" in complaint:
        return tab(at, lines) if sign == "\t" or "tab" in complaint else _sign(at, sign, lines)
    if "found unexpected ':'" in complaint and since is not None:
        bare = _bare_colon(line[since[1] - 1 :])
        return Slip(*since, bare or "a ':' without a space after it; put the text in quotes")
    if "expected node content" in complaint and sign == "-":
        return Slip(*at, "no dashes inside braces and brackets; a list in one line is written [one, another]")
    if "block sequence entries" in complaint:
        return Slip(*at, "a list begins on a line of its own, or is written [one, another]")
    if "comment or line break" in complaint and since is not None:
        return _sign(since, text_at(lines, since[0])[since[1] - 1 : since[1]], lines)
    if "expected '-' indicator" in complaint:
        return no_dash(at, lines)
    bullet = listed((at[0], indent(line) + 1), said(line).strip(), lines)
    if bullet:
        return bullet
    plain = next((plain for words, plain in _OTHERS if words in complaint), f"not YAML: {complaint}")
    tagged = since if "tag" in complaint or "alphabetic" in complaint else None
    if tagged is not None and (told := _sign(tagged, text_at(lines, tagged[0])[tagged[1] - 1 : tagged[1]], lines)).mend:
        return Slip(*at, plain, told.mend)
    return Slip(*at, plain)


_OTHERS: Final = (
    ("maximum nesting depth", f"nested deeper than {DEEPEST} levels"),
    ("unknown escape character", "a backslash that means nothing here; use single quotes"),
    ("hexdecimal number", "a backslash that means nothing here; use single quotes"),
    ("undefined tag handle", "a '!' that cannot stand here; put the text in quotes"),
    ("expected tag", "a '!' that cannot stand here; put the text in quotes"),
    ("alphabetic or numeric", "a '&' or '*' that cannot stand here; put the text in quotes"),
    ("mapping keys are not allowed", "a text that begins with '?' goes in quotes"),
    ("expected node content", "something is missing here; or a comma, a bracket or a brace is too many"),
    ("document indicator", "a line of '---' or '...' inside quotes; put a space before it"),
    (
        "expected <document start>",
        "what stands here is outside of all that is above; check the indent and the brackets",
    ),
    ("directive", "a line that begins with '%'; put the text in quotes"),
    ("leading space", "a text that begins here with an empty line and spaces; take the spaces out"),
)


def slip_of(at: At, rest: str, lines: list[str]) -> Slip | None:
    """What is wrong with a line that `rest` ends, its indent and dashes taken off; None when nothing can be told."""
    line = text_at(lines, at[0])
    found = EQUALS.match(rest)
    if found:
        text = f"a ':' and a space, and no '=': write {so(found['key'], found['value'])}"
        return Slip(*at, text, {at[0]: equalled(line, at[1])})
    if no_space(rest):
        return Slip(*at, no_space(rest), {at[0]: spaced(line, at[1])})
    if dash(rest):
        return Slip(*at, dash(rest), {} if rest.startswith("- ") else {at[0]: dashed(line, at[1])})
    return None


# ---------------------------------------------------------------- lines without their colon, their dash, their value


def _without_colon(at: At, lines: list[str]) -> Slip:
    """A line that should be a key and its value, and has no ': '."""
    line = text_at(lines, at[0])
    rest = said(line[at[1] - 1 :])
    told = listed(at, rest, lines) or slip_of(at, rest, lines)
    if told:
        return told
    if WIDE_COLON in rest:
        text = "this ':' is another sign that looks like it; type the ordinary one, and a space behind it"
        return Slip(at[0], at[1] + rest.index(WIDE_COLON), text)
    bare = _bare_colon(rest)
    if bare:
        return Slip(*at, bare)
    if rest[:1] in ("'", '"') and rest.count(rest[0]) == 1:
        return Slip(*at, "the quote that opens here is never closed")
    found = NO_COLON.fullmatch(rest)
    after = next(outline.below(lines, at[0]), None)
    opens = after is not None and after.column > at[1]
    told = _next_line(at, rest, lines)
    if told:
        return told
    field = found is not None and outline.is_field(lines, at[0], at[1], found["key"])
    if found and (field if found["value"] else opens):
        mend = {at[0]: with_colon(line, at[1], found["key"])}
        return Slip(*at, f"a ':' is missing: write {so(found['key'], found['value'] or '')}", mend)
    if found and not found["value"]:
        return Slip(*at, f"a ':' is missing: write {so(found['key'], '')}")
    before = next(outline.above(lines, at[0]), None)
    goes_on = before is not None and before.whole and before.column == at[1]
    more = "; a text that goes on here stands further right than its name" if goes_on else ""
    return Slip(*at, f"a ':' is missing after what stands here, or its indent is wrong{more}")


def _next_line(at: At, rest: str, lines: list[str]) -> Slip | None:
    """The value of the name in the line above, which belongs behind that name."""
    before = next(outline.above(lines, at[0]), None)
    if before is None or before.value or at[1] > before.column or not outline.takes_a_word(before.key):
        return None
    found = NO_COLON.fullmatch(rest)
    if found and found["value"] and outline.is_field(lines, at[0], at[1], found["key"]):
        return None
    if before.key in _ROWS:
        text = f"each line below {shown(before.key + ':')} begins with a dash: write {shown('- ' + rest)}"
        return Slip(*at, text)
    more = []
    for line in outline.below(lines, at[0]):
        if line.column != at[1] or line.key or line.dashed:
            break
        more.append(line)
    whole = " ".join([rest, *(line.rest for line in more)])
    if any(sign in whole for sign in (": ", " #")) or rest[0] in _SIGNS + "-{}[],\"'" or len(whole) > 200:
        return Slip(*at, f"what belongs to {shown(before.key + ':')} stands behind it in its line, or further right")
    text = f"the value of {shown(before.key)} goes behind it, in one line: write {so(before.key, whole)}"
    mend = dict.fromkeys((at[0], *(line.number for line in more)), "")
    return Slip(*at, text, {before.number: f"{said(text_at(lines, before.number))} {whole}", **mend})


def _bare_colon(rest: str) -> str:
    """What to say of a name in braces whose ':' has nothing behind it, not even a space; empty when it has."""
    found = re.match(r"[^\s,:{}\[\]]+:(?=[,}\]])", rest)
    return f"after a ':' comes a space, also where nothing follows: write {shown(found[0] + ' ')}" if found else ""


# ---------------------------------------------------------------- brackets, signs, colons in a text


def _unclosed(complaint: str, at: At, since: At | None, lines: list[str]) -> Slip:
    """A brace or a bracket that is not closed, mostly because of what was left out as a remark."""
    opened = since or at
    for n in range(opened[0], min(at[0], len(lines)) + 1):
        found = HASH.search(lines[n - 1], opened[1] - 1 if n == opened[0] else 0)
        if found and lines[n - 1].count('"', 0, found.end()) % 2 == 0:
            column = found.end() - 1
            word = re.split(r"[,:}\]]", lines[n - 1][column - 1 :])[0]
            return Slip(n, column, f"what stands after '#' is a remark and is left out; put {quoted(word)} in quotes")
    if opened[0] == at[0]:
        words = re.split(r"[,{\[]", lines[at[0] - 1][: at[1] - 1])[-1]
        if ";" in words:
            return Slip(
                at[0],
                at[1] - len(words) + words.index(";"),
                "inside { } and [ ] fields are parted by a ',', not by a ';'",
            )
        sign = "}" if "'}'" in complaint else "]"
        before = lines[at[0] - 1][: at[1] - 1]
        return Slip(*at, behind_its_end(before) or f"a '{sign}' or a ',' is missing")
    sign = lines[opened[0] - 1][opened[1] - 1 : opened[1]]
    return Slip(*opened, f"the '{sign}' that opens here is not closed, or a ',' is missing")


def _sign(at: At, sign: str, lines: list[str]) -> Slip:
    """A text that begins with a sign that YAML has a use for."""
    line = text_at(lines, at[0])
    own = line_at(lines, at[0])
    text = f"a text that begins with {shown(sign)} goes in quotes"
    if own is None or not own.whole or own.value[0] != sign or line.find(own.value, own.column) != at[1] - 1:
        return Slip(*at, text)
    if '"' in own.value or "\\" in own.value or len(own.value) > 200:
        return Slip(*at, text)
    whole = f'"{own.value}"'
    return Slip(*at, f"{text}: write {own.key}: {quoted(own.value)}", {at[0]: in_quotes(line, at[1], own.value, whole)})


def _two_colons(at: At, lines: list[str]) -> Slip:
    """A ': ' where none can stand: in a text, or because the line above is no key with its value."""
    line = text_at(lines, at[0])
    found = PAIR.match(said(line)) if PAIR.match(line[: at[1] - 1]) else None
    if found:
        value = found["value"]
        if value.partition(":")[0] in NODES or (value[0] == "(" and value[-1] == ")"):
            braces = f"{{{value.strip('()')}}}"
            text = f"names with values in one line stand in braces: write {so(found['key'].strip(), braces)}"
            return Slip(*at, text)
        text = f"a text that holds ': ' goes in quotes: write {found['key'].strip()}: {quoted(value)}"
        plain = not set(value) & set("\"'\\{}[]") and len(value) <= 200
        return Slip(*at, text, {at[0]: in_quotes(line, found.start("value") + 1, value, f'"{value}"')} if plain else {})
    for n in range(at[0] - 1, max(0, at[0] - 1 - outline.FURTHEST), -1):
        above = lines[n - 1]
        bare = said(above).strip()
        if not bare:
            continue
        rest = re.sub(r"^(?:- +)+", "", bare)
        told = slip_of((n, above.index(rest) + 1), rest, lines)
        if told:
            return told
        if PAIR.match(above) and indent(line) > indent(above):
            return further(at, n, lines)
        if ":" not in bare and NO_COLON.fullmatch(rest):
            return _without_colon((n, above.index(rest) + 1), lines)
        break
    return Slip(*at, "a ':' that cannot stand here; check the indent and the line above, or put the text in quotes")
