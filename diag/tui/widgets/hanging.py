"""Rows with a lead (a key, a sign) and a text that breaks under itself, not under the lead."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size

from diag.tui.widgets.written import Written, line, lines


class Hanging(Written):
    """Each row is a lead and a text."""

    def __init__(self, rows: tuple[tuple[Content, str], ...], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows = rows

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._wrapped(width))

    def draw(self) -> Content:
        return lines(self._wrapped(self.content_size.width))

    def _wrapped(self, width: int) -> list[Content]:
        found: list[Content] = []
        for lead, words in self._rows:
            room = max(width - len(lead), 8)
            parts = Content(words).wrap(room) if words else [Content("")]
            found.append(line(lead, parts[0]))
            found += [line(" " * len(lead), part) for part in parts[1:]]
        return found
