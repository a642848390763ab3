"""The steps of a lockout, one below another, with who confirmed them at the right."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size

from diag.tui.plan import DONE, DUE, Item
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines
from diag.tui.words import clean, cut

MARKS = {DONE: ("✓", ".done"), DUE: ("▸", ".due")}
LATER = ("·", ".quiet")
LEAD = 4
"""Columns for the sign and the digit."""


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
        heights = [len(self._rows(item, self.content_size.width)) for item in self._items]
        n = next((n for n, item in enumerate(self._items) if item.mark == DUE), max(len(heights) - 1, 0))
        return sum(heights[:n])

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return sum(len(self._rows(item, width)) for item in self._items)

    def draw(self) -> Content:
        width = self.content_size.width
        return lines(row for item in self._items for row in self._rows(item, width))

    def _rows(self, item: Item, width: int) -> list[Content]:
        """A step on as many rows as its words take; who confirmed it stands on the first."""
        sign, style = MARKS.get(item.mark, LATER)
        key = str(item.digit) if item.digit and self._digits else " "
        by = cut(clean(item.by), max(width // 3, 4)) if item.by else ""
        room = max(width - LEAD - (len(by) + 2 if by else 0), 4)
        chosen = item.mark == DUE and item.digit == self._at
        look = CURSOR if chosen else "" if item.mark == DONE else style
        rows = []
        for n, part in enumerate(Content(clean(item.text)).wrap(room)):
            lead = line((sign, style), " ", (key, ".key"), " ") if n == 0 else Content(" " * LEAD)
            row = line(lead, (part.plain.rstrip().ljust(room), look), (f"  {by}" if by and n == 0 else "", ".quiet"))
            rows.append(clickable(row, ("screen.digit", (item.digit,))) if item.digit else row)
        return rows
