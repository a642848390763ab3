"""The one next thing to do, with why, tool, minutes and access; below it the alternatives."""

from __future__ import annotations

from textual.content import Content

from diag.case.snapshot import Action, CaseState
from diag.machine.model import Access
from diag.text import cut, one_line
from diag.tui.looks.wording import ACCESS, minutes
from diag.tui.screens.case.panes.pane import Pane
from diag.tui.screens.case.parts.case_model import CaseView
from diag.tui.widgets.written import clickable, line, lines, text

VERBS = {"call": "TIME TO CALL", "close": "PROVED", "failed": "NOT CURED", "remedy": "REMEDY", "reset": "RESET"}
"""The frame's title in place of `NEXT`, where the next thing is neither a look nor a check."""
ENDS = {"cured": "Cured and proved.", "running": "Running, cause not found.", "handed-over": "Handed over."}

ODD = 2
"""The most rows for what is odd about the facts, where more would push out what there is to do."""

NOT_AT_THE_MACHINE = ("call", "close", "failed")
"""Kinds that are not done at the machine, so that access means nothing for them."""


class NextPane(Pane):
    """Shows one action in full and the others in a line each. Which one is in full is the screen's choice.

    One widget that wraps its own text, so that a new action never changes the layout of the screen."""

    def part(self, view: CaseView) -> object:
        state, advice = view.told, view.advised.advice
        says = (advice.tree_says, advice.odd) if advice else None
        return state.closed, state.danger, state.disagreements, says, view.offered, view.selection.chosen

    def show(self, view: CaseView) -> None:
        super().show(view)
        action = view.in_full
        head = title(view.told, action)
        if head != self.border_title:
            self.border_title = head
        self.set_class(action is not None and (action.kind == "call" or action.before_call), "-call")
        self.set_class(action is not None and action.kind == "close", "-proved")

    def draw(self) -> Content:
        width, height = self.content_size
        if not width or not height:
            return Content("")
        view, advice = self.view, self.view.advised.advice
        if view.in_full is None or advice is None:
            return _nothing(view)
        chosen, count = view.selection.chosen, len(view.offered)
        after = [(chosen + n) % count for n in range(1, count)]
        rows = about(view.in_full, "" if chosen else advice.tree_says).wrap(width)
        says = "; ".join(d.name for d in view.told.disagreements) or advice.odd
        odd = line(("≠ ", ".warn"), (one_line(says), ".warn")).wrap(width) if says else []
        if len(odd) > ODD and len(odd) + len(rows) + len(after) > height:
            odd = [*odd[: ODD - 1], line((cut(odd[ODD - 1].plain.rstrip(), width - 2) + " …", ".warn"))]
        rows = [*odd, *rows]
        spare = height - len(rows) - len(after)
        others: list[Content] = []
        for i in after:
            row = _other(i, view.offered[i], width, i == after[0])
            # A name is cut only where there is no room for its second row.
            if len(row) - 1 > spare:
                row = _other(i, view.offered[i], width, i == after[0], whole=False)
            spare -= len(row) - 1
            others += row
        room = max(height - len(others), 1)
        if len(rows) > room:
            more = clickable(line("  … ", ("i", ".key"), " shows it in full"), ("screen.info", ()))
            rows = [*rows[: room - 1], more]
        blank = [Content("")] * (room - len(rows))
        return lines([*rows, *blank, *others])


def title(state: CaseState, action: Action | None) -> str:
    if state.closed:
        return "CLOSED"
    if action is None:
        return "NEXT"
    if action.kind == "call" and action.id in state.called:
        return "CALLED"
    if action.before_call:
        return "TIME TO CALL · mark first"
    word = VERBS.get(action.kind, "PROOF" if state.remedy else "NEXT")
    return f"{word} · as the trainer wrote" if action.by_tree and word == "NEXT" else word


def about(action: Action, says: str = "", full: bool = False) -> Content:
    """One action: what, with what, how long, from where, why, and how where that may be shown."""
    rows = [text(one_line(action.title), ".strong")]
    if action.kind not in NOT_AT_THE_MACHINE:
        rows.append(_meta(action))
    elif action.minutes:
        rows.append(text(f"counts {minutes(action.minutes)}", ".quiet"))
    if not action.permission.now and action.permission.because:
        rows.append(line(("✕ ", ".warn"), one_line(action.permission.because)))
    if action.permission.how and action.how and one_line(action.how) not in one_line(action.title):
        rows.append(line(("▸ ", ".key"), one_line(action.how)))
        if action.caution and one_line(action.caution) not in one_line(action.how):
            rows.append(line(("▲ ", ".warn"), (one_line(action.caution), ".warn")))
    if says:
        rows.append(text(one_line(says), ".said"))
    if action.why:
        rows.append(text(one_line(action.why)))
    if action.where and (full or action.permission.how):
        rows.append(text(f"Where: {one_line(action.where)}", ".quiet"))
    return lines(rows)


def _meta(action: Action) -> Content:
    """Access, minutes and tool in one line."""
    words = [minutes(action.minutes)] if action.minutes else []
    if action.tool:
        words.append(one_line(action.tool))
    style = ".access-outside" if action.access is Access.OUTSIDE else ".access-inside"
    return line((ACCESS[action.access], style), *(f" · {word}" for word in words))


def _other(i: int, action: Action, width: int, first: bool, whole: bool = True) -> list[Content]:
    """One alternative, its name whole on as many rows as it takes or cut to one; the first has the key that turns to
    it."""
    tail = f" {ACCESS[action.access][0]} {minutes(action.minutes)}" if action.minutes else ""
    room = max(width - len(tail) - 2, 4)
    name = one_line(action.title)
    rows = []
    for n, part in enumerate(Content(name).wrap(room) if whole else [Content(cut(name, room))]):
        lead, end = ("a " if first and not n else "  ", ".key"), (tail if not n else "", ".quiet")
        row = line(lead, part.plain.rstrip().ljust(room), end)
        rows.append(clickable(row, ("screen.choose_action", (i,))))
    return rows


def _nothing(view: CaseView) -> Content:
    if view.state.closed:
        return lines((text(ENDS[view.state.closed], ".strong"), text("h writes the sheet, q leaves.")))
    if view.state.danger:
        return text("Nothing. Keep away and call.", ".strong")
    if view.advised.advice is None:
        return text("Weighing the facts …", ".quiet")
    return text("Nothing is left to look at that is worth its minutes. Call, or finish.", ".quiet")
