"""A file's bytes turned into text, or one line that says why not. Nothing here knows YAML."""

from __future__ import annotations

import codecs
import os
import stat
from pathlib import Path
from typing import Final

from diag.machine.problem import UNSAFE, Broken, Problem

MOST_BYTES: Final = 2_000_000
"""A file larger than this is refused before it is read: 40 times the largest machine file that makes sense."""

MARK: Final = "CHANGE FIRST"
"""Stands in the skeleton of a machine beside what is only an example."""
MOST_MARKS: Final = 6
"""The most lines with a mark that a message names."""
_OTHER_MARKS: Final = (
    (codecs.BOM_UTF32_LE, "UTF-32"),
    (codecs.BOM_UTF32_BE, "UTF-32"),
    (codecs.BOM_UTF16_LE, "UTF-16"),
    (codecs.BOM_UTF16_BE, "UTF-16"),
)


def shown_path(path: Path) -> str:
    """The path as a problem names it: relative to the current folder when below it, else as given."""
    try:
        return path.absolute().relative_to(Path.cwd()).as_posix()
    except (ValueError, OSError):
        return path.as_posix()


def read_text(path: Path) -> str | Problem:
    """The text of a file with its line ends made plain, or the one problem that it cannot be read for."""
    file = shown_path(path)
    try:
        raw = _bytes(path)
    except OSError as error:
        return Problem(file, 1, 1, "error", f"cannot be read: {reason(error)}", Broken.FILE)
    if isinstance(raw, str):
        return Problem(file, 1, 1, "error", raw, Broken.FILE)
    return decode(raw, file)


def _bytes(path: Path) -> bytes | str:
    """The bytes, or why they are refused. Looks at what the path is before opening it: a pipe would wait for ever."""
    found = path.stat()
    if stat.S_ISDIR(found.st_mode):
        return "a folder, where a file was expected"
    if not stat.S_ISREG(found.st_mode):
        return "not an ordinary file"
    if found.st_size > MOST_BYTES:
        return f"{found.st_size / 1e6:.1f} MB; a machine file may have {MOST_BYTES / 1e6:g} MB at most"
    with path.open("rb") as stream:
        raw = stream.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        return f"more than the {MOST_BYTES / 1e6:g} MB that a machine file may have"
    return raw


def reason(error: OSError) -> str:
    """Why the system refused something, in its own words."""
    return os.strerror(error.errno).lower() if error.errno else "the system refused it"


def decode(raw: bytes, file: str) -> str | Problem:
    """UTF-8 bytes as text, with or without a byte order mark, with line feeds alone for line ends."""

    def wrong(before: str, text: str) -> Problem:
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
        return Problem(file, line, column, "error", text, Broken.ENCODING)

    for mark, name in _OTHER_MARKS:
        if raw.startswith(mark):
            return wrong("", f"written as {name}; save it as UTF-8")
    raw = raw.removeprefix(codecs.BOM_UTF8)
    nul = raw.find(b"\0")
    if nul >= 0:
        return wrong(plain_ends(raw[:nul].decode("utf-8", "replace")), "a NUL byte; this is not a UTF-8 text file")
    try:
        text = plain_ends(raw.decode("utf-8"))
    except UnicodeDecodeError as error:
        before = plain_ends(raw[: error.start].decode("utf-8"))
        return wrong(before, f"byte {raw[error.start]:02X} is not UTF-8; save the file as UTF-8")
    bad = UNSAFE.search(text)
    return wrong(text[: bad.start()], f"control character U+{ord(bad[0]):04X}; take it out") if bad else text


def plain_ends(text: str) -> str:
    """Line feeds for all three kinds of line end."""
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def unfinished(text: str, file: str) -> list[Problem]:
    """One problem at the first mark of the skeleton, which names the lines of the others too; none where none is
    left."""
    lines = text.split("\n")
    first, *others = [number for number, line in enumerate(lines, 1) if MARK in line] or [0]
    if not first:
        return []
    said = f"{MARK}: this is only an example; write what is true of your machine, then take out the mark"
    if others:
        more = f" and {len(others) + 1 - MOST_MARKS} more" if len(others) >= MOST_MARKS else ""
        where = ", ".join(map(str, [first, *others][:MOST_MARKS]))
        said = f"{MARK} is still in lines {where}{more}; write what is true of your machine, then take out the marks"
    return [Problem(file, first, lines[first - 1].index(MARK) + 1, "error", said, Broken.UNFINISHED)]
