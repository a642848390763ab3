"""Every key as a row of a table: a named action, its keys, how it stands in the footer, what the help says of it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from textual.binding import BindingType


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
    """It works even where the widget with the focus would take the key."""


def bindings(room: str, table: Iterable[Key]) -> list[BindingType]:
    """The table as Textual's bindings, each with an id such as `case.undo`, by which a keymap can change its keys."""
    from textual.binding import Binding

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
HELP_F1 = replace(HELP, shown="F1")
"""For screens on which a question mark may be typed."""
LEAVE = Key("leave", "q", "q", "leave", "Close the program. Nothing is lost: each entry is stored as it is made.")
QUIT = Key("app.quit", "ctrl+q", "ctrl+q", "leave", "Close the program from anywhere. Nothing is lost.", priority=True)
SUSPEND = Key(
    "app.suspend_process", "ctrl+z", "ctrl+z", "aside", "Put the program aside; fg in the shell goes on.", priority=True
)
THEME = Key(
    "app.other_theme", "ctrl+t", "ctrl+t", "colours", "Light colours for a bright hall, or dark ones.", priority=True
)
PAGES = Key(
    "app.pages", "f2", "F2", "pages", "The written pages: questions and answers, data, the machine file.", priority=True
)
APP = (PAGES, THEME, SUSPEND)
"""Keys that work on every screen. All are in the help, and few of them in a footer."""
