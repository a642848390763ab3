"""A display in lit segments, dark ones faintly behind them."""
from __future__ import annotations

from textual.content import Content

from diag.machine.model import Indication
from diag.tui.widgets.written import line

HEIGHT = 3

def draw(cell: Indication, state: str, said: str, cursor: bool) -> list[Content]:
    return [line("           ")] * 3
