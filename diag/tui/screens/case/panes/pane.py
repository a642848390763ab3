"""What the panes of the case screen share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, TypeVar

from textual.binding import Binding, BindingType
from textual.events import MouseScrollDown, MouseScrollUp

from diag.tui.screens.case.parts.case_model import CaseView
from diag.tui.widgets.written import Written

One = TypeVar("One")


class Pane(Written):
    """Draws a part of the view, and is painted anew only when that part has changed."""

    view: CaseView
    """What is drawn. It is set before the first paint."""
    _part: object = None

    def part(self, view: CaseView) -> object:
        """Everything in a view that this pane draws."""
        raise NotImplementedError

    def show(self, view: CaseView) -> None:
        before, self._part, self.view = self._part, self.part(view), view
        if self._part != before:
            self.refresh()

    async def on_screen(self, action: str, argument: object) -> None:
        """Runs an action of the screen, with its argument as data, as a click does."""
        await self.app.run_action(("screen", action, (argument,)))


class RowsPane(Pane, can_focus=True):
    """Rows of which one is marked. Up, down and the wheel mark another."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "row", show=False),
        Binding("down", "move(1)", "row", show=False),
    ]

    async def action_move(self, step: int) -> None:
        raise NotImplementedError

    async def on_mouse_scroll_down(self, event: MouseScrollDown) -> None:
        event.stop()
        await self.action_move(1)

    async def on_mouse_scroll_up(self, event: MouseScrollUp) -> None:
        event.stop()
        await self.action_move(-1)


def moved(at: int, step: int, rows: Sequence[object]) -> int:
    """The row that is marked after a step; at either end it stays."""
    return min(max(at + step, 0), max(len(rows) - 1, 0))


def in_sight(rows: Sequence[One], at: int, height: int) -> Sequence[One]:
    """As many rows as there is height for, that one among them."""
    first = min(max(at - height + 1, 0), max(len(rows) - height, 0))
    return rows[first : first + height]
