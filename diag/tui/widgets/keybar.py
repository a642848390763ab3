"""The footer: every key that does something now, each clickable, on as many lines as it takes."""

from __future__ import annotations

from collections.abc import Iterable

from textual.actions import parse
from textual.content import Content
from textual.geometry import Size

from diag.tui.key_table import Key
from diag.tui.looks.pieces import broken
from diag.tui.widgets.written import Written, clickable, line, lines

GAP = 2


class KeyBar(Written):
    """A row of keys. Rows break between keys, never inside one."""

    def __init__(self, keys: Iterable[Key] = (), *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._keys = tuple(keys)
        self._least = 0

    def show(self, keys: Iterable[Key], hold: bool = False) -> None:
        """`hold`: the footer keeps at least its present height, so that nothing above it moves."""
        keys, before = tuple(keys), self._tall(self.content_size.width)
        least = before if hold else 0
        if (keys, least) != (self._keys, self._least):
            self._keys, self._least = keys, least
            self.refresh(layout=self._tall(self.content_size.width) != before)

    def _tall(self, width: int) -> int:
        return max(len(self._rows(width)), self._least)

    def _rows(self, width: int) -> list[list[Key]]:
        return broken(self._keys, lambda key: len(key.shown) + 1 + len(key.label), width, GAP)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return self._tall(width)

    def draw(self) -> Content:
        rows = self._rows(self.content_size.width)
        return lines(Content(" " * GAP).join(_item(key) for key in row) for row in rows)


def _item(key: Key) -> Content:
    item = line((key.shown, ".key"), f" {key.label}")
    if not key.keys:
        return item
    room, name, arguments = parse(key.action)
    return clickable(item, (f"{room or 'screen'}.{name}", arguments))
