"""Before a reset: what it clears, what to note first, how many are left, and whether it may be done at all."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content

from diag.case.snapshot import Action, ResetCount
from diag.machine.model import Machine, Reset
from diag.tui.helps import RESET
from diag.tui.keys import HELP, Key, bindings
from diag.tui.screens.base import Box
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.written import Written, line, lines, text
from diag.tui.words import clean, minutes, roles

DONE = Key("done", "enter,d", "↵", "it is done", "The reset was done; next you are asked what came of it.")
BACK = Key("back", "escape", "esc", "back", "No reset.")
TABLE = (DONE, BACK, HELP)


class ResetBox(Box[bool]):
    """Gives True when the reset was done."""

    HELP_DATA = RESET
    TABLE = TABLE
    BINDINGS = bindings("reset", TABLE)

    def __init__(
        self, machine: Machine, reset: Reset, count: ResetCount | None, action: Action, missing: Sequence[str]
    ) -> None:
        super().__init__()
        self._machine, self._reset, self._count, self._action, self._missing = machine, reset, count, action, missing

    @property
    def _may(self) -> bool:
        return self._action.permission.now and (self._count is None or self._count.may)

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            box.border_title = "RESET"
            yield Written(self._text())
            yield KeyBar(TABLE if self._may else (BACK, HELP))

    def _text(self) -> Content:
        reset, count = self._reset, self._count
        rows = [text(clean(reset.title), ".strong")]
        if count is not None:
            rows.append(
                text(
                    f"Done {count.done} of at most {count.limit} in this case · "
                    f"{minutes(reset.minutes)} · {roles(reset.who)}"
                )
            )
        rows.append(Content(""))
        if reset.clears:
            rows.append(line(("Clears: ", ".strong"), clean(reset.clears)))
        names = {
            id: clean(self._machine.indications[id].title) for id in reset.note_first if id in self._machine.indications
        }
        if self._missing and self._may:
            rows.append(line(("▲ Note first: ", ".warn"), ", ".join(names.get(id, id) for id in self._missing) + "."))
        elif names and not self._missing:
            rows.append(line(("✓ Noted: ", ".done"), ", ".join(names.values()) + "."))
        rows.append(Content(""))
        if self._may:
            if self._action.how:
                rows.append(line(("▸ ", ".key"), clean(self._action.how)))
            rows.append(text(clean(self._action.permission.because), ".quiet"))
        else:
            because = count.because if count is not None and not count.may else self._action.permission.because
            rows.append(line(("✕ ", ".warn"), (clean(because), ".warn")))
        rows.append(Content(""))
        return lines(rows)

    def action_done(self) -> None:
        if self._may:
            self.dismiss(True)
