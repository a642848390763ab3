"""Text in columns, as wide as a terminal shows it: some letters take two columns, and a mark above one takes none."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from typing import Final

GAP: Final = "  "
LEAST: Final = 24
"""Columns that the last field of a table needs beside the others; with fewer it goes below them."""
_WORD: Final = re.compile(r"[ \t\n]*([^ \t\n]+)")
"""White space but for a no-break space, which holds a number and its unit together."""


def cells(text: str) -> int:
    """How many columns a terminal needs for the text, which holds no control character."""
    return len(text) if text.isascii() else sum(map(_cells, text))


def _cells(c: str) -> int:
    if unicodedata.combining(c):
        return 0
    return 2 if unicodedata.east_asian_width(c) in "WF" else 1


def padded(text: str, width: int) -> str:
    """The text with spaces behind it up to that many columns."""
    return text + " " * (width - cells(text))


def cut_to_columns(text: str, width: int) -> str:
    """The text in at most that many columns, with `~` where something is left out."""
    if cells(text) <= width:
        return text
    kept, used = "", 1
    for c in text:
        used += _cells(c)
        if used > width:
            break
        kept += c
    return f"{kept}~"


def wrap(text: str, width: int, first: str = "", others: str = "") -> list[str]:
    """Lines of at most that many columns; `first` stands before the first, `others` before the rest. Only a word that
    is wider than a line is parted."""
    lines: list[str] = []
    line, bare = first, True
    for word in _WORD.findall(text):
        if not bare and cells(line) + 1 + cells(word) > width:
            lines.append(line)
            line, bare = others, True
        while bare and cells(line) + cells(word) > width and len(word) > 1:
            room = max(width - cells(line), 2)
            part = cut_to_columns(word, room)[:-1] or word[0]
            lines.append(line + part)
            line, word = others, word[len(part) :]
        line, bare = (line + word, False) if bare else (f"{line} {word}", False)
    return lines if bare and lines else [*lines, line]


def table(rows: Sequence[Sequence[str]], width: int, indent: int = 0) -> Iterator[str]:
    """The rows in columns. The last field of a row is wrapped within its column, or goes below the others where too
    little room is left."""
    if not rows:
        return
    widths = [max(cells(row[n]) for row in rows) for n in range(len(rows[0]) - 1)]
    lead = indent + sum(widths) + len(GAP) * len(widths)
    for row in rows:
        start = " " * indent + "".join(padded(text, wide) + GAP for text, wide in zip(row, widths, strict=False))
        if width - lead >= LEAST or cells(start + row[-1]) <= width:
            yield from (line.rstrip() for line in wrap(row[-1], width, start, " " * lead))
        else:
            yield from (
                [start.rstrip()] if cells(start.rstrip()) <= width else wrap(start, width, " " * indent, " " * indent)
            )
            yield from wrap(row[-1], width, " " * (indent + 4), " " * (indent + 4))
