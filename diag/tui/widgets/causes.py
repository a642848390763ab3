"""The likely causes with their bars, and what each fact says about the chosen one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import MouseScrollDown, MouseScrollUp
from textual.message import Message

from diag.case.snapshot import Fact, Likely, Weight
from diag.tui.widgets.written import Written, clickable, line, lines, text
from diag.tui.words import SAYS_NOTHING, bar, clean, cut, found, marks, percent, told_apart, weight

BAR = 6
ROOMY = 56
"""Columns from which the words stand beside the signs."""
TALL = 6
"""Rows from which there is room for what would overturn a cause."""


class Causes(Written, can_focus=True):
    """All causes, best first, as many as fit; the chosen one is marked, and up and down choose."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "choose(-1)", "cause", show=False),
        Binding("down", "choose(1)", "cause", show=False),
    ]

    class Chosen(Message):
        """Another cause was chosen."""

        def __init__(self, cause: str) -> None:
            self.cause = cause
            super().__init__()

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._causes: tuple[Likely, ...] = ()
        self._chosen = ""
        self._followed = True
        """The choice follows the first place until somebody chooses."""

    @property
    def chosen(self) -> str:
        return self._chosen

    @property
    def chosen_title(self) -> str:
        return next((clean(c.title) for c in self._causes if c.id == self._chosen), "")

    def show(self, causes: tuple[Likely, ...]) -> None:
        before = self._causes, self._chosen
        self._causes = causes
        ids = [c.id for c in causes]
        if ids and (self._followed or self._chosen not in ids):
            self._chosen = ids[0]
        if before != (self._causes, self._chosen):
            self.refresh()

    def action_choose(self, step: int) -> None:
        ids = [c.id for c in self._causes]
        if ids:
            at = ids.index(self._chosen) if self._chosen in ids else 0
            self.choose(ids[min(max(at + step, 0), len(ids) - 1)])

    def choose(self, cause: str) -> None:
        self._chosen = cause
        self._followed = bool(self._causes) and cause == self._causes[0].id
        self.refresh()
        self.post_message(self.Chosen(cause))

    def on_resize(self) -> None:
        self.refresh()

    def on_mouse_scroll_down(self, event: MouseScrollDown) -> None:
        event.stop()
        self.action_choose(1)

    def on_mouse_scroll_up(self, event: MouseScrollUp) -> None:
        event.stop()
        self.action_choose(-1)

    def draw(self) -> Content:
        width, height = self.content_size
        if not self._causes:
            return text("Weighing the facts …", ".quiet")
        shown = self._shown(height)
        titles = told_apart([clean(c.title) for c in shown], width - BAR - 8)
        return lines(self._row(c, title) for c, title in zip(shown, titles, strict=True))

    def _shown(self, height: int) -> Sequence[Likely]:
        ids = [c.id for c in self._causes]
        at = ids.index(self._chosen) if self._chosen in ids else 0
        first = min(max(at - height + 1, 0), max(len(ids) - height, 0))
        return self._causes[first : first + height]

    def _row(self, cause: Likely, title: str) -> Content:
        chosen = cause.id == self._chosen
        row = line(
            ("▸ " if chosen else "  ", ".key"),
            (percent(cause.probability), ".strong" if chosen else ""),
            " ",
            (bar(cause.probability, BAR), ".bar"),
            " ",
            (title, ".strong" if chosen else ""),
        )
        return clickable(row, ("screen.choose_cause", (cause.id,)))


class Evidence(Written):
    """The facts for and against the chosen cause, the weightiest first."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._title = self._overturn = ""
        self._weights: tuple[Weight, ...] = ()
        self._facts: Mapping[int, Fact] = {}

    def show(self, title: str, weights: tuple[Weight, ...], facts: tuple[Fact, ...], overturn: str = "") -> None:
        """`overturn`: what single fact would change its place at the top."""
        self._title, self._overturn = title, overturn
        self._facts = {f.seq: f for f in facts}
        self._weights = tuple(sorted(weights, key=lambda w: -abs(w.decibans)))
        self.refresh()

    def on_resize(self) -> None:
        self.refresh()

    def draw(self) -> Content:
        width, height = self.content_size
        rows = [text(cut(self._title, width), ".strong")] if self._title else []
        if not self._weights:
            rows.append(text("No facts yet.", ".quiet"))
        last: list[Content] = []
        if self._overturn and height >= TALL:
            last = text(clean(self._overturn), ".quiet").wrap(width)
        room = max(height - len(rows) - len(last), 1)
        shown = self._weights if len(self._weights) <= room else self._weights[: max(room - 1, 1)]
        rows += [self._row(w, width) for w in shown]
        if len(shown) < len(self._weights):
            rows.append(text(f"     and {len(self._weights) - len(shown)} that say less", ".quiet"))
        return lines([*rows[: height - len(last)], *last])

    def _row(self, w: Weight, width: int) -> Content:
        """Signs, how strongly in words where there is room, and the fact."""
        style = ".quiet" if abs(w.decibans) < SAYS_NOTHING else ".for" if w.decibans > 0 else ".against"
        words = f" {weight(w.decibans):<21}" if width >= ROOMY else " "
        room = width - 4 - len(words)
        fact = self._facts.get(w.fact)
        says = found(fact.title, fact.state, fact.said, room) if fact is not None else cut(clean(w.text), room)
        return line((f"{marks(w.decibans):<4}{words}", style), says)
