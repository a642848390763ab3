"""The parser's complaints in plain words, at the line where the slip is, with the line to write."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from diag.machine.language.fields.tree_fields import NODES
from diag.machine.language.shapes import Shape, entries
from diag.machine.language.written_pairs import LONGEST_LINE, no_space, quoted, so, unparted
from diag.machine.problem import LONGEST_WORD, shown
from diag.machine.repair import outline
from diag.machine.repair.curly import curly
from diag.machine.repair.dashes import listed, no_dash
from diag.machine.repair.indents import behind_its_end, further, out_of_level, tab
from diag.machine.repair.mend import dashed, equalled, in_quotes, spaced, with_colon
from diag.machine.repair.outline import PAIR, At, indent, line_at, said, text_at
from diag.machine.repair.slips import EQUALS, HASH, NO_COLON, Slip, dash
from diag.machine.span import DEEPEST

WIDE_COLON: Final = "\uff1a"
_SIGNS: Final = "%@`*&!>|?"


def syntax(error: Any, text: str) -> Slip:
    """The parser's own complaint in plain words, at the line where the slip is. A file that breaks off is reported at
    its last character: the parser means the line after it, which is not there."""
    lines = text.split("\n")
    since = _place(getattr(error, "context_mark", None))
    at = _place(getattr(error, "problem_mark", None)) or since or (1, 1)
    opened_by = _sign_at(since, lines) if since is not None else ""
    slip = _plainer(_Stop(at, since, lines, _sign_at(at, lines), opened_by), error)
    if slip.line > len(lines):
        return Slip(len(lines), len(lines[-1]) + 1, slip.text)
    return slip


def _place(mark: Any) -> tuple[int, int] | None:
    return None if mark is None else (mark.line + 1, mark.column + 1)


@dataclass(frozen=True, slots=True)
class _Stop:
    """Where the parser stopped."""

    at: At
    since: At | None
    """Where what it was reading begins."""
    lines: list[str]
    sign: str
    """The character at which it stopped; empty at the end of the file."""
    opened_by: str
    """The character with which what it was reading begins."""


def _sign_at(at: At, lines: list[str]) -> str:
    return text_at(lines, at[0])[at[1] - 1 : at[1]]


def _plainer(stop: _Stop, error: Any) -> Slip:
    """Where the slip is, and what to say of it: by the text where the parser stopped, and else by its complaint."""
    at, since, lines = stop.at, stop.since, stop.lines
    for n in dict.fromkeys((since or at)[:1] + at[:1]):
        odd = curly(lines, n) or in_one_line(lines, n)
        if odd:
            return odd
    if since is not None and stop.opened_by in ("'", '"') and not said("".join(lines[at[0] - 1 :])).strip():
        return Slip(*since, "the quote that opens here is never closed")
    if stop.sign == "\t":
        return tab(at, lines)
    if stop.sign in tuple("%@`"):
        return _sign(at, stop.sign, lines)
    answer, plain = COMPLAINTS.get(kind_of_complaint(error), (_untold, f"not YAML: {_problem(error)}"))
    told = answer(stop) or listed(
        (at[0], indent(text_at(lines, at[0])) + 1), said(text_at(lines, at[0])).strip(), lines
    )
    if told:
        return told
    tagged = _sign(since, stop.opened_by, lines) if since is not None and stop.opened_by in tuple("!&*") else None
    return Slip(*at, plain, tagged.mend if tagged else {})


def kind_of_complaint(error: Any) -> str:
    """The words of `COMPLAINTS` that the parser's error holds; empty for a complaint that is not known."""
    whole = f"{getattr(error, 'context', None)}: {_problem(error)}"
    return next((words for words in COMPLAINTS if words in whole), "")


def _problem(error: Any) -> str:
    return str(getattr(error, "problem", None) or error).partition("\n")[0]


def _untold(_: _Stop) -> None:
    """Nothing more can be said than the plain text."""


