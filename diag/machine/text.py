"""A file's bytes turned into text, or one line that says why not. Nothing here knows YAML."""

from __future__ import annotations

import codecs
import os
import stat
from pathlib import Path
from typing import Final

from diag.machine.problem import UNSAFE, Problem

MOST_BYTES: Final = 2_000_000
"""A file larger than this is refused before it is read: 40 times the largest machine file that makes sense."""

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
        return Problem(file, 1, 1, "error", f"cannot be read: {_reason(error)}", "file")
    if isinstance(raw, str):
        return Problem(file, 1, 1, "error", raw, "file")
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


def _reason(error: OSError) -> str:
    return os.strerror(error.errno).lower() if error.errno else "the system refused it"


def decode(raw: bytes, file: str) -> str | Problem:
    """UTF-8 bytes as text, with or without a byte order mark, with line feeds alone for line ends."""
    for mark, name in _OTHER_MARKS:
        if raw.startswith(mark):
            return Problem(file, 1, 1, "error", f"written as {name}; save it as UTF-8", "encoding")
    raw = raw.removeprefix(codecs.BOM_UTF8)
    nul = raw.find(b"\0")
    if nul >= 0:
        line, column = _place(plain_ends(raw[:nul].decode("utf-8", "replace")))
        return Problem(file, line, column, "error", "a NUL byte; this is not a UTF-8 text file", "encoding")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = plain_ends(raw[: error.start].decode("utf-8"))
        line, column = _place(before)
        return Problem(
            file, line, column, "error", f"byte {raw[error.start]:02X} is not UTF-8; save the file as UTF-8", "encoding"
        )
    text = plain_ends(text)
    bad = UNSAFE.search(text)
    if bad:
        line, column = _place(text[: bad.start()])
        return Problem(file, line, column, "error", f"control character U+{ord(bad[0]):04X}; take it out", "encoding")
    return text


def plain_ends(text: str) -> str:
    """Line feeds for all three kinds of line end."""
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def _place(before: str) -> tuple[int, int]:
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1
