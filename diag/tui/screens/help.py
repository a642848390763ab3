"""The help of a screen, drawn from its data."""

from __future__ import annotations

from collections.abc import Iterable

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen

from diag.tui.helps import Help
from diag.tui.keys import Key, bindings
from diag.tui.screens.base import STYLES
from diag.tui.widgets.hanging import Hanging
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.written import text

CLOSE = Key("close", "escape,enter,q,f1,question_mark", "esc", "close", "Close the help.")
SCROLL = Key("scroll(1)", "down,pagedown,space", "↓", "more", "Further down.")
BACK = Key("scroll(-1)", "up,pageup", "↑", "back", "Further up.")
TABLE = (CLOSE, SCROLL, BACK)


class HelpScreen(ModalScreen[None]):
    """About, keys and signs of one screen."""

    COMPONENT_CLASSES = STYLES
    BINDINGS = bindings("help", TABLE)

    def __init__(self, help: Help, keys: Iterable[Key]) -> None:
        super().__init__(id="help")
        self._help, self._keys = help, tuple(keys)

    def compose(self) -> ComposeResult:
        with Vertical(classes="box tall") as box:
            box.border_title = text(f"HELP · {self._help.title}")
            with VerticalScroll(id="help-scroll"):
                yield Hanging(tuple(self._rows()), id="help-text")
            yield KeyBar(TABLE)

    def _rows(self) -> Iterable[tuple[Content, str]]:
        """A sign or a key, and what it means; sentences have none."""
        for sentence in self._help.about:
            yield Content(""), sentence
            yield Content(""), ""
        for key in self._keys:
            yield text(f"{key.shown:>7}  ", ".key"), key.help
        if self._help.signs:
            yield Content(""), ""
        for shape, meaning in self._help.signs:
            yield text(f"{shape:>7}  ", ".strong"), meaning

    def action_close(self) -> None:
        self.dismiss(None)

    def action_scroll(self, step: int | str) -> None:
        scroll = self.query_one("#help-scroll", VerticalScroll)
        if int(step) > 0:
            scroll.scroll_relative(y=scroll.size.height // 2, animate=False)
        else:
            scroll.scroll_relative(y=-(scroll.size.height // 2), animate=False)
