"""One line or several to type in: a note, a reason, the values of a formula."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Input

from diag.text import one_line
from diag.tui.key_table import HELP_F1, Key, bindings
from diag.tui.questions import Answers, AskLines
from diag.tui.screen_help import ASK
from diag.tui.screens.base import Box
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, clickable, line, text

BACK = Key("back", "escape", "esc", "back", "Leave everything as it was.")
TAKE = Key("take", "enter", "↵", "next, then take", "Go to the next line; on the last one take them all.")
TABLE = (TAKE, BACK, HELP_F1)


class Ask(Box[Answers]):
    """Asks for lines of text."""

    HELP_DATA = ASK
    TABLE = TABLE
    BINDINGS = bindings("ask", TABLE)

    def __init__(self, asks: AskLines) -> None:
        super().__init__(classes="asker")
        self._asks = asks

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            box.border_title = text(one_line(self._asks.title))
            if self._asks.about:
                yield Written(text(one_line(self._asks.about)), classes="ask-about")
            for n, one in enumerate(self._asks.lines):
                with Horizontal(classes="ask-line"):
                    yield Written(text(one_line(one.prompt)), classes="ask-prompt")
                    yield Input(one.value, placeholder=one.example, compact=True, id=f"ask-{n}", max_length=400)
                    yield Written(text(one_line(one.after), ".quiet"), classes="ask-after")
            if self._asks.pad:
                yield Written(_pad(self._asks.pad_more), id="ask-pad")
            if self._asks.tell is not None:
                yield Written(id="ask-tell")
            yield Status(id="ask-status")
            yield KeyBar(TABLE)

    def on_mount(self) -> None:
        self.query_one("#ask-0", Input).focus()
        if self._asks.wrong_before:
            self.query_one(Status).warn(self._asks.wrong_before)

    @property
    def _answers(self) -> Answers:
        return tuple(one_line(self.query_one(f"#ask-{n}", Input).value) for n in range(len(self._asks.lines)))

    @on(Input.Changed)
    def changed(self) -> None:
        if self._asks.tell is not None:
            self.query_one("#ask-tell", Written).write(text(one_line(self._asks.tell(self._answers))))

    @property
    def _line(self) -> Input:
        """The line that is typed in now."""
        at = self.focused
        return at if isinstance(at, Input) else self.query_one("#ask-0", Input)

    def action_put(self, figure: str) -> None:
        """A figure that was clicked."""
        self._line.insert_text_at_cursor(figure)

    def action_rub_out(self) -> None:
        self._line.action_delete_left()

    @on(Input.Submitted)
    def action_take(self) -> None:
        answers = self._answers
        for n, (one, answer) in enumerate(zip(self._asks.lines, answers, strict=True)):
            if not answer and not one.empty:
                asked = self.query_one(f"#ask-{n}", Input)
                if asked.has_focus:
                    self.query_one(Status).warn(f"{one.prompt}: still to be typed.")
                asked.focus()
                return
        if wrong := self._asks.check(answers):
            self.query_one(Status).warn(wrong)
        else:
            self.dismiss(answers)


def _pad(more: Iterable[str]) -> Content:
    """Figures to be clicked, and what else stands in a reading: `OL` over the range, `k` and `M` as in 1k2 and 4M7;
    and `more`."""
    keys = [clickable(text(f" {k} ", ".link"), ("screen.put", (k,))) for k in (*"0123456789.-kM", "OL")]
    keys += [clickable(text(f" {'␣' if k == ' ' else k} ", ".link"), ("screen.put", (k,))) for k in more]
    return line(*keys, clickable(text("  ← ", ".link"), ("screen.rub_out", ())))
