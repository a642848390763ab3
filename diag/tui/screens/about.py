"""One action in full."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content

from diag.case.snapshot import Action, Disagreement
from diag.tui.helps import ABOUT
from diag.tui.keys import HELP, Key, bindings
from diag.tui.screens.base import Box
from diag.tui.widgets import next as pane
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.written import Written, line, lines, text
from diag.tui.words import clean, roles

BACK = Key("back", "escape,enter,i", "esc", "back", "Close this box.")
TABLE = (BACK, HELP)


class About(Box[None]):
    """What it is, why, where, with what, by whom; how, where that may be shown."""

    HELP_DATA = ABOUT
    TABLE = TABLE
    BINDINGS = bindings("about", TABLE)

    def __init__(self, action: Action, disagreements: tuple[Disagreement, ...] = (), odd: str = "") -> None:
        """`odd`: what no single cause explains."""
        super().__init__()
        self._action, self._disagreements, self._unexplained = action, disagreements, odd

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            box.border_title = "IN FULL"
            with VerticalScroll(classes="about-full"):
                yield Written(self._text())
            yield KeyBar(TABLE)

    def _text(self) -> Content:
        action = self._action
        rows = [pane.about(action, full=True), text(f"Who: {roles(action.who)}", ".quiet")]
        if not action.permission.how and action.kind in ("check", "remedy"):
            rows.append(text("How to do it is shown once this is open.", ".quiet"))
        if action.permission.because and action.permission.now:
            rows.append(text(clean(action.permission.because), ".quiet"))
        if action.leads:
            rows.append(text("What each answer would lead to:"))
            rows += [text(f"  {clean(lead)}") for lead in action.leads]
        if self._unexplained:
            rows.append(line(("≠ ", ".warn"), (clean(self._unexplained), ".warn")))
        for odd in self._disagreements:
            rows.append(line(("≠ ", ".warn"), (clean(odd.name), ".warn")))
            rows.append(text("It can mean:"))
            rows += [text(f"  {clean(cause)};") for cause in odd.causes]
        return lines(rows)
