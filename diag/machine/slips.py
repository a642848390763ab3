"""Slips of the pen that YAML takes without a word, or tells at another line: found in the text, told in plain words.

YAML leaves out what follows ' #', folds a line without its ': ' or its '- ' into the one above, and parts what stands
in braces at every comma. Who writes the files knows none of that. Lines and columns count from 1 here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, Final

from diag.machine.problem import LONGEST_WORD, Problem, clean, shown
from diag.machine.span import DEEPEST

_HASH: Final = re.compile(r"(?:^|[ \t{\[,])#[^\s#]", re.MULTILINE)
"""What YAML may leave out as a remark without its being meant as one."""
_AFTER_TEXT: Final = re.compile(r"[ \t]*(?:,[ \t]*)?[ \t](#[^\s#].*)")
_AFTER_KEY: Final = re.compile(r"[ \t]*:?[ \t]+(#[^\s#].*)")
_CODE: Final = re.compile(r"[ \t]*(#(?![a-z!])[^\s#:]*):(?:[ \t]|$)")
"""A line that looks like a code with its meaning, and is a remark. What begins with a small letter is a field that was
taken out for a while."""
_NO_SPACE: Final = re.compile(r"(?P<key>[A-Za-z][A-Za-z0-9_-]*):(?P<value>[^\s:/,}\]][^\n]*)")
_EQUALS: Final = re.compile(r"(?P<key>[A-Za-z][A-Za-z0-9_-]*)[ \t]*=[ \t]*(?P<value>[^\s=][^\n]*)")
_NO_COLON: Final = re.compile(r"(?P<key>[a-z][a-z0-9-]*)(?:[ \t]+(?P<value>[^\s#][^\n]*))?")
_DASH: Final = re.compile(r"-(?P<value>[^\W\d][^\n]*|[\"'{\[][^\n]*)")
_PAIR: Final = re.compile(r"[ \t]*(?:- +)*(?P<key>[^\s#\"'{\[][^:#]*): +(?P<value>[^\s#\"'{\[&*>|].*)")
_AMOUNT: Final = re.compile(r"[0-9]+(?:[ \t].*|%|)")


def may_be_lost(text: str) -> bool:
    """Whether anything in a file looks like text that YAML leaves out as a remark; mostly not."""
    return _HASH.search(text) is not None


def lost_after_text(text: str, start: int, end: int) -> tuple[int, str] | None:
    """What YAML left out after the unquoted words `text[start:end]`: how far behind their end it stands, and the
    message."""
    found = _AFTER_TEXT.match(text, end)
    return None if found is None else (found.start(1) - end, _lost(f"{text[start:end]} {found[1]}", found[1]))


def lost_after_key(text: str, end: int) -> tuple[int, str] | None:
    """The same of a value that is empty but for what was left out; a key, or a list's dash, ends at `end`."""
    found = _AFTER_KEY.match(text, end)
    return None if found is None else (found.start(1) - end, _lost(found[1], found[1]))


def lost_lines(text: str) -> Iterator[tuple[int, int, str]]:
    """The lines that look like a code that begins with '#': line, column, message."""
    for n, line in enumerate(text.split("\n"), 1):
        found = _CODE.match(line)
        if found:
            said = f"a line that begins with '#' is a remark and is left out; write {_quoted(found[1])} in quotes"
            yield n, found.start(1) + 1, f"{said}, or '# ' before what is a remark"


def _lost(whole: str, left_out: str) -> str:
    whole, left_out = (re.split(r"[ \t]#[ \t]", text)[0] for text in (whole, left_out))
    said = "what stands after ' #' is a remark and is left out; write"
    return f"{said} {_quoted(whole)} in quotes, or {shown('# ' + left_out[1:])} if it is a remark"


def _quoted(text: str) -> str:
    text = clean(" ".join(text.split()))
    text = f"{text[: LONGEST_WORD - 3]}..." if len(text) > LONGEST_WORD else text
    return f"'{text}'" if '"' in text or "\\" in text else f'"{text}"'


def _so(key: str, value: str) -> str:
    """How it is written, as a message shows it."""
    return shown(f"{key}: {' '.join(value.split())}".strip())


def no_space(word: str) -> str:
    """What to say of a word such as `run-lamp:dark`; empty when it is none."""
    found = _NO_SPACE.match(word)
    return f"after a ':' comes a space: write {_so(found['key'], found['value'])}" if found else ""


def _dash(line: str) -> str:
    if line.startswith("- "):
        return "a list begins on a line of its own, with nothing before it; else put the text in quotes"
    found = _DASH.match(line)
    return f"after the '-' of a list comes a space: write {shown('- ' + found['value'])}" if found else ""


