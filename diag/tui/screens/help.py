"""The help of a screen, drawn from its data."""

from __future__ import annotations

from collections.abc import Iterable

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.geometry import Size

from diag.tui.key_table import APP, PAGES, Key, bindings
from diag.tui.screen_help import Help
from diag.tui.screens.base import Box
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.written import Written, line, lines, text

CLOSE = Key("back", "escape,enter,q,f1,question_mark", "esc", "close", "Close the help.")
SCROLL = Key("scroll(1)", "down,pagedown,space", "↓", "more", "Further down.")
BACK = Key("scroll(-1)", "up,pageup", "↑", "back", "Further up.")
TABLE = (CLOSE, SCROLL, BACK, PAGES)


class HelpScreen(Box[None]):
    """About, keys and signs of one screen."""

    BINDINGS = bindings("help", TABLE)

    def __init__(self, help: Help, keys: Iterable[Key]) -> None:
        super().__init__()
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
        for key in (*self._keys, *(key for key in APP if key not in self._keys)):
            yield text(f"{key.shown:>7}  ", ".key"), key.help
        if self._help.signs:
            yield Content(""), ""
        for shape, meaning in self._help.signs:
            yield text(f"{shape:>7}  ", ".strong"), meaning

    def action_scroll(self, step: int) -> None:
        scroll = self.query_one("#help-scroll", VerticalScroll)
        scroll.scroll_relative(y=step * (scroll.size.height // 2), animate=False)


class Hanging(Written):
    """Rows with a lead (a key, a sign) and a text that breaks under itself, not under the lead."""

    def __init__(self, rows: tuple[tuple[Content, str], ...], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows = rows

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._wrapped(width))

    def draw(self) -> Content:
        return lines(self._wrapped(self.content_size.width))

    def _wrapped(self, width: int) -> list[Content]:
        found: list[Content] = []
        for lead, words in self._rows:
            room = max(width - len(lead), 8)
            parts = Content(words).wrap(room) if words else [Content("")]
            found.append(line(lead, parts[0]))
            found += [line(" " * len(lead), part) for part in parts[1:]]
        return found
