"""Rows to choose one from, narrowed by what is typed."""

from __future__ import annotations

from dataclasses import dataclass

from textual.content import Content
from textual.events import MouseScrollDown, MouseScrollUp
from textual.message import Message

from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text
from diag.tui.words import clean, cut

LEAST = 55.0
"""Likeness (0 to 100) below which a row is left out."""


@dataclass(frozen=True, slots=True)
class Row:
    """One choice: its name to the program, its title, and a quieter remark beside it."""

    id: str
    title: str
    beside: str = ""
    head: str = ""
    """Rows with the same head stand together below it."""
    also: str = ""
    """Other words that it is found by."""


class PickList(Written):
    """The marked row has a sign and is drawn reversed. Clicking a row takes it."""

    class Taken(Message):
        def __init__(self, id: str) -> None:
            self.id = id
            super().__init__()

    def __init__(self, rows: tuple[Row, ...] = (), *, digits: bool = False, id: str | None = None) -> None:
        super().__init__(id=id)
        self._all = rows
        self._rows = rows
        self._digits = digits
        self._at = 0
        self._typed = ""

    @property
    def marked(self) -> Row | None:
        return self._rows[self._at] if self._rows else None

    def fill(self, rows: tuple[Row, ...]) -> None:
        """Other rows. Where they are the same by name, and only say more, the mark stays on its own."""
        marked = self.marked if {row.id for row in rows} == {row.id for row in self._all} else None
        self._all = rows
        self.narrow(self._typed, self._digits)
        if marked is not None:
            self._at = next((n for n, row in enumerate(self._rows) if row.id == marked.id), 0)

    def nth(self, digit: int) -> Row | None:
        return self._rows[digit - 1] if digit <= len(self._rows) else None

    def narrow(self, typed: str, number: bool = True) -> None:
        self._typed = typed
        self._rows = _like(typed, self._all) if typed.strip() else self._all
        self._at = 0
        self.refresh()

    def move(self, step: int) -> None:
        if self._rows:
            self._at = (self._at + step) % len(self._rows)
            self.refresh()

    @property
    def tall(self) -> int:
        """Rows that it takes to show all of it."""
        return len(self._all) + len({row.head for row in self._all if row.head})

    def on_resize(self) -> None:
        self.refresh()

    def on_mouse_scroll_down(self, event: MouseScrollDown) -> None:
        event.stop()
        self._at = min(self._at + 1, max(len(self._rows) - 1, 0))
        self.refresh()

    def on_mouse_scroll_up(self, event: MouseScrollUp) -> None:
        event.stop()
        self._at = max(self._at - 1, 0)
        self.refresh()

    def action_take(self, id: str) -> None:
        self.post_message(self.Taken(id))

    def draw(self) -> Content:
        width, height = self.content_size
        if not self._rows:
            return text("Nothing is called that." if self._typed else "Nothing here yet.", ".quiet")
        rows: list[Content] = []
        head, at = "", 0
        for i, row in enumerate(self._rows):
            if row.head and row.head != head:
                head = row.head
                rows.append(text((f"─ {head} " + "─" * width)[:width], ".rule"))
            if i == self._at:
                at = len(rows)
            rows.append(self._row(i, row, width))
        first = min(max(at - height + 2, 0), max(len(rows) - height, 0)) if at >= height - 1 else 0
        return lines(rows[first : first + height])

    def _row(self, i: int, row: Row, width: int) -> Content:
        lead = f"{i + 1} " if self._digits and not self._typed and i < 9 else ""
        beside = cut(clean(row.beside), max(width // 2, 10))
        room = max(width - len(lead) - len(beside) - 4, 4)
        title = cut(clean(row.title), room).ljust(room)
        marked = i == self._at
        drawn = line(
            ("▸ " if marked else "  ", ".key"),
            (lead, ".key"),
            (title, CURSOR if marked else ""),
            "  ",
            (beside, ".quiet"),
        )
        return clickable(drawn, ("take", (row.id,)))


def _like(typed: str, rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """Rows that resemble what was typed, the likest first; a plain part of the text always counts."""
    from rapidfuzz import fuzz, process, utils

    texts = [f"{row.title} {row.beside} {row.also}" for row in rows]
    part = " ".join(typed.casefold().replace("-", " ").split())
    words = part.split()
    found = process.extract(typed, texts, scorer=fuzz.WRatio, processor=utils.default_process, limit=60)
    score = {index: value for _, value, index in found}
    for index, whole in enumerate(texts):
        text = whole.casefold().replace("-", " ")
        if text.startswith(part) or part in text:
            score[index] = 300.0 if text.startswith(part) else 200.0
        elif all(word in text for word in words):
            score[index] = 150.0
    order = sorted((i for i in score if score[i] >= LEAST), key=lambda i: (-score[i], i))
    return tuple(rows[i] for i in order)
