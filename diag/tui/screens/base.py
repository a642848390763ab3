"""What all screens share: named styles, a table of keys, help as data, widths at which the layout changes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, TypeVar

from textual import events
from textual.screen import ModalScreen, Screen

from diag.tui.helps import Help
from diag.tui.keys import Key
from diag.tui.widgets.status import Status

STYLES = {
    "quiet", "strong", "loud", "key", "rule", "value", "warn", "chosen", "link", "bar", "for", "against", "said",
    "access-outside", "access-inside", "done", "due",
    "lamp-red", "lamp-amber", "lamp-yellow", "lamp-green", "lamp-blue", "lamp-white",
    "glow", "ghost",
}  # fmt: skip
"""Names that written text may use; their looks stand in `diag.tcss`."""

BY_WIDTH = [(0, "-narrow"), (120, "-wide")]
BY_HEIGHT = [(0, "-low"), (34, "-tall")]
"""Columns and rows from which a screen has these classes."""

Result = TypeVar("Result")


class Room(Screen[None]):
    """A full screen. Each puts the focus where it belongs by itself."""

    AUTO_FOCUS = ""

    COMPONENT_CLASSES: ClassVar[set[str]] = STYLES
    HORIZONTAL_BREAKPOINTS = BY_WIDTH
    VERTICAL_BREAKPOINTS = BY_HEIGHT
    HELP_DATA: ClassVar[Help]
    TABLE: ClassVar[tuple[Key, ...]] = ()

    _leaving = False
    """That something still stands at the machine was said."""

    def keys(self) -> Iterable[Key]:
        """The keys that do something now, for the footer."""
        return self.TABLE

    def action_help(self) -> None:
        from diag.tui.screens.help import HelpScreen

        self.app.push_screen(HelpScreen(self.HELP_DATA, self.TABLE))

    def left_behind(self) -> str:
        """What still stands at the machine when the program is closed here, as a sentence; empty when nothing does."""
        return ""

    def chosen_by_digit(self) -> None:
        """A box over this screen was ended by a digit; one digit too many may follow."""

    def action_leave(self) -> None:
        """Close the program; said twice where something still stands at the machine."""
        words = self.left_behind()
        if words and not self._leaving:
            self._leaving = True
            self.query_one(Status).warn(f"q again leaves. {words}")
        else:
            self.app.exit()

    async def on_key(self, event: events.Key) -> None:
        if event.key != "q":
            self._leaving = False


class Box(ModalScreen[Result]):
    """A box over a screen. Escape leaves it with nothing."""

    COMPONENT_CLASSES: ClassVar[set[str]] = STYLES
    HELP_DATA: ClassVar[Help]
    TABLE: ClassVar[tuple[Key, ...]] = ()

    def keys(self) -> Iterable[Key]:
        return self.TABLE

    def action_help(self) -> None:
        from diag.tui.screens.help import HelpScreen

        self.app.push_screen(HelpScreen(self.HELP_DATA, self.TABLE))

    def action_back(self) -> None:
        self.dismiss(None)