def folded(text: str, start: int, end: int, many_lines: bool) -> tuple[int, int, str] | None:
    """What is wrong with unquoted words that stand on lines of their own: how many lines down, the column, the message.

    `many_lines`: whether they go over more than one; the first counts only where nothing stands before it.
    """
    first = text.rfind("\n", 0, start) + 1
    lines = text[first:end].split("\n") if many_lines else [text[first:end]]
    own = not text[first:start].strip(" ")
    for down, line in enumerate(lines):
        bare = line.strip(" \t")
        said = (_dash(bare) or no_space(bare)) if own or down else ""
        if said:
            return down, len(line) - len(line.lstrip(" \t")) + 1, said
    return None


def comma(text: str, start: int, end: int) -> str:
    """What to say of the words `text[start:end]`, which stand in braces after a comma and have no ':'; empty when they
    may stand there: an entry that is left empty, as after a quoted or an empty one."""
    after = text[end : end + 40].lstrip(" \t\n")
    before = text[max(0, start - 200) : start].rstrip(" \t\n")
    if after.startswith(":") or not before.endswith(","):
        return ""
    said = before[:-1].rstrip()
    if not said or said[-1] in "\"'}]:,":
        return ""
    word = text[start:end]
    if text[start - 1] == "," and said[-1].isdigit() and word[0].isdigit():
        return _decimal(said, word)
    whole = f"{re.split(r'[{,]|: ', said)[-1].strip()}, {word}"
    return f"in braces a comma parts fields, and {shown(word)} has no ':'; put the text in quotes: {_quoted(whole)}"


def decimal(text: str, start: int, end: int, before: str) -> str:
    """What to say of an entry in brackets that looks like the second half of `0,2 bar`; empty when it is none.

    `before`: the entry before it."""
    word = text[start:end]
    if text[start - 1 : start] != "," or not before[-1:].isdigit() or not _AMOUNT.fullmatch(word) or word.isdigit():
        return ""
    return _decimal(before, word)


def _decimal(before: str, word: str) -> str:
    whole = re.findall(r"[0-9]+$", before)[0]
    first, last = f"{whole}.{word}", f"{whole},{word}"
    return f"inside {{ }} and [ ] a comma parts fields: write {shown(first)}, or {_quoted(last)} in quotes"


# ---------------------------------------------------------------- what the parser complains of


def syntax(error: Any, file: str, text: str) -> Problem:
    """The parser's own complaint in plain words, at the line where the slip is. A file that breaks off is told at its
    last character: the parser means the line after it, which is not there."""
    lines = text.split("\n")
    said = str(getattr(error, "problem", None) or error).partition("\n")[0]
    context = str(getattr(error, "context", None) or "")
    at, since = _place(getattr(error, "problem_mark", None)), _place(getattr(error, "context_mark", None))
    (line, column), plainly = _plainer(said, context, at or since or (1, 1), since, lines)
    if line > len(lines):
        line, column = len(lines), len(lines[-1]) + 1
    return Problem(file, line, column, "error", plainly, "yaml")


def _place(mark: Any) -> tuple[int, int] | None:
    return None if mark is None else (mark.line + 1, mark.column + 1)


Told = tuple[tuple[int, int], str]


def _plainer(said: str, context: str, at: tuple[int, int], since: tuple[int, int] | None, lines: list[str]) -> Told:
    """Where the slip is, and what to say of it."""
    line = lines[at[0] - 1] if at[0] <= len(lines) else ""
    sign = line[at[1] - 1 : at[1]]
    if "quoted scalar" in context and "end of stream" in said:
        return since or at, "the quote that opens here is never closed"
    if "expected ':'" in said:
        return _without_colon(since or at, lines)
    if "expected ',' or" in said:
        return _unclosed(said, at, since, lines)
    if "mapping values are not allowed" in said:
        return _two_colons(at, line, lines)
    if "expected key" in said or "expected <block end>" in said:
        if sign and sign in "}]":
            return at, f"a '{sign}' too many"
        return at, _before(line[: at[1] - 1]) or _beside(at, lines)
    if "<document start>" in said:
        first = next((n for n, above in enumerate(lines, 1) if above.strip() and above.lstrip()[0] != "#"), at[0])
        if first < at[0] and _indent(lines[first - 1]) > 0:
            missing = "a line such as 'indications:' is missing above; what stands below it begins two spaces in"
            return (first, _indent(lines[first - 1]) + 1), missing
    if "cannot start any token" in said:
        if sign == "\t":
            return at, "a tab; indent with spaces"
        return at, f"a text that begins with {shown(sign)} goes in quotes"
    if "found unexpected ':'" in said and since is not None:
        return since, _bare_colon(line[since[1] - 1 :]) or "a ':' without a space after it; put the text in quotes"
    if "expected node content" in said and sign == "-":
        return at, "no dashes inside braces and brackets; a list in one line is written [one, another]"
    if "block sequence entries" in said:
        return at, "a list begins on a line of its own, or is written [one, another]"
    if "comment or line break" in said and since is not None:
        return since, f"a text that begins with {shown(lines[since[0] - 1][since[1] - 1])} goes in quotes"
    return at, next((plain for words, plain in _OTHERS if words in said), f"not YAML: {said}")


