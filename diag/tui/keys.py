"""Every key as a row of a table: a named action, its keys, how it stands in the footer, what the help says of it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from textual.binding import Binding, BindingType


@dataclass(frozen=True, slots=True)
class Key:
    """One thing that a key does on a screen."""

    action: str
    """The screen's action, with its arguments where it has some."""
    keys: str
    """As Textual names them, several with commas."""
    shown: str
    """As printed in the footer."""
    label: str
    """In the footer, a word or two."""
    help: str
    """In the help, a sentence."""
    priority: bool = False
    """Goes before the widget that has the focus."""


def bindings(room: str, table: Iterable[Key]) -> list[BindingType]:
    """The table as Textual's bindings, each with an id such as `case.undo`, by which a keymap can change its keys."""
    return [
        Binding(
            key.keys,
            key.action,
            key.label,
            key_display=key.shown,
            tooltip=key.help,
            id=f"{room}.{_slug(key.action)}",
            priority=key.priority,
        )
        for key in table
        if key.keys
    ]


def _slug(action: str) -> str:
    """`found('moved')` is `found-moved`."""
    return re.sub(r"\W+", "-", action.removeprefix("app.")).strip("-")


HELP = Key("help", "f1,question_mark", "?", "help", "This help; Escape closes it.")
HELP_F1 = Key("help", "f1,question_mark", "F1", "help", "This help; Escape closes it.")
"""For screens where a question mark may be typed."""
LEAVE = Key("leave", "q", "q", "leave", "Close the program. Nothing is lost: each entry is stored as it is made.")
QUIT = Key("app.quit", "ctrl+q", "ctrl+q", "leave", "Close the program from anywhere. Nothing is lost.", priority=True)
