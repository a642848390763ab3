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
MOVE = Key("move(1)", "down", "↑↓", "line", "Go to another line; nothing is lost.")
UP = Key("move(-1)", "up", "", "", "")
TABLE = (TAKE, BACK, HELP_F1)
LINES = (TAKE, MOVE, BACK, HELP_F1)
"""Where there are several lines."""


class Ask(Box[Answers]):
    """Asks for lines of text."""

    HELP_DATA = ASK
    TABLE = TABLE
    BINDINGS = bindings("ask", (*LINES, UP))

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
            yield KeyBar(LINES if len(self._asks.lines) > 1 else TABLE)

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

    @property
    def _at(self) -> int:
        """The number of that line."""
        return int((self._line.id or "ask-0").removeprefix("ask-"))

    def _go_to(self, n: int) -> None:
        self.query_one(f"#ask-{n}", Input).focus()

    def action_move(self, step: int) -> None:
        self._go_to(min(max(self._at + step, 0), len(self._asks.lines) - 1))

    @on(Input.Submitted)
    def action_take(self) -> None:
        asks, answers, at = self._asks, self._answers, self._at
        missing = [n for n, one in enumerate(asks.lines) if not answers[n] and not one.empty]
        if at in missing:
            self._refuse(f"{asks.lines[at].prompt}: still to be typed.", at)
        elif asks.in_turn and at + 1 < len(asks.lines):
            self._go_to(at + 1)
        elif missing:
            self._go_to(missing[0])
        elif wrong := asks.check(answers):
            self._refuse(wrong, asks.concerns(answers))
        else:
            self.dismiss(answers)

    def _refuse(self, why: str, n: int | None) -> None:
        """Says why not, at the line that it is about."""
        self.query_one(Status).warn(why)
        if n is not None:
            self._go_to(n)


def _pad(more: Iterable[str]) -> Content:
    """Figures to be clicked, and what else stands in a reading: `OL` over the range, `k` and `M` as in 1k2 and 4M7;
    and `more`."""
    keys = [clickable(text(f" {k} ", ".link"), ("screen.put", (k,))) for k in (*"0123456789.-kM", "OL")]
    keys += [clickable(text(f" {'␣' if k == ' ' else k} ", ".link"), ("screen.put", (k,))) for k in more]
    return line(*keys, clickable(text("  ← ", ".link"), ("screen.rub_out", ())))