def _outside(stop: _Stop) -> Slip | None:
    """What stands further left than the first line, which is itself no heading."""
    lines = stop.lines
    first = next((n for n, above in enumerate(lines, 1) if above.strip() and above.lstrip()[0] != "#"), stop.at[0])
    if first >= stop.at[0] or not indent(lines[first - 1]):
        return None
    missing = outline.heading(lines, first)
    text = f"the line {shown(missing + ':')}" if missing else "a line such as 'indications:'"
    below = "is missing above; what stands below it begins two spaces in"
    return Slip(first, indent(lines[first - 1]) + 1, f"{text} {below}")


_IN_BRACES: Final = "no dashes inside braces and brackets; a list in one line is written [one, another]"
_IN_LINE: Final = "a list begins on a line of its own, or is written [one, another]"
_UNCLEAR: Final = "something is missing here; or a comma, a bracket or a brace is too many"
_STRANGE: Final = "what stands here is outside of all that is above; check the indent and the brackets"
_BACKSLASH: Final = "a backslash that means nothing here; use single quotes"
_TAG: Final = "a '!' that cannot stand here; put the text in quotes"
_ANCHOR: Final = "a '&' or '*' that cannot stand here; put the text in quotes"
COMPLAINTS: Final[Mapping[str, tuple[Callable[[_Stop], Slip | None], str]]] = {
    "expected ':'": (lambda stop: _without_colon(stop.since or stop.at, stop.lines), ""),
    "expected ',' or": (lambda stop: _unclosed(stop.at, stop.since, stop.lines), ""),
    "mapping values are not allowed": (lambda stop: _two_colons(stop.at, stop.lines), ""),
    "expected key": (lambda stop: out_of_level(stop.at, stop.sign, stop.lines), ""),
    "expected <block end>": (lambda stop: out_of_level(stop.at, stop.sign, stop.lines), ""),
    "<document start>": (_outside, _STRANGE),
    "found a tab character": (lambda stop: tab(stop.at, stop.lines), ""),
    "cannot start any token": (lambda stop: _sign(stop.at, stop.sign, stop.lines), ""),
    "node content": (lambda stop: Slip(*stop.at, _IN_BRACES) if stop.sign == "-" else None, _UNCLEAR),
    "sequence entries are not allowed": (lambda stop: Slip(*stop.at, _IN_LINE), ""),
    "expected '-' indicator": (lambda stop: no_dash(stop.at, stop.lines), ""),
    "scanning a block scalar": (lambda stop: stop.since and _sign(stop.since, stop.opened_by, stop.lines), _UNCLEAR),
    "nesting depth": (_untold, f"nested deeper than {DEEPEST} levels"),
    "parsing a quoted scalar": (_untold, _BACKSLASH),
    "double-quoted scalar": (_untold, _BACKSLASH),
    "unexpected document": (_untold, "a line of '---' or '...' inside quotes; put a space before it"),
    "directive": (_untold, "a line that begins with '%'; put the text in quotes"),
    "undefined tag handle": (_untold, _TAG),
    "ing a tag": (_untold, _TAG),
    "scanning an alias": (_untold, _ANCHOR),
    "scanning an anchor": (_untold, _ANCHOR),
    "mapping keys are not allowed": (_untold, "a text that begins with '?' goes in quotes"),
}
"""What is done about a complaint of the parser, and what is said where nothing more can be told. The parser tells only
by its words of what kind a complaint is; the first that it holds count. Nothing else here looks at them."""


_TWO_FIELDS: Final = re.compile(r" *(?P<key>[\w-]+): +(?P<value>[^\s\"'{\[].*?) +(?P<name>[a-z][\w-]*)")
_IN_QUOTES: Final = re.compile(r"\"[^\"\\]*\"|'[^']*'")


