"""Text for a terminal: free of control characters, and in plain ASCII where the output takes no more."""

from __future__ import annotations

import sys
import textwrap
import unicodedata

import click


def one_line(text: str) -> str:
    """All on one line, without control or format characters."""
    return " ".join(clean(text).split())


def clean(text: str) -> str:
    """Without what would steer a terminal: every control, format, surrogate or private character but the newline.

    Text comes from files and persons, and may hold anything."""
    return "".join(c if c == "\n" or unicodedata.category(c)[0] != "C" else " " for c in text)


def say(text: str = "") -> None:
    """A line, or several, on standard output."""
    text = clean(text)
    if not takes_unicode():
        text = text.encode("ascii", "replace").decode("ascii")
    click.echo(text)


def takes_unicode() -> bool:
    """Whether standard output is in a Unicode encoding."""
    return (getattr(sys.stdout, "encoding", None) or "ascii").lower().replace("-", "").startswith("utf")


def bar(share: float, width: int) -> str:
    """A share of 1 as a bar of that many characters, by eighths; in ASCII by wholes. Never empty above 0."""
    if not takes_unicode():
        return ("#" * max(round(share * width), int(share > 0))).ljust(width)
    eighths = max(round(share * width * 8), int(share > 0))
    whole, part = divmod(eighths, 8)
    return ("█" * whole + " ▏▎▍▌▋▊▉"[part].strip()).ljust(width)


def percent(share: float) -> str:
    """Whole percents in four characters; `<1%` below one half and not 0, `>99%` above 99.5 and not 1."""
    whole = round(share * 100)
    if whole == 0 and share > 0:
        return " <1%"
    if whole == 100 and share < 1:
        return ">99%"
    return f"{whole:3d}%"


def wrapped(text: str, indent: int = 0, hang: int | None = None) -> list[str]:
    """Lines of at most 80 columns; `indent` stands before the first, `hang` before the others."""
    first, others = " " * indent, " " * (indent if hang is None else hang)
    return textwrap.wrap(one_line(text), 80, initial_indent=first, subsequent_indent=others, break_on_hyphens=False)
