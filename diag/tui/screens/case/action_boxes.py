"""Boxes about one action: all that is known of it, and what is to be seen before a reset."""

from __future__ import annotations

from collections.abc import Callable

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content

from diag.machine.model import Machine
from diag.text import one_line
from diag.tui.case_session import TOO_QUICK
from diag.tui.key_table import HELP, Key, bindings
from diag.tui.looks.wording import minutes, roles
from diag.tui.screen_help import ABOUT, RESET
from diag.tui.screens.base import Box
from diag.tui.screens.case.panes.next_pane import about
from diag.tui.screens.case.parts.requests import AskReset, InFull
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.written import Written, line, lines, text

CLOSE = Key("back", "escape,enter,i", "esc", "back", "Close this box.")
DONE = Key("done", "enter,d", "↵", "it is done", "The reset was done; next you are asked what came of it.")
BACK = Key("back", "escape", "esc", "back", "No reset.")


class InFullBox(Box[None]):
    """What it is, why, where, with what, by whom; how, where that may be shown."""

    HELP_DATA = ABOUT
    TABLE = (CLOSE, HELP)
    BINDINGS = bindings("about", TABLE)

    def __init__(self, full: InFull) -> None:
        super().__init__()
        self._full = full

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            box.border_title = "IN FULL"
            with VerticalScroll(classes="about-full"):
                yield Written(self._text())
            yield KeyBar(self.TABLE)

    def _text(self) -> Content:
        action, permission = self._full.action, self._full.action.permission
        rows = [about(action, full=True), text(f"Who: {roles(action.who)}", ".quiet")]
        if not permission.how and action.kind in ("check", "remedy"):
            rows.append(text("How to do it is shown once this is open.", ".quiet"))
        if permission.because and permission.now:
            rows.append(text(one_line(permission.because), ".quiet"))
        if action.leads:
            rows.append(text("What each answer would lead to:"))
            rows += [text(f"  {one_line(lead)}") for lead in action.leads]
        if self._full.odd:
            rows.append(line(("≠ ", ".warn"), (one_line(self._full.odd), ".warn")))
        for odd in self._full.disagreements:
            rows.append(line(("≠ ", ".warn"), (one_line(odd.name), ".warn")))
            rows.append(text("It can mean:"))
            rows += [text(f"  {one_line(cause)};") for cause in odd.causes]
        return lines(rows)


class ResetBox(Box[bool]):
    """What a reset clears, what to note first, how many are left, and whether it may be done at all. Gives True when it
    was done."""

    HELP_DATA = RESET
    TABLE = (DONE, BACK, HELP)
    BINDINGS = bindings("reset", TABLE)

    def __init__(self, machine: Machine, asks: AskReset, unhurried: Callable[[], bool]) -> None:
        """`unhurried`: notes a press, and says whether it comes late enough."""
        super().__init__()
        self._machine, self._asks, self._unhurried = machine, asks, unhurried
        self._may = asks.action.permission.now and (asks.count is None or asks.count.may)

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            box.border_title = "RESET"
            yield Written(self._text())
            yield KeyBar(self.TABLE if self._may else (BACK, HELP))

    def _text(self) -> Content:
        reset, count, action, missing = self._asks.reset, self._asks.count, self._asks.action, self._asks.missing
        rows = [text(one_line(reset.title), ".strong")]
        if count is not None:
            done = f"Done {count.done} of at most {count.limit} at this machine"
            rows.append(text(f"{done} · {minutes(reset.minutes)} · {roles(reset.who)}"))
            rows += [text(f"1 more was said by mistake, {one_line(who)}. It counts.") for who in count.mistaken]
        rows.append(Content(""))
        if reset.clears:
            rows.append(line(("Clears: ", ".strong"), one_line(reset.clears)))
        known = self._machine.indications
        names = {id: one_line(known[id].title) for id in reset.note_first if id in known}
        if missing and self._may:
            rows.append(line(("▲ Note first: ", ".warn"), ", ".join(names.get(id, id) for id in missing) + "."))
        elif names and not missing:
            rows.append(line(("✓ Noted: ", ".done"), ", ".join(names.values()) + "."))
        rows.append(Content(""))
        if self._may:
            if action.how:
                rows.append(line(("▸ ", ".key"), one_line(action.how)))
            rows.append(text(one_line(action.permission.because), ".quiet"))
        else:
            because = count.because if count is not None and not count.may else action.permission.because
            rows.append(line(("✕ ", ".warn"), (one_line(because), ".warn")))
        rows.append(Content(""))
        return lines(rows)

    def action_done(self) -> None:
        if self._may and self._unhurried():
            self.dismiss(True)
        elif self._may:
            self.query_one(".box").border_subtitle = TOO_QUICK
