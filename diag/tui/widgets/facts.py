"""The facts so far, the latest first, each with a way to take it back."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import MouseScrollDown, MouseScrollUp
from textual.style import Style

from diag.case.snapshot import Fact
from diag.case.words import listed
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text
from diag.tui.words import clean, clock, found


class Facts(Written, can_focus=True):
    """One row a fact. Up and down choose one, Delete takes it back, and so does a click on its cross."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "fact", show=False),
        Binding("down", "move(1)", "fact", show=False),
        Binding("delete,backspace", "take_back", "take back", show=False),
    ]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._facts: tuple[Fact, ...] = ()
        self._round = 1
        self._at = 0

    def show(self, facts: tuple[Fact, ...], round: int) -> None:
        shown = tuple(reversed(facts))
        if (shown, round) == (self._facts, self._round):
            return
        self._facts, self._round = shown, round
        self._at = min(self._at, max(len(facts) - 1, 0))
        self.refresh()

    def action_move(self, step: int) -> None:
        self._at = min(max(self._at + step, 0), max(len(self._facts) - 1, 0))
        self.refresh()

    async def action_take_back(self) -> None:
        if self._facts:
            await self.run_action(f"screen.take_back({self._facts[self._at].seq})")

    def on_focus(self) -> None:
        self.refresh()

    def on_blur(self) -> None:
        self.refresh()

    def on_resize(self) -> None:
        self.refresh()

    def on_mouse_scroll_down(self, event: MouseScrollDown) -> None:
        event.stop()
        self.action_move(1)

    def on_mouse_scroll_up(self, event: MouseScrollUp) -> None:
        event.stop()
        self.action_move(-1)

    def draw(self) -> Content:
        width, height = self.content_size
        if not self._facts:
            return text("Nothing recorded yet.", ".quiet")
        first = min(max(self._at - height + 1, 0), max(len(self._facts) - height, 0))
        return lines(self._row(i, width) for i in range(first, min(first + height, len(self._facts))))

    def _row(self, i: int, width: int) -> Content:
        fact = self._facts[i]
        cross = clickable(text(" ✕ ", ".key"), ("screen.take_back", (fact.seq,)))
        chosen = self.has_focus and i == self._at
        room = width - len(cross) - 6
        state, said = fact.state, fact.said
        if fact.could_be:
            # What it could be goes before how it was said.
            state, said = listed((fact.state, *fact.could_be), "or"), ""
        body = found(fact.title, state, said, room, _aside(fact, self._round)).ljust(room)
        style: str | Style = CURSOR if chosen else "" if fact.counts else ".quiet"
        return line((clock(fact.at), ".quiet"), " ", (body, style), cross)


def _aside(fact: Fact, round: int) -> str:
    """What sets this fact apart: who found it before the case, why it does not count, an earlier round."""
    if fact.before:
        return f"before, by {clean(fact.before)}"
    if not fact.counts:
        return clean(fact.why) or "does not count"
    return f"round {fact.round}" if fact.round != round else ""
