"""Rows to choose one from, narrowed by what is typed."""

from __future__ import annotations

from textual.content import Content
from textual.events import MouseScrollDown, MouseScrollUp
from textual.message import Message

from diag.text import cut, one_line
from diag.tui.questions import Row
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text

LEAST = 55.0
"""The likeness (0 to 100) below which a row is left out."""


class PickList(Written):
    """The marked row has a sign and is drawn reversed. Clicking a row takes it."""

    class Taken(Message):
        def __init__(self, id: str) -> None:
            self.id = id
            super().__init__()

    class Seen(Message):
        """The rows in sight have changed."""

        def __init__(self, ids: tuple[str, ...]) -> None:
            self.ids = ids
            super().__init__()

    def __init__(
        self,
        rows: tuple[Row, ...] = (),
        *,
        digits: bool = False,
        waiting: str = "",
        marks: bool = True,
        rest: tuple[Row, ...] = (),
        id: str | None = None,
    ) -> None:
        """`waiting`: what is shown until the rows come; without `marks` no row is marked until something is typed or
        moved; `rest`: rows that are shown only once something is typed."""
        super().__init__(id=id)
        self._rest = rest
        self._waiting = waiting
        self._all = rows
        self._rows = rows
        self._digits = digits
        self._first = 0 if marks else -1
        self._at = self._first
        self._typed = ""
        self._seen: tuple[str, ...] = ()

    @property
    def marked(self) -> Row | None:
        return self._rows[self._at] if self._rows and self._at >= 0 else None

    def fill(self, rows: tuple[Row, ...]) -> None:
        """Shows other rows. Where they have the same names, and only say more, the same row stays marked."""
        marked = self.marked if {row.id for row in rows} == {row.id for row in self._all} else None
        self._all, self._waiting = rows, ""
        self.narrow(self._typed, self._digits)
        if marked is not None:
            self._at = next((n for n, row in enumerate(self._rows) if row.id == marked.id), 0)

    def nth(self, digit: int) -> Row | None:
        return self._rows[digit - 1] if digit <= len(self._rows) else None

    def narrow(self, typed: str, number: bool = True) -> None:
        self._typed = typed
        self._rows = _like(typed, (*self._all, *self._rest)) if typed.strip() else self._all
        self._at = 0 if typed.strip() else self._first
        self.refresh()

    def move(self, step: int) -> None:
        if self._rows:
            self._at = (max(self._at, -1 if step > 0 else 0) + step) % len(self._rows)
            self.refresh()

    @property
    def tall(self) -> int:
        """The rows of the screen that it takes to show the whole list."""
        return len(self._all) + len({row.head for row in self._all if row.head})

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
            return text(self._waiting or ("Nothing is called that." if self._typed else "The list is empty."), ".quiet")
        shown = self._in_sight(height)
        seen = tuple(self._rows[i].id for i in shown if isinstance(i, int))
        if seen != self._seen:
            self._seen = seen
            self.post_message(self.Seen(seen))
        heads = ((f"─ {i} " + "─" * width)[:width] for i in shown if isinstance(i, str))
        return lines(
            self._row(i, self._rows[i], width) if isinstance(i, int) else text(next(heads), ".rule") for i in shown
        )

    def _in_sight(self, height: int) -> list[int | str]:
        """What is drawn: rows by their number, and heads; no more than there is height for."""
        every: list[int | str] = []
        head, at = "", 0
        for i, row in enumerate(self._rows):
            if row.head and row.head != head:
                head = row.head
                every.append(head)
            if i == self._at:
                at = len(every)
            every.append(i)
        first = min(max(at - height + 2, 0), max(len(every) - height, 0)) if at >= height - 1 else 0
        return every[first : first + height]

    def _row(self, i: int, row: Row, width: int) -> Content:
        lead = f"{i + 1} " if self._digits and not self._typed and i < 9 else ""
        beside = cut(one_line(row.beside), max(width // 2, 10))
        room = max(width - len(lead) - len(beside) - 4, 4)
        title = cut(one_line(row.title), room).ljust(room)
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
