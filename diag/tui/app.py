"""The app: opens on the list of machines, on a machine, or on a case that was left."""

from __future__ import annotations

import os
from pathlib import Path
from typing import ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.screen import Screen

from diag.tui.session import Desk
from diag.tui.theme import NIGHT


class DiagApp(App[int]):
    """One theme, one style sheet, and whichever screen comes first."""

    CSS_PATH = "diag.tcss"
    TITLE = "diag"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, desk: Desk, first: Screen[None]) -> None:
        # Colour codes are left out altogether where NO_COLOR asks for it; otherwise Textual would send greys.
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.desk = desk
        self._first = first
        self.register_theme(NIGHT)
        self.theme = NIGHT.name

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """So that the style sheet holds with any theme."""
        return dict(NIGHT.variables)

    def on_mount(self) -> None:
        self.push_screen(self._first)
