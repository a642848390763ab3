"""Slips of the pen that YAML takes without a word, or tells at another line: found in the text, reported in plain
words.

YAML leaves out what follows ' #', folds a line without its ': ' or its '- ' into the one above, and parts what stands
in braces at every comma. The people who write the files know none of that. Lines and columns count from 1 here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from diag.machine.language.shapes import entries, numbers, several
from diag.machine.language.written_pairs import no_space, quoted, so
from diag.machine.problem import Broken, Problem, shown

HASH: Final = re.compile(r"(?:^|[ \t{\[,])#[^\s#]", re.MULTILINE)
"""What YAML may leave out as a remark without its being meant as one."""
_AFTER_TEXT: Final = re.compile(r"[ \t]*(?:,[ \t]*)?[ \t](#[^\s#].*)")
_AFTER_KEY: Final = re.compile(r"[ \t]*:?[ \t]+(#[^\s#].*)")
_CODE: Final = re.compile(r"[ \t]*(#(?![a-z!])[^\s#:]*):(?:[ \t]|$)")
"""A line that looks like a code with its meaning, and is a remark. What begins with a small letter is a field that was
taken out for a while."""
EQUALS: Final = re.compile(r"(?P<key>[A-Za-z][A-Za-z0-9_-]*)[ \t]*=[ \t]*(?P<value>[^\s=][^\n]*)")
NO_COLON: Final = re.compile(r"(?P<key>[a-z][a-z0-9-]*)(?:[ \t]+(?P<value>[^\s#][^\n]*))?")
_DASH: Final = re.compile(r"-(?P<value>[^\W\d][^\n]*|[\"'{\[][^\n]*)")
_AMOUNT: Final = re.compile(r"[0-9]+(?:[ \t].*|%|)")


@dataclass(frozen=True, slots=True)
class Slip:
    """What is wrong at a place of a file's text, and the lines as they were meant, where that is certain."""

    line: int
    column: int
    text: str
    mend: Mapping[int, str] = field(default_factory=dict)
    """By their number; empty where it could mean something else."""
    rule: str = Broken.YAML

    def problem(self, file: str) -> Problem:
        """The slip as a problem of this file."""
        return Problem(file, self.line, self.column, "error", self.text, self.rule)


def may_be_lost(text: str) -> bool:
    """Whether anything in a file looks like text that YAML leaves out as a remark; mostly not."""
    return HASH.search(text) is not None


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
            said = f"a line that begins with '#' is a remark and is left out; write {quoted(found[1])} in quotes"
            yield n, found.start(1) + 1, f"{said}, or '# ' before what is a remark"


def _lost(whole: str, left_out: str) -> str:
    whole, left_out = (re.split(r"[ \t]#[ \t]", text)[0] for text in (whole, left_out))
    said = "what stands after ' #' is a remark and is left out; write"
    return f"{said} {quoted(whole)} in quotes, or {shown('# ' + left_out[1:])} if it is a remark"


def dash(line: str) -> str:
    """What to say of a line such as `-Hot water`, or that begins a list where none can; empty for anything else."""
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
        said = (dash(bare) or no_space(bare)) if own or down else ""
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
        return _decimal(said, word, may_be_text=_may_be_text(said, word))
    opened = said.rfind("{")
    if opened >= 0 and not set(said[opened:]) & set(":\"'"):
        names = ", ".join([*(part.strip() for part in said[opened + 1 :].split(",")), word])
        return f"a list of names goes in brackets, not in braces: write {shown(f'[{names}]')}"
    key, _, first = re.split(r"[{,]", said)[-1].partition(": ")
    if key.strip() in several() and re.fullmatch(r"[\w-]+, ?[\w-]+", f"{first.strip()}, {word}"):
        return f"several names go in brackets: write {so(key.strip(), f'[{first.strip()}, {word}]')}"
    whole = f"{re.split(r'[{,]|: ', said)[-1].strip()}, {word}"
    return f"in braces a comma separates fields, and {shown(word)} has no ':'; put the text in quotes: {quoted(whole)}"


def decimal(text: str, start: int, end: int, before: str) -> str:
    """What to say of an entry in brackets that looks like the second half of `0,2 bar`; empty for anything else.

    `before`: the entry before it."""
    word = text[start:end]
    if text[start - 1 : start] != "," or not before[-1:].isdigit() or not _AMOUNT.fullmatch(word) or word.isdigit():
        return ""
    return _decimal(before, word, may_be_text=True)


def _may_be_text(said: str, word: str) -> bool:
    """Whether a text or a reading may stand where `said`, the text before its comma, ends: not for a number, a chance,
    or the limits of a band."""
    key, _, begun = re.split(r"[{,]", said)[-1].partition(": ")
    name = key.strip()
    if any(name in kind for kind in entries()):
        return name not in numbers()
    return not word.isdigit() and begun.strip().isdigit()


def _decimal(before: str, word: str, may_be_text: bool) -> str:
    whole = re.findall(r"[0-9]+$", before)[0]
    first, last = f"{whole}.{word}", f"{whole},{word}"
    text = f"inside {{ }} and [ ] a comma separates fields: write {shown(first)}"
    return f"{text}, or {quoted(last)} in quotes" if may_be_text else text
