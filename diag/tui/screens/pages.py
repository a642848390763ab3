"""The written pages in the app: their titles to choose from, and one page to read."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Markdown

from diag.tui.key_table import HELP, LEAVE, QUIT, Key, bindings
from diag.tui.questions import Row
from diag.tui.screen_help import PAGES
from diag.tui.screens.base import BaseScreen
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import PickList
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, line

OPEN = Key("open", "enter", "↵", "read", "Read the page that is marked.")
DOWN = Key("move(1)", "down", "↑↓", "move", "Mark another page.")
UP = Key("move(-1)", "up", "", "", "")
BACK = Key("back", "escape", "esc", "back", "Back to where you were.")
LIST = (OPEN, DOWN, BACK, HELP, LEAVE)

MORE = Key("scroll(1)", "down,j", "↑↓", "scroll", "Further down and up, a few rows.")
LESS = Key("scroll(-1)", "up,k", "", "", "")
FAR = Key("scroll(9)", "space,pagedown", "space", "screen", "A whole screen further down; page up goes back.")
NEAR = Key("scroll(-9)", "pageup", "", "", "")
NEXT = Key("turn(1)", "n,right", "n", "next page", "The next page.")
LAST = Key("turn(-1)", "p,left", "p", "page before", "The page before.")
READ = (MORE, FAR, NEXT, LAST, BACK, HELP, LEAVE)

STEP = 3
"""Rows that one key scrolls."""
WHOLE = 9
"""The step that stands for a whole screen."""


class PagesScreen(BaseScreen):
    """The titles of the pages, in reading order."""

    HELP_DATA = PAGES
    TABLE = LIST
    BINDINGS = bindings("pages", (*LIST, UP, QUIT))

    def compose(self) -> ComposeResult:
        yield Written(line(("PAGES", ".loud"), "   what is written about diag"), classes="head")
        yield PickList(id="pages-list")
        yield Status(id="pages-status")
        yield KeyBar(LIST, id="keys")

    def on_mount(self) -> None:
        from diag.pages import topics

        self._topics = topics()
        self.query_one(PickList).fill(tuple(Row(name, title) for name, title in self._topics))

    def action_move(self, step: int) -> None:
        self.query_one(PickList).move(step)

    def action_open(self) -> None:
        row = self.query_one(PickList).marked
        if row is not None:
            self._read(row.id)

    @on(PickList.Taken)
    def clicked(self, event: PickList.Taken) -> None:
        self._read(event.id)

    def _read(self, name: str) -> None:
        self.app.push_screen(PageScreen(self._topics, name))


class PageScreen(BaseScreen):
    """One page, to be scrolled; the next one is a key away."""

    HELP_DATA = PAGES
    TABLE = READ
    BINDINGS = bindings("page", (*READ, LESS, NEAR, QUIT))

    def __init__(self, topics: tuple[tuple[str, str], ...], name: str) -> None:
        super().__init__()
        self._topics, self._names = topics, [topic for topic, _ in topics]
        self._at = self._names.index(name)

    def compose(self) -> ComposeResult:
        yield Written(id="page-head", classes="head")
        with VerticalScroll(id="page-scroll", can_focus=False):
            yield Markdown(id="page-text", open_links=False)
        yield Status(id="page-status")
        yield KeyBar(READ, id="keys")

    async def on_mount(self) -> None:
        await self._show()

    async def _show(self) -> None:
        from diag.pages import page

        name, title = self._topics[self._at]
        place = f"   page {self._at + 1} of {len(self._topics)}"
        self.query_one("#page-head", Written).write(line((title, ".loud"), (place, ".quiet")))
        await self.query_one(Markdown).update(page(name))
        self._scroll.scroll_home(animate=False)

    @property
    def _scroll(self) -> VerticalScroll:
        return self.query_one("#page-scroll", VerticalScroll)

    def action_scroll(self, step: int) -> None:
        way = 1 if step > 0 else -1
        rows = self._scroll.size.height - 1 if abs(step) == WHOLE else STEP
        self._scroll.scroll_relative(y=way * rows, animate=False)

    async def action_turn(self, step: int) -> None:
        self._at = (self._at + step) % len(self._topics)
        await self._show()

    @on(Markdown.LinkClicked)
    async def follow(self, event: Markdown.LinkClicked) -> None:
        """A link to another page turns to it; others are told, and opened by nobody."""
        name = event.href.partition("#")[0].rpartition("/")[2].removesuffix(".md")
        if name in self._names:
            self._at = self._names.index(name)
            await self._show()
        else:
            self.query_one(Status).hint(event.href)