def in_one_line(lines: list[str], number: int) -> Slip | None:
    """A field and its value in braces or brackets without the ': ' between them; None for any other line."""
    line = line_at(lines, number)
    found = unparted(line.rest) if line is not None else None
    if line is None or found is None or found.value[0] not in "{[":
        return None
    if not outline.is_field(lines, number, line.column, found.key):
        return None
    start = text_at(lines, number)[: line.column - 1]
    return Slip(number, line.column, found.text, {number: f"{start}{found.key}: {found.value}"})


def slip_of(at: At, rest: str, lines: list[str]) -> Slip | None:
    """What is wrong with a line that ends with `rest`, its indent and dashes taken off; None when nothing can be
    said."""
    line = text_at(lines, at[0])
    found = EQUALS.match(rest)
    if found:
        text = f"a ':' and a space belong here, and no '=': write {so(found['key'], found['value'])}"
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
        text = "this only looks like a ':'; type the ordinary one, with a space after it"
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
    shape = outline.shape_at(lines, before) if before is not None else Shape.NOTHING
    wanted = Shape.MAP if rest[0] == "{" else Shape.ROW if rest[0] == "[" else Shape.WORD | Shape.ROW
    if before is None or before.value or at[1] > before.column or not shape & wanted:
        return None
    found = NO_COLON.fullmatch(rest)
    if found and found["value"] and outline.is_field(lines, at[0], at[1], found["key"]):
        return None
    if shape & Shape.ROW and rest[0] not in "{[":
        text = f"each line below {shown(before.key + ':')} begins with a dash: write {shown('- ' + rest)}"
        return Slip(*at, text)
    more = []
    for line in outline.below(lines, at[0]):
        if line.column != at[1] or line.key or line.dashed:
            break
        more.append(line)
    whole = " ".join([rest, *(line.rest for line in more)])
    braces = whole[0] + whole[-1] in ("{}", "[]")
    plain = braces or bool(_IN_QUOTES.fullmatch(whole)) or rest[0] not in _SIGNS + "-{}[],\"'"
    if (": " in whole and not braces) or " #" in whole or not plain or len(whole) > LONGEST_LINE:
        return Slip(*at, f"what belongs to {shown(before.key + ':')} stands behind it in its line, or further right")
    text = f"the value of {shown(before.key)} goes behind it, in one line: write {so(before.key, whole)}"
    mend = dict.fromkeys((at[0], *(line.number for line in more)), "")
    return Slip(*at, text, {before.number: f"{said(text_at(lines, before.number))} {whole}", **mend})


def _bare_colon(rest: str) -> str:
    """What to say of a name in braces whose ':' has nothing behind it, not even a space; empty when it has."""
    found = re.match(r"[^\s,:{}\[\]]+:(?=[,}\]])", rest)
    return f"after a ':' comes a space, even where nothing follows: write {shown(found[0] + ' ')}" if found else ""


# ---------------------------------------------------------------- brackets, signs, colons in a text


def _unclosed(at: At, since: At | None, lines: list[str]) -> Slip:
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
                "inside { } and [ ] fields are separated by a ',', not by a ';'",
            )
        colon = _comma_before_name(at, lines) or _colon_in_braces(at, lines)
        if colon:
            return colon
        sign = "}" if text_at(lines, opened[0])[opened[1] - 1 :][:1] == "{" else "]"
        before = lines[at[0] - 1][: at[1] - 1]
        return _comma_behind_end(at, lines) or Slip(*at, behind_its_end(before) or f"a '{sign}' or a ',' is missing")
    sign = lines[opened[0] - 1][opened[1] - 1 : opened[1]]
    return Slip(*opened, f"the '{sign}' that opens here is not closed, or a ',' is missing")


def _comma_before_name(at: At, lines: list[str]) -> Slip | None:
    """The last word before a ': ' in braces, which is the name of another field: `{code: guard door: open}`. None where
    it may be a word of a text."""
    line = text_at(lines, at[0])
    start = max(line.rfind(sign, 0, at[1] - 1) for sign in ",{") + 1
    found = _TWO_FIELDS.fullmatch(line[start : at[1] - 1])
    if found is None or line[at[1] - 1 : at[1] + 1] != ": ":
        return None
    key, name = found["key"], found["name"]
    kinds = [kind for kind in entries() if key in kind]
    if not any(name in kind for kind in kinds) and (kinds or " " in found["value"]):
        return None
    return _with_comma((at[0], start + found.start("name") + 1), start + found.start("key"), lines)


