"""The states that a doubtful sight may stand for, a few of them, with how likely each is where that is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from textual.content import Content

from diag.tui.widgets.written import line, text
from diag.tui.words import bar, clean, cut, percent

MOST: Final = 5
BAR: Final = 6
CODE: Final = 12
"""Columns that a code may take."""


@dataclass(frozen=True, slots=True)
class CouldBe:
    """A state: what is shown in it, what that means, and its share of 1 where it is known."""

    code: str
    means: str
    share: float | None = None


def could_be_rows(found: Sequence[CouldBe], width: int) -> list[Content]:
    """A row each, at most five. `width`: columns that a row may take."""
    shown = found[:MOST]
    column = min(max((len(clean(f.code)) for f in shown), default=0), CODE)
    return [_row(f, column, width) for f in shown]


def rest(found: Sequence[CouldBe]) -> str:
    """A word for those that are not shown; empty when all are."""
    return f"and {len(found) - MOST} more" if len(found) > MOST else ""


def _row(found: CouldBe, column: int, width: int) -> Content:
    lead: Content = text("  ")
    if found.share is not None:
        lead = line("  ", percent(found.share), " ", (bar(found.share, BAR), ".bar"), " ")
    code = cut(clean(found.code), column).ljust(column)
    room = max(width - len(lead) - column - 2, 0)
    return line(lead, (code, ".strong"), "  ", cut(clean(found.means), room))
