"""A display in lit segments, as it stands on the machine."""

from __future__ import annotations

import re

from textual.content import Content

from diag.machine.model import Indication
from diag.panel.display import segments
from diag.text import cut, one_line
from diag.tui.looks.wording import plain
from diag.tui.widgets.written import line

SCROLLED = 10
"""Columns of a display that shows its code in steps: the whole code stands in it, as words."""
_PARTS = re.compile(r"\[[a-g]+\]|.")


def code(cell: Indication, state: str, said: str) -> str:
    """What to light: the code as it was said, or the one code of that state; empty where that is not known."""
    if said and one_line(said).casefold() not in ("blank", state.casefold()):
        return said
    patterns = [c.pattern for c in cell.codes if c.state == state and "?" not in c.pattern]
    return patterns[0] if len(patterns) == 1 else ""


def draw(cell: Indication, state: str, said: str, cursor: bool) -> list[Content]:
    """Three rows: segments between two rails, with the state in words beside the lowest."""
    size = SCROLLED if cell.scrolls else max(cell.characters, 1) * 4
    shown = code(cell, state, said) if state else ""
    rows = _lit(shown, cell.characters) if shown and not cell.scrolls else None
    if rows is None:
        word = (cell.scrolls and one_line(shown)) or plain(state) if state else "·" * cell.characters
        rows = (" " * size, cut(f" {word}", size).ljust(size), " " * size)
    # A thick frame marks it: segments drawn in reverse could not be read.
    left, right, rail = ("▐", "▌", ".key") if cursor else ("▕", "▏", ".rule")
    return [line((left, rail), (row[:size].ljust(size), ".glow"), (right, rail), " ") for row in rows]


def _lit(text: str, characters: int) -> tuple[str, str, str] | None:
    """The text in segments; `[acd]` is one digit by its segments, as a doubtful observation says it. None when it
    cannot be drawn, or when a digit of it could not be read."""
    parts = _PARTS.findall(text)
    if "?" in parts:
        return None
    try:
        if not any(p.startswith("[") for p in parts):
            return segments.render(text, characters)
        digits = [segments.bits(p[1:-1]) if p.startswith("[") else segments.cells(p)[0] for p in parts if p not in ".,"]
        return segments.draw(digits)
    except ValueError:
        return None
