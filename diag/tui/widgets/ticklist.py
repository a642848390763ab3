"""The steps of a lockout, a line each, with who confirmed them at the right."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size

from diag.tui.plan import DONE, DUE, Item
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines
from diag.tui.words import clean, cut

MARKS = {DONE: ("✓", ".done"), DUE: ("▸", ".due")}
LATER = ("·", ".quiet")


class TickList(Written):
    """Done, due and later are told apart by their sign; the one that Enter confirms is drawn reversed."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._items: tuple[Item, ...] = ()
        self._at = 0
        self._digits = False

    def show(self, items: tuple[Item, ...], at: int, digits: bool) -> None:
        """`at`: the digit of the step that Enter confirms; `digits`: several are due, so they have their digits."""
        self._items, self._at, self._digits = items, at, digits
        self.refresh(layout=True)

    @property
    def due(self) -> int:
        """The row of the first step that is due, or the last row."""
        rows = (n for n, item in enumerate(self._items) if item.mark == DUE)
        return next(rows, max(len(self._items) - 1, 0))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._items)

    def draw(self) -> Content:
        width = self.content_size.width
        return lines(self._row(item, width) for item in self._items)

    def _row(self, item: Item, width: int) -> Content:
        sign, style = MARKS.get(item.mark, LATER)
        key = str(item.digit) if item.digit and self._digits else " "
        by = cut(clean(item.by), max(width // 3, 4)) if item.by else ""
        room = max(width - 4 - (len(by) + 2 if by else 0), 4)
        words = cut(clean(item.text), room).ljust(room)
        chosen = item.mark == DUE and item.digit == self._at
        look = CURSOR if chosen else "" if item.mark == DONE else style
        row = line((sign, style), " ", (key, ".key"), " ", (words, look), (f"  {by}" if by else "", ".quiet"))
        return clickable(row, ("screen.digit", (item.digit,))) if item.digit else row
