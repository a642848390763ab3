"""The strip below the panel, where an answer is given: what `strip.Strip` says, and the line to type in."""

from __future__ import annotations

from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Input

from diag.tui.looks.pieces import Pieces
from diag.tui.screens.case.parts.strip import Strip
from diag.tui.screens.over_case import OverCase
from diag.tui.widgets.written import Written, drawn, lines


class Typed(Input):
    """The line to type in. Escape gives the keys back."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "screen.stop_typing", "back", show=False)]

    async def on_key(self, event: events.Key) -> None:
        """What stands here while it is being stored stays as it is."""
        if isinstance(self.screen, OverCase) and self.screen.session.storing:
            self.screen.not_taken(event)

    def begin(self, characters: str) -> None:
        """The keys go to the line, with these characters typed into it."""
        self.value += characters
        self.screen.set_focus(self)
        self.cursor_position = len(self.value)


class AnswerStrip(Vertical):
    """Shows one `Strip`."""

    _strip: Strip | None = None

    def compose(self) -> ComposeResult:
        yield Written(id="answer-head")
        yield Written(id="answer-chips")
        with Vertical(id="answer-line"):
            with Horizontal():
                yield Written(id="answer-prompt")
                yield Typed(id="answer-typed", compact=True, select_on_focus=False, max_length=40)
                yield Written(id="answer-after")
            yield Written(id="answer-below")

    def show(self, strip: Strip) -> None:
        if strip == self._strip:
            return
        before = self._strip.asked if self._strip is not None else None
        if strip.asked is not None and (before is None or strip.asked.indication is not before.indication):
            self.query_one(Typed).value = ""
        self._strip = strip
        self.set_class(strip.typing, "-typing")
        self.set_class(strip.asked is not None and strip.asked.source == "PANEL", "-panel")
        self._write()

    @on(events.Resize)
    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def _write(self) -> None:
        strip, width = self._strip, max(self.size.width - 2, 20)
        if strip is None:
            return
        rows: dict[str, tuple[Pieces, ...]] = {"head": (strip.head(width),)}
        if strip.typing:
            typed_in = self.query_one(Typed).has_focus
            rows |= {"prompt": (strip.prompt(),), "after": (strip.beside(typed_in),), "below": (strip.below(width),)}
        else:
            rows |= {"chips": strip.answers(width)}
        for name, pieces in rows.items():
            self.query_one(f"#answer-{name}", Written).write(lines(map(drawn, pieces)))
