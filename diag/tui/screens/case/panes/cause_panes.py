"""The likely causes with their bars, and what each fact says about the chosen one."""

from __future__ import annotations

from textual.content import Content

from diag.case.snapshot import Fact, Likely, Weight
from diag.text import bar, cut, one_line, percent
from diag.tui.looks.wording import SAYS_NOTHING, found, marks, told_apart, weight
from diag.tui.screens.case.panes.pane import Pane, RowsPane, in_sight, moved
from diag.tui.screens.case.parts.case_model import CaseView
from diag.tui.widgets.written import clickable, line, lines, text

BAR = 5
ROOMY = 56
"""Columns from which the words stand beside the signs."""
TALL = 6
"""Rows from which there is room for what would overturn a cause."""


class Causes(RowsPane):
    """All causes, likeliest first, as many as fit. The evidence shown is that for the marked one."""

    def part(self, view: CaseView) -> object:
        return view.causes, view.evidence.cause

    @property
    def _at(self) -> int:
        return next((n for n, c in enumerate(self.view.causes) if c.id == self.view.evidence.cause), 0)

    async def action_move(self, step: int) -> None:
        causes = self.view.causes
        if causes:
            await self.on_screen("choose_cause", causes[moved(self._at, step, causes)].id)

    def draw(self) -> Content:
        width, height = self.content_size
        if not self.view.causes:
            return text("Weighing the facts …", ".quiet")
        shown = in_sight(self.view.causes, self._at, height)
        titles = told_apart([one_line(c.title) for c in shown], width - BAR - 9)
        return lines(self._row(c, title) for c, title in zip(shown, titles, strict=True))

    def _row(self, cause: Likely, title: str) -> Content:
        chosen = cause.id == self.view.evidence.cause
        row = line(
            ("▸ " if chosen else "  ", ".key"),
            (percent(cause.probability).rjust(5), ".strong" if chosen else ""),
            " ",
            (bar(cause.probability, BAR), ".bar"),
            " ",
            (title, ".strong" if chosen else ""),
        )
        return clickable(row, ("screen.choose_cause", (cause.id,)))


class Evidence(Pane):
    """The facts for and against the chosen cause, the weightiest first."""

    def part(self, view: CaseView) -> object:
        return view.evidence

    def draw(self) -> Content:
        width, height = self.content_size
        evidence = self.view.evidence
        rows = [text(cut(evidence.title, width), ".strong")] if evidence.title else []
        if not evidence.weights:
            rows.append(text("No facts yet.", ".quiet"))
        last: list[Content] = []
        if evidence.overturn and height >= TALL:
            last = text(one_line(evidence.overturn), ".quiet").wrap(width)
        room = max(height - len(rows) - len(last), 1)
        shown = evidence.weights if len(evidence.weights) <= room else evidence.weights[: max(room - 1, 1)]
        facts = {f.seq: f for f in evidence.facts}
        rows += [_weighed(w, facts.get(w.fact), width) for w in shown]
        if len(shown) < len(evidence.weights):
            rows.append(text(f"     and {len(evidence.weights) - len(shown)} that say less", ".quiet"))
        return lines([*rows[: height - len(last)], *last])


def _weighed(w: Weight, fact: Fact | None, width: int) -> Content:
    """Signs, how strongly in words where there is room, and the fact."""
    style = ".quiet" if abs(w.decibans) < SAYS_NOTHING else ".for" if w.decibans > 0 else ".against"
    words = f" {weight(w.decibans):<21}" if width >= ROOMY else " "
    room = width - 4 - len(words)
    says = found(fact.title, fact.state, fact.said, room) if fact is not None else cut(one_line(w.text), room)
    return line((f"{marks(w.decibans):<4}{words}", style), says)
