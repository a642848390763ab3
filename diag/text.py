"""Text for people: without what steers a terminal, on one line, cut to a width, and shares as percents and as bars.

Text comes from persons and files and may hold anything, so everything that is stored or shown passes through `clean` or
`one_line`. A character that may not stand becomes a space, never a question mark: in a display's code `?` means a
character that could not be read, so it would say something that nobody said. Words that such a character parted stay
parted, and every other character keeps its column.
"""

from __future__ import annotations

import re
import unicodedata

NBSP = "\u00a0"
"""The space between a number and its sign, where a line must not break."""

_LINES = ("Zl", "Zp")
"""Line and paragraph separators, which are no control characters and break a line all the same."""
_SPACES = re.compile(rf"(?:(?!(?<=\d){NBSP}%)\s)+")
"""White space, but for the one that keeps a percent sign at its number."""

FULL, PARTS = "█", " ▏▎▍▌▋▊▉"
"""A column of a bar, and its eighths."""


def clean(text: str) -> str:
    """The text with a space for each control, format, surrogate, private or unassigned character, and for each
    separator of lines but the line feed, which stays."""
    return text if text.isascii() and text.isprintable() else "".join(map(_safe, text))


def one_line(text: str) -> str:
    """The text cleaned, on one line, with single spaces and none at its ends."""
    return _SPACES.sub(" ", clean(text)).strip(" ")


def cut(text: str, width: int) -> str:
    """The text in at most `width` characters, with an ellipsis at the end where something was left out."""
    if len(text) <= width:
        return text
    return text[: max(width - 1, 0)].rstrip() + "…" if width > 0 else ""


def percent(share: float) -> str:
    """A share of 1 in whole percents, at most five characters that no line break parts. It never says `0 %` of what is
    possible (`<1 %`), nor `100 %` of what is not certain (`>99 %`)."""
    whole = round(share * 100)
    if whole == 0 and share > 0:
        return f"<1{NBSP}%"
    return f">99{NBSP}%" if whole == 100 and share < 1 else f"{whole}{NBSP}%"


def bar(share: float, width: int) -> str:
    """A share of 1 as a bar that many columns wide, by eighths of a column; never empty above 0."""
    eighths = max(round(min(max(share, 0.0), 1.0) * width * 8), int(share > 0))
    whole, part = divmod(eighths, 8)
    return (FULL * whole + PARTS[part].strip()).ljust(width)


def plain_ascii(text: str) -> str:
    """The text in ASCII, for an output that takes no more: a bar by whole columns, and `?` for what ASCII lacks."""
    bars = re.sub(f"[{PARTS.strip()}{FULL}]+", _ascii_bar, text.replace(NBSP, " "))
    return bars.encode("ascii", "replace").decode("ascii")


def _safe(c: str) -> str:
    category = unicodedata.category(c)
    return c if c == "\n" or (category[0] != "C" and category not in _LINES) else " "


def _ascii_bar(found: re.Match[str]) -> str:
    """Full columns stay; a part of one counts from its half, and alone it counts as one."""
    drawn = found[0]
    part = PARTS.index(drawn[-1]) if drawn[-1] in PARTS else 0
    full = drawn.count(FULL)
    return "#" * max(full + (part >= 4), 1) + " " * (len(drawn) - max(full + (part >= 4), 1))