def _comma_behind_end(at: At, lines: list[str]) -> Slip | None:
    """What follows a closing quote, bracket or brace with a space between, and begins like another field or entry."""
    line = text_at(lines, at[0])
    before, rest = line[: at[1] - 1], line[at[1] - 1 :]
    bare = before.rstrip()
    if before == bare or bare[-1:] not in ("'", '"', "]", "}"):
        return None
    if not re.match(r"[\w-]+: ", rest) and (rest[:1] not in ("'", '"', "[", "{") or line.count('"') % 2):
        return None
    own = re.search(r"[\w-]+: (?:\"[^\"]*\"|'[^']*'|\[[^\[\]]*\]|\{[^{}]*\})$", bare)
    ends = own or re.search(r"(?:\"[^\"]*\"|'[^']*'|\[[^\[\]]*\]|\{[^{}]*\})$", bare)
    return _with_comma(at, ends.start(), lines) if ends else None


def _with_comma(at: At, start: int, lines: list[str]) -> Slip:
    """A comma that is missing before this place; what it separates begins at `start`."""
    line = text_at(lines, at[0])
    left, right = line[: at[1] - 1].rstrip(), line[at[1] - 1 :]
    after = re.match(r"(?:[\w-]+: )?(?:\"[^\"]*\"|'[^']*'|\[[^\[\]]*\]|\{[^{}]*\}|[^,}\]]*)", right)
    write = f"{left[start:]}, {after[0].rstrip() if after else ''}"
    text = f"a ',' is missing: write {shown(write)}" if len(write) <= LONGEST_WORD else "a ',' is missing"
    return Slip(*at, text, {at[0]: f"{left}, {right}"})


def _colon_in_braces(at: At, lines: list[str]) -> Slip | None:
    """A text in braces that holds ': ', as in `{note: Wait: then go}`; None for anything else."""
    line = text_at(lines, at[0])
    start = max(line.rfind(sign, 0, at[1] - 1) for sign in ",{") + 1
    key, colon, _ = line[start : at[1] - 1].partition(": ")
    if line[at[1] - 1 : at[1] + 1] != ": " or not colon:
        return None
    end = min((found for sign in ",}" if (found := line.find(sign, at[1])) > 0), default=len(line))
    begin = start + len(key) + len(colon)
    value = line[begin:end].strip()
    return _holds_colon((at[0], begin + 1), begin + 1, key, value, line)


def _holds_colon(at: At, begins: int, key: str, value: str, line: str) -> Slip:
    """A text that holds ': ' and has no quotes; it begins in or behind this column."""
    text = f"a text that holds ': ' goes in quotes: write {key.strip()}: {quoted(value)}"
    plain = not set(value) & set("\"'\\{}[]") and len(value) <= LONGEST_LINE
    return Slip(*at, text, {at[0]: in_quotes(line, begins, value, f'"{value}"')} if plain else {})


def _sign(at: At, sign: str, lines: list[str]) -> Slip:
    """A text that begins with a sign that YAML has a use for."""
    line = text_at(lines, at[0])
    own = line_at(lines, at[0])
    text = f"a text that begins with {shown(sign)} goes in quotes"
    if own is None or not own.whole or own.value[0] != sign or line.find(own.value, own.column) != at[1] - 1:
        return Slip(*at, text)
    if '"' in own.value or "\\" in own.value or len(own.value) > LONGEST_LINE:
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
            text = f"names with values in one line go in braces: write {so(found['key'].strip(), braces)}"
            return Slip(*at, text)
        return _holds_colon(at, found.start("value") + 1, found["key"], value, line)
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
