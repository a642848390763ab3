"""The app: opens on the list of machines, on a machine, or on a case that was left."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path
from typing import ClassVar

from textual.app import App
from textual.binding import BindingType

from diag.tui.screens.home import HomeScreen, start
from diag.tui.session import Desk
from diag.tui.theme import NIGHT


class DiagApp(App[int]):
    """One theme, one style sheet, and whichever screen comes first."""

    CSS_PATH = "diag.tcss"
    TITLE = "diag"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, desk: Desk, machine: str = "", case: str = "") -> None:
        """`machine` or `case`: what to open after asking who it is; the list of machines stands behind it."""
        # Colour codes are left out altogether where NO_COLOR asks for it; Textual alone would send greys.
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.desk = desk
        self._machine, self._case = machine, case
        self.register_theme(NIGHT)
        self.theme = NIGHT.name

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """So that the style sheet holds with any theme."""
        return dict(NIGHT.variables)

    def _print_error_renderables(self) -> None:
        """Nothing: a fault of the app leaves by `run` as an error, and not as a page of traceback."""

    def on_mount(self) -> None:
        home = HomeScreen(self.desk)
        self.push_screen(home)
        if self._machine or self._case:
            start(home, self.desk, machine=self._machine, case=self._case)


def run(
    machine: str | None = None,
    knowledge: Path | None = None,
    casebook: Path | None = None,
    case: str | None = None,
) -> int:
    """Run the app until it is left. The exit code. Raises what went wrong in the app, once the terminal is restored.

    `knowledge`: the folder of machines, else the one that comes with diag; `casebook`: its file, else the user's own;
    with a machine a new case of it is opened, with a case that one is resumed.
    """
    if knowledge is None:
        from diag.machine.find import knowledge_folder

        knowledge = knowledge_folder()
    app = DiagApp(Desk(knowledge, casebook), machine or "", case or "")
    app.run()
    if app._exception is not None:
        raise app._exception
    if words := app.desk.parting():
        # A terminal that is gone is told nothing.
        with contextlib.suppress(OSError):
            sys.stdout.write(words + "\n")
            sys.stdout.flush()
    return app.return_code or 0