_OTHERS: Final = (
    ("maximum nesting depth", f"nested deeper than {DEEPEST} levels"),
    ("found a tab character", "a tab; indent with spaces"),
    ("expected '-' indicator", "a '- ' was expected here; check the indent"),
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


def _without_colon(at: tuple[int, int], lines: list[str]) -> Told:
    """A line that should be a key and its value, and has no ': '."""
    line = lines[at[0] - 1] if at[0] <= len(lines) else ""
    rest = line[at[1] - 1 :].rstrip()
    told = _slip(rest) or _bare_colon(rest)
    if told:
        return at, told
    found = _NO_COLON.fullmatch(rest)
    if found:
        return at, f"a ':' is missing: write {_so(found['key'], found['value'] or '')}"
    return at, "a ':' is missing after what stands here, or its indent is wrong"


def _slip(rest: str) -> str:
    """What is wrong with a line of the file, its indent and dashes taken off; empty when nothing can be told."""
    found = _EQUALS.match(rest)
    if found:
        return f"a ':' and a space, and no '=': write {_so(found['key'], found['value'])}"
    return no_space(rest) or _dash(rest)


def _bare_colon(rest: str) -> str:
    """What to say of a name in braces whose ':' has nothing behind it, not even a space; empty when it has."""
    found = re.match(r"[^\s,:{}\[\]]+:(?=[,}\]])", rest)
    return f"after a ':' comes a space, also where nothing follows: write {shown(found[0] + ' ')}" if found else ""


def _unclosed(said: str, at: tuple[int, int], since: tuple[int, int] | None, lines: list[str]) -> Told:
    """A brace or a bracket that is not closed, mostly because of what was left out as a remark."""
    opened = since or at
    for n in range(opened[0], min(at[0], len(lines)) + 1):
        found = _HASH.search(lines[n - 1], opened[1] - 1 if n == opened[0] else 0)
        if found and lines[n - 1].count('"', 0, found.end()) % 2 == 0:
            column = found.end() - 1
            word = re.split(r"[,:}\]]", lines[n - 1][column - 1 :])[0]
            return (n, column), f"what stands after '#' is a remark and is left out; put {_quoted(word)} in quotes"
    if opened[0] == at[0]:
        sign = "}" if "'}'" in said else "]"
        before = lines[at[0] - 1][: at[1] - 1]
        return at, _before(before) or f"a '{sign}' or a ',' is missing"
    sign = lines[opened[0] - 1][opened[1] - 1 : opened[1]]
    return opened, f"the '{sign}' that opens here is not closed, or a ',' is missing"


def _two_colons(at: tuple[int, int], line: str, lines: list[str]) -> Told:
    """A ': ' where none can stand: in a text, or because the line above is no key with its value."""
    before = line[: at[1] - 1]
    found = _PAIR.match(line.rstrip()) if _PAIR.match(before) else None
    if found:
        return at, f"a text that holds ': ' goes in quotes: write {found['key'].strip()}: {_quoted(found['value'])}"
    for n in range(at[0] - 1, 0, -1):
        above = lines[n - 1]
        bare = above.strip()
        if not bare or bare.startswith("#"):
            continue
        rest = re.sub(r"^(?:- +)+", "", bare)
        told = _slip(rest)
        if told:
            return (n, above.index(rest) + 1), told
        if _PAIR.match(above) and _indent(line) > _indent(above):
            return at, _further(n)
        if ":" not in bare and _NO_COLON.fullmatch(rest):
            return _without_colon((n, above.index(rest) + 1), lines)
        break
    return at, "a ':' that cannot stand here; check the indent and the line above, or put the text in quotes"


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _beside(at: tuple[int, int], lines: list[str]) -> str:
    """What is wrong with a line that is level with none above it, as its indent tells."""
    above = next((n for n in range(at[0] - 1, 0, -1) if lines[n - 1].strip() and lines[n - 1].lstrip()[0] != "#"), 0)
    if above:
        here, there = at[1] - 1, _indent(lines[above - 1])
        whole = lines[above - 1].rstrip().endswith(("}", "]")) or _PAIR.match(lines[above - 1])
        if here > there and whole:
            return _further(above)
        if here < there:
            return f"this line stands further left than line {above} above, and level with none; check the indent"
    return "a key was expected here; check the indent and the quotes"


def _further(above: int) -> str:
    said = (
        f"this line stands further right than line {above} above, which is whole already; check the indent, or whether"
    )
    return f"{said} a line such as 'causes:' is missing between them"


def _before(before: str) -> str:
    """What is wrong where something follows that cannot: a text that goes on behind its closing quote, or begins with
    a sign; empty when it is neither."""
    bare = before.rstrip()
    begun = re.search(r"(?:^|[:,\[{-])[ \t]*([*&][^\s,:\]}]*)$", bare)
    if begun and before != bare:
        return f"a text that begins with '{begun[1][0]}' goes in quotes"
    if before != bare and bare[-1:] in ("'", '"', "]", "}"):
        return f"words after the closing {bare[-1]}; put all of the text in quotes"
    return ""
