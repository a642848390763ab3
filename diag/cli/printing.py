"""Text for a terminal: free of control characters, and in plain ASCII where the output takes no more."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterable, Mapping
from typing import Any

import click

from diag.cli import json_output
from diag.cli.columns import wrap
from diag.text import clean, one_line, plain_ascii

NARROWEST = 20
"""The fewest columns that text is wrapped to, however narrow a terminal claims to be."""


class Heading(str):
    """A line that stands out where the terminal shows it so."""


class Alarm(Heading):
    """A line that stands out before all others, in red where there is colour."""


def heading(text: str) -> Heading:
    """The text as a line that stands out."""
    return Heading(one_line(text))


def say(text: str = "") -> None:
    """A line, or several, on standard output."""
    loud, colour = isinstance(text, Heading), "red" if isinstance(text, Alarm) else None
    text = clean(text)
    if not takes_unicode():
        text = plain_ascii(text)
    click.echo(click.style(text, bold=True, fg=colour) if loud and text else text)


def say_lines(lines: Iterable[str]) -> None:
    """Lines, one below the other."""
    for line in lines:
        say(line)


def answer(found: Mapping[str, Any], lines: Iterable[str], as_json: bool) -> None:
    """What a command found: as one JSON object for a program, or as lines for a person."""
    if as_json:
        json_output.say_object(found)
    else:
        say_lines(lines)


def width() -> int:
    """Columns of the terminal; where there is none, those that COLUMNS asks for, else 80."""
    asked = os.environ.get("COLUMNS", "")
    if asked.isdecimal() and int(asked) > 0:
        return max(int(asked), NARROWEST)
    if sys.stdout is not None and sys.stdout.isatty():
        return max(shutil.get_terminal_size().columns, NARROWEST)
    return 80


def takes_unicode() -> bool:
    """Whether standard output is in a Unicode encoding."""
    return (getattr(sys.stdout, "encoding", None) or "ascii").lower().replace("-", "").startswith("utf")


def counted(number: int, one: str, more: str = "") -> str:
    """`1 tree`, `2 trees`. `more`: the word for several, where it is not the word for one with an s."""
    return f"{number:,} {one if number == 1 else more or one + 's'}"


def wrapped(text: str, indent: int = 0, hang: int | None = None) -> list[str]:
    """Lines as wide as the terminal; `indent` stands before the first, `hang` before the others. None for no text."""
    text = one_line(text)
    return wrap(text, width(), " " * indent, " " * (indent if hang is None else hang)) if text else []
