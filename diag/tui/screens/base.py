"""What all screens share: named styles, a table of keys, help as data, widths at which the layout changes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, TypeVar

from textual import events
from textual.screen import ModalScreen, Screen

from diag.tui.key_table import Key
from diag.tui.screen_help import Help
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
"""The width and height from which a screen has each of these classes."""

Result = TypeVar("Result")


class KeyedScreen(Screen[Result]):
    """Has a table of keys, and help that lists them. Where it has a key for that, it is left with nothing."""

    COMPONENT_CLASSES: ClassVar[set[str]] = STYLES
    HELP_DATA: ClassVar[Help]
    TABLE: ClassVar[tuple[Key, ...]] = ()

    def keys(self) -> Iterable[Key]:
        """The keys that do something now, for the footer."""
        return self.TABLE

    def action_help(self) -> None:
        from diag.tui.screens.help import HelpScreen

        self.app.push_screen(HelpScreen(self.HELP_DATA, self.TABLE))

    def action_back(self) -> None:
        self.dismiss(None)


class BaseScreen(KeyedScreen[None]):
    """A full screen. Each one sets its own focus."""

    AUTO_FOCUS = ""
    HORIZONTAL_BREAKPOINTS = BY_WIDTH
    VERTICAL_BREAKPOINTS = BY_HEIGHT

    _leaving = False
    """The person was told that something is still locked or live."""

    def left_behind(self) -> str:
        """What is still locked or live when the program is closed here, as a sentence; empty when nothing is."""
        return ""

    def chosen_by_digit(self) -> None:
        """A box over this screen was closed by a digit, and one digit too many may follow."""

    def action_leave(self) -> None:
        """Closes the program. Where something is still locked or live, that is said first, and the key
        leaves only while it stands in the line of status."""
        words = self.left_behind()
        warning = f"q again leaves. {words}"
        unhurried = self.unhurried()
        if not words or (self._leaving and unhurried and self.query_one(Status).warns(warning)):
            self.app.exit()
            return
        self._leaving = True
        self.warn(warning)

    def warn(self, words: str) -> None:
        """Says it in the line of status."""
        self.query_one(Status).warn(words)

    def unhurried(self) -> bool:
        """Notes a press that confirms. True where it comes late enough after the one before."""
        return True

    async def on_key(self, event: events.Key) -> None:
        if event.key != "q":
            self._leaving = False


class Box(ModalScreen[Result], KeyedScreen[Result]):
    """A box over a screen. Escape leaves it with nothing."""

    COMPONENT_CLASSES: ClassVar[set[str]] = STYLES  # Textual reads those of the first base alone
