"""The facts so far, the latest first, each with a way to take it back."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.style import Style

from diag.case.phrases import listed
from diag.case.snapshot import Fact
from diag.text import one_line
from diag.tui.looks.wording import clock, found
from diag.tui.screens.case.panes.pane import RowsPane, in_sight, moved
from diag.tui.screens.case.parts.case_model import CaseView
from diag.tui.widgets.written import CURSOR, clickable, line, lines, text


class Facts(RowsPane):
    """One row a fact. Delete takes back the one that is marked, and so does a click on its cross."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("delete,backspace", "take_back", "take back", show=False)]
    _at = 0

    def part(self, view: CaseView) -> object:
        self._at = moved(self._at, 0, view.state.facts)
        return view.state.facts, view.state.round

    @property
    def _facts(self) -> tuple[Fact, ...]:
        return self.view.state.facts[::-1]

    async def action_move(self, step: int) -> None:
        self._at = moved(self._at, step, self._facts)
        self.refresh()

    async def action_take_back(self) -> None:
        if self._facts:
            await self.on_screen("take_back", self._facts[self._at].seq)

    def draw(self) -> Content:
        width, height = self.content_size
        if not self._facts:
            return text("Nothing recorded yet.", ".quiet")
        rows = in_sight(list(enumerate(self._facts)), self._at, height)
        return lines(self._row(fact, self.has_focus and n == self._at, width) for n, fact in rows)

    def _row(self, fact: Fact, chosen: bool, width: int) -> Content:
        cross = clickable(text(" ✕ ", ".key"), ("screen.take_back", (fact.seq,)))
        room = width - len(cross) - 6
        state, said = fact.state, fact.said
        if fact.could_be:
            # What it could be goes before how it was said.
            state, said = listed((fact.state, *fact.could_be), "or"), ""
        body = found(fact.title, state, said, room, _aside(fact, self.view.state.round)).ljust(room)
        style: str | Style = CURSOR if chosen else "" if fact.counts else ".quiet"
        return line((clock(fact.at), ".quiet"), " ", (body, style), cross)


def _aside(fact: Fact, round: int) -> str:
    """What sets this fact apart: who found it before the case, why it does not count, an earlier round."""
    if fact.before:
        return f"before, by {one_line(fact.before)}"
    if not fact.counts:
        return one_line(fact.why) or "does not count"
    return f"round {fact.round}" if fact.round != round else ""
