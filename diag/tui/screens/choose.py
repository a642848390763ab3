"""A list to choose from: by typing, by digit, by arrows or by a click."""

from __future__ import annotations

from collections.abc import Callable

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key as KeyPress
from textual.widgets import Input

from diag.text import one_line
from diag.tui.case_session import TOO_QUICK
from diag.tui.key_table import HELP_F1, Key, bindings
from diag.tui.questions import ChooseOne, Picked, Row
from diag.tui.screen_help import CHOOSE
from diag.tui.screens.base import BaseScreen, Box
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import PickList
from diag.tui.widgets.written import Written, text

BACK = Key("back", "escape", "esc", "back", "Leave it as it was.")
TAKE = Key("take", "enter", "↵", "take", "Take the row that is marked.")
MOVE = Key("move(1)", "down,ctrl+n", "↑↓", "move", "Mark another row.")
UP = Key("move(-1)", "up,ctrl+p", "", "", "")
TABLE = (TAKE, MOVE, BACK, HELP_F1)
DIGIT = Key("", "", "1-9", "take", "Take the row with that digit.")
BARE = (DIGIT, BACK, HELP_F1)
READ_IT = "Not taken: read it, then press its digit."


class ChooseLine(Input):
    """The line above a list. With `digits` a digit on the empty line takes a row in place of being typed."""

    def __init__(self, digits: bool, placeholder: str) -> None:
        super().__init__(placeholder=placeholder, compact=True, id="choose-line", max_length=80)
        self._digits = digits

    async def on_key(self, event: KeyPress) -> None:
        if self._digits and not self.value and event.character and event.character in "123456789":
            event.stop()
            event.prevent_default()
            await self.run_action(f"screen.digit({event.character})")


class Choose(Box[Picked]):
    """Rows to choose from. Where they have digits, typing is for the list's end only."""

    HELP_DATA = CHOOSE
    TABLE = TABLE
    BINDINGS = bindings("choose", (*TABLE, UP))

    def __init__(
        self, question: ChooseOne, unhurried: Callable[[], bool] = lambda: True, early: Callable[[], bool] = bool
    ) -> None:
        """`unhurried`: notes a press, and says whether Enter comes late enough while nothing was typed or moved.
        `early`: whether a key comes too soon after the one before it for a bare question to have been read."""
        super().__init__(classes="chooser")
        self._question, self._unhurried, self._touched, self._early = question, unhurried, False, early

    def compose(self) -> ComposeResult:
        asks = self._question
        with Vertical(classes="box") as box:
            box.border_title = text(one_line(asks.title))
            if asks.about:
                yield Written(text(one_line(asks.about), ".strong"), classes="about")
            if not asks.bare:
                finds = "a digit, or type to find" if asks.digits else "type to find"
                yield ChooseLine(asks.digits, asks.free or finds)
            yield PickList(asks.rows, digits=asks.digits, marks=asks.marks, rest=asks.rest, id="choose-list")
            yield KeyBar(BARE if asks.bare else TABLE)

    def on_mount(self) -> None:
        self._list.styles.height = max(min(self._list.tall, self.app.size.height - 10), 3)
        if not self._question.bare:
            line = self.query_one("#choose-line", Input)
            line.value = self._question.typed
            line.focus()
        self._tell(self._question.wrong_before)

    @property
    def _list(self) -> PickList:
        return self.query_one("#choose-list", PickList)

    def action_digit(self, digit: int) -> None:
        row = self._list.nth(digit)
        if row is not None:
            below = self.app.screen_stack[-2]
            if isinstance(below, BaseScreen):
                below.chosen_by_digit()
            self.dismiss(Picked(row.id))

    def on_key(self, event: KeyPress) -> None:
        """Of a bare question. Whatever is typed on from the box before, a digit in it too, is not taken."""
        if not self._question.bare or event.key in ("escape", "f1", "ctrl+q"):
            return
        event.stop()
        event.prevent_default()
        early = self._early()
        if not early and event.character and event.character in "123456789":
            self.action_digit(int(event.character))
        else:
            self._tell(READ_IT)

    @on(Input.Changed, "#choose-line")
    def narrow(self, event: Input.Changed) -> None:
        self._list.narrow(event.value, number=not event.value)

    @on(PickList.Taken)
    def clicked(self, event: PickList.Taken) -> None:
        if self._question.bare and self._early():
            self._tell(READ_IT)
        else:
            self.dismiss(Picked(event.id))

    def action_move(self, step: int) -> None:
        if self._question.bare:
            return
        self._touched = True
        self._list.move(step)

    @on(Input.Submitted, "#choose-line")
    def action_take(self) -> None:
        asks = self._question
        if asks.bare:
            self._tell(READ_IT)
            return
        typed = one_line(self.query_one("#choose-line", Input).value)
        row = self._list.marked
        if not self._unhurried() and not typed and not self._touched:
            self._tell(TOO_QUICK)
        elif row is not None and self._means(typed, row):
            self.dismiss(Picked(row.id))
        elif not typed or not asks.free:
            self._tell("Choose with a digit." if asks.digits and asks.rows else "")
        elif asks.wrong is not None and (wrong := asks.wrong(typed)):
            self._tell(wrong)
        else:
            self.dismiss(Picked("", typed))

    def _means(self, typed: str, row: Row) -> bool:
        """Whether Enter takes this row, which is marked."""
        if not self._question.free or not typed:
            return True
        words, title = typed.casefold(), row.title.casefold()
        return words in title if self._question.wrong is not None else words == title

    def _tell(self, words: str) -> None:
        self.query_one(".box").border_subtitle = text(one_line(words))
