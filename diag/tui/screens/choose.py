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

    def __init__(self, question: ChooseOne, unhurried: Callable[[], bool] = lambda: True) -> None:
        """`unhurried`: notes a press, and says whether Enter comes late enough while nothing was typed or moved."""
        super().__init__(classes="chooser")
        self._question, self._unhurried, self._touched = question, unhurried, False

    def compose(self) -> ComposeResult:
        asks = self._question
        with Vertical(classes="box") as box:
            box.border_title = text(one_line(asks.title))
            if asks.about:
                yield Written(text(one_line(asks.about), ".strong"), classes="about")
            yield ChooseLine(asks.digits, asks.free or ("a digit, or type to find" if asks.digits else "type to find"))
            yield PickList(asks.rows, digits=asks.digits, marks=asks.marks, rest=asks.rest, id="choose-list")
            yield KeyBar(TABLE)

    def on_mount(self) -> None:
        self._list.styles.height = max(min(self._list.tall, self.app.size.height - 10), 3)
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

    @on(Input.Changed, "#choose-line")
    def narrow(self, event: Input.Changed) -> None:
        self._list.narrow(event.value, number=not event.value)

    @on(PickList.Taken)
    def clicked(self, event: PickList.Taken) -> None:
        self.dismiss(Picked(event.id))

    def action_move(self, step: int) -> None:
        self._touched = True
        self._list.move(step)

    @on(Input.Submitted, "#choose-line")
    def action_take(self) -> None:
        asks = self._question
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
