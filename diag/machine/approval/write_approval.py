"""Writes another approval into a machine.yaml in place and keeps every other byte of it, or says why that is not safe.

The words of the file are looked at where the parser says that they stand, one span is replaced or one line put in, and
what comes of it is read again: it must say the same but for the approval. Where that is not plain to do, the file is
left alone, and whoever asked gets the line to paste.
"""

from __future__ import annotations

import contextlib
import os
import re
import stat
import tempfile
from pathlib import Path
from typing import Any, Final

import yaml

from diag.machine.approval.approval import APPROVED, Approval
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.sections import HEAD
from diag.machine.language.spellings import spellings_of
from diag.machine.problem import Problem
from diag.machine.reader.compose import PARSER, compose
from diag.machine.reader.file_text import decode, plain_ends, read_text, shown_path
from diag.machine.span import Plain

KEY: Final = names(HeadSource).approval
SPELLED: Final = spellings_of(KEY)
"""As files may have it."""
AFTER: Final = tuple(reversed(HEAD[: HEAD.index(KEY)]))
"""Header fields, below the first of which that is there a new line goes."""
_BARE: Final = re.compile(r"[A-Za-z](?:[A-Za-z0-9 ./()-]*[A-Za-z0-9.)])?")
"""What needs no quotes inside braces."""
_QUOTED: Final = re.compile(r"""'[^']*'|"(?:[^"\\]|\\.)*\"""")
_ENDS: Final = re.compile(r"\r\n|\r|\n")


class NotSafe(ValueError):
    """The approval cannot be written into the file without a person looking at it. The message says why."""


def line_of(approval: Approval) -> str:
    """The line that says it in a machine.yaml."""
    if approval.word != APPROVED:
        return f"{KEY}: {approval.word}"
    by = approval.by if _BARE.fullmatch(approval.by) else "'" + approval.by.replace("'", "''") + "'"
    return f"{KEY}: {{{APPROVED}: {{by: {by}, on: {approval.on}, digest: {approval.digest}}}}}"


def write_approval(file: Path, approval: Approval) -> None:
    """Writes it into the file, at once or not at all. Raises NotSafe, and then nothing was touched, and OSError."""
    found = file.lstat()
    if stat.S_ISLNK(found.st_mode):
        raise NotSafe("it is a link to another file, which other machines may use")
    said = read_text(file)
    if isinstance(said, Problem):
        raise NotSafe(said.text)
    if found.st_nlink > 1:
        raise NotSafe("it has other names (hard links), and other machines may use them")
    if not found.st_mode & 0o222 or not os.access(file, os.W_OK):
        raise NotSafe("it is write-protected")
    before = file.read_bytes()
    after = rewritten(before.decode("utf-8"), line_of(approval)).encode("utf-8")
    if after != before:
        _put(file, before, after, found)


def rewritten(text: str, line: str) -> str:
    """The text of a machine.yaml with this line for its approval. Raises NotSafe where that is not plain to do."""
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    body = text.removeprefix(mark)
    before = _said(text)
    spans = _spans(plain_ends(body))
    starts = [0, *(end.end() for end in _ENDS.finditer(body))]

    def at(place: tuple[int, int]) -> int:
        return starts[place[0]] + place[1]

    key = next((name for name in SPELLED if name in spans), "")
    if key:
        key_start, key_end, value, end = spans[key]
        old = body[at(key_end) : at(end)]
        if "#" in _QUOTED.sub("", old):
            raise NotSafe("its approval has a remark inside")
        new = line.removeprefix(f"{KEY}: ")
        beside = value[0] == key_end[0] and value > key_end
        begin = body[: at(value)] if beside else f"{body[: at(key_end)]} "
        if key != KEY:
            begin = f"{begin[: at(key_start)]}{begin[at(key_start) :].replace(key, KEY, 1)}"
        made = f"{begin}{new}{body[at(end) :]}"
    else:
        above = next((spans[name] for name in AFTER if name in spans), None)
        if above is None:
            raise NotSafe("it has no header field below which the approval could be written")
        ends = _ENDS.search(body, at(above[3]))
        style = _ENDS.search(body)
        newline = style[0] if style is not None else "\n"
        cut = len(body) if ends is None else ends.end()
        made = f"{body[:cut]}{'' if ends else newline}{line}{newline if ends else ''}{body[cut:]}"
    result = mark + made
    wanted, _ = compose(line, "")
    assert wanted is not None
    kept = {name: value for name, value in before.items() if name != key}
    if _said(result) != ({**kept, **_map(wanted.plain())}):
        raise NotSafe("it would say something else as well")
    return result


def _map(plain: Plain) -> dict[str, Plain]:
    if not isinstance(plain, dict):
        raise NotSafe("it is no map of fields")
    return plain


def _said(text: str) -> dict[str, Plain]:
    """The words of the file, which must be without a problem."""
    plain = decode(text.encode("utf-8"), "")
    if isinstance(plain, Problem):
        raise NotSafe(plain.text)
    node, problems = compose(plain, "")
    wrong = [problem.text for problem in problems if problem.level == "error"]
    if node is None or wrong:
        raise NotSafe(wrong[0] if wrong else "the file is empty")
    return _map(node.plain())


_Place = tuple[int, int]


def _spans(text: str) -> dict[str, tuple[_Place, _Place, _Place, _Place]]:
    """For each field at the left edge of the file: the start of its name, the end of its colon, the start of its
    value, and the end of the last word or bracket in it, as lines and columns from 0. Raises NotSafe for a file in
    braces, and for anchors in the approval."""
    root = yaml.compose(text, Loader=PARSER)
    if not isinstance(root, yaml.MappingNode) or root.flow_style:
        raise NotSafe("it is written in braces from its first line on")
    lines = text.split("\n")
    found = {}
    for key, value in root.value:
        row, column = key.end_mark.line, key.end_mark.column
        colon = re.match(r"[ \t]*:", lines[row][column:])
        if colon is None or key.start_mark.column:
            continue
        end = _end(value)
        start = (value.start_mark.line, value.start_mark.column)
        begin = (key.start_mark.line, key.start_mark.column)
        # What an alias stands for was written above.
        if key.value in SPELLED and (start < (row, column) or _anchored(text, begin, end)):
            raise NotSafe("its approval has an anchor, or is an alias")
        found[key.value] = (begin, (row, column + colon.end()), start, end)
    return found


def _end(node: Any) -> _Place:
    """Where the last word in it ends: a map in lines seems to end where the next field starts."""
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end(last[1] if isinstance(last, tuple) else last)
    if isinstance(node, yaml.ScalarNode) and node.value == "" and node.style is None:
        return node.start_mark.line, node.start_mark.column
    return node.end_mark.line, node.end_mark.column


def _anchored(text: str, start: _Place, end: _Place) -> bool:
    """Whether anything from here to there has an anchor, or is an alias: the parser's events tell both."""
    events: Any = yaml.parse(text, Loader=PARSER)
    marks = (event.start_mark for event in events if getattr(event, "anchor", None) is not None)
    return any(start <= (mark.line, mark.column) <= end for mark in marks)


def _put(file: Path, before: bytes, after: bytes, found: os.stat_result) -> None:
    """The file replaced in one step, with the mode and the owner that it had; as it was, when anything goes wrong."""
    handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=file.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(after)
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(stat.S_IMODE(found.st_mode))
        if hasattr(os, "chown"):
            with contextlib.suppress(OSError):
                os.chown(part, found.st_uid, found.st_gid)
        if file.read_bytes() != before:
            raise NotSafe(f"somebody else wrote to {shown_path(file)} just now")
        part.replace(file)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
