"""A list to choose from: by typing, by digit, by arrows or by a click."""

from __future__ import annotations

from dataclasses import dataclass

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key as KeyPress
from textual.message import Message
from textual.widgets import Input

from diag.tui.helps import CHOOSE
from diag.tui.keys import HELP_F1, Key, bindings
from diag.tui.screens.base import Box, Room
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import PickList, Row
from diag.tui.widgets.written import text
from diag.tui.words import clean

BACK = Key("back", "escape", "esc", "back", "Leave it as it was.")
TAKE = Key("take", "enter", "↵", "take", "Take the row that is marked.")
MOVE = Key("move(1)", "down,ctrl+n", "↑↓", "move", "Mark another row.")
UP = Key("move(-1)", "up,ctrl+p", "", "", "")
TABLE = (TAKE, MOVE, BACK, HELP_F1)


@dataclass(frozen=True, slots=True)
class Picked:
    """What was taken: a row's id, or (where the list allows it) what was typed instead."""

    id: str
    typed: str = ""


class ChooseLine(Input):
    """The line above a list. With `digits` a digit on the empty line takes a row in place of being typed."""

    class Digit(Message):
        def __init__(self, digit: int) -> None:
            self.digit = digit
            super().__init__()

    def __init__(self, digits: bool, placeholder: str) -> None:
        super().__init__(placeholder=placeholder, compact=True, id="choose-line", max_length=80)
        self._digits = digits

    def on_key(self, event: KeyPress) -> None:
        if self._digits and not self.value and event.character and event.character in "123456789":
            event.stop()
            event.prevent_default()
            self.post_message(self.Digit(int(event.character)))


class Choose(Box[Picked]):
    """`rows` to choose from. With `digits` the first nine have a digit each and typing is for the list's end only."""

    HELP_DATA = CHOOSE
    TABLE = TABLE
    BINDINGS = bindings("choose", (*TABLE, UP))

    def __init__(self, title: str, rows: tuple[Row, ...], *, digits: bool = False, free: str = "") -> None:
        """`free`: what may be typed in place of a row, as the line's prompt; empty when only rows are taken."""
        super().__init__(classes="chooser")
        self._title, self._rows, self._digits, self._free = title, rows, digits, free

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            box.border_title = text(clean(self._title))
            yield ChooseLine(
                self._digits, self._free or ("a digit, or type to find" if self._digits else "type to find")
            )
            yield PickList(self._rows, digits=self._digits, id="choose-list")
            yield KeyBar(TABLE)

    def on_mount(self) -> None:
        self._list.styles.height = max(min(self._list.tall, self.app.size.height - 10), 3)
        self.query_one("#choose-line", Input).focus()

    @property
    def _list(self) -> PickList:
        return self.query_one("#choose-list", PickList)

    @on(ChooseLine.Digit)
    def digit(self, event: ChooseLine.Digit) -> None:
        row = self._list.nth(event.digit)
        if row is not None:
            below = self.app.screen_stack[-2]
            if isinstance(below, Room):
                below.chosen_by_digit()
            self.dismiss(Picked(row.id))

    @on(Input.Changed, "#choose-line")
    def narrow(self, event: Input.Changed) -> None:
        self._list.narrow(event.value, number=not event.value)

    @on(Input.Submitted, "#choose-line")
    def submitted(self) -> None:
        self.action_take()

    @on(PickList.Taken)
    def clicked(self, event: PickList.Taken) -> None:
        self.dismiss(Picked(event.id))

    def action_move(self, step: int | str) -> None:
        self._list.move(int(step))

    def action_take(self) -> None:
        typed = clean(self.query_one("#choose-line", Input).value)
        row = self._list.marked
        if row is not None and not (self._free and typed and typed.casefold() != row.title.casefold()):
            self.dismiss(Picked(row.id))
        elif self._free and typed:
            self.dismiss(Picked("", typed))
