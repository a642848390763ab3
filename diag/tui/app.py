"""The app: opens on the list of machines, on a machine, or on a case that was left."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import sys
from functools import partial
from typing import ClassVar

from textual.app import App
from textual.binding import BindingType

from diag.tui.app_context import AppContext as AppContext
from diag.tui.key_table import APP, bindings
from diag.tui.looks.themes import DARK, THEMES, other
from diag.tui.screens.home import HomeScreen

ENDED = 128
"""What a shell adds to the number of the signal that ended a program, for the exit code."""


class DiagApp(App[int]):
    """Two themes, one style sheet, and whichever screen comes first."""

    CSS_PATH = "diag.tcss"
    TITLE = "diag"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = bindings("app", APP)

    def __init__(
        self, context: AppContext, machine: str = "", case: str = "", theme: str = DARK.name, asset: str = ""
    ) -> None:
        """`machine` (with one of its assets) or `case`: what to open after asking who it is, a new case of the machine
        or a case that was left;
        the list of machines stands behind it. `theme`: a name of `THEMES`."""
        # Colour codes are left out altogether where NO_COLOR asks for it; Textual alone would send greys.
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.context = context
        self._machine, self._asset, self._case = machine, asset, case
        for known in THEMES.values():
            self.register_theme(known)
        self.theme = theme

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """The colours that the style sheet asks for, so that it also works with a theme that lacks them."""
        return dict(DARK.variables)

    def _print_error_renderables(self) -> None:
        """Prints nothing: a fault of the app is raised by `run`, so that it ends as one line and not as a traceback."""

    def on_mount(self) -> None:
        # Whoever ends the program from outside gets the terminal back as it was. Windows has no such handlers
        # and raises NotImplementedError; a loop outside the main thread can take none and raises RuntimeError.
        with contextlib.suppress(NotImplementedError, RuntimeError):
            end = partial(self.exit, return_code=ENDED + signal.SIGTERM)
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, end)
        home = HomeScreen(self.context)
        self.push_screen(home)
        if self._machine or self._case:
            from diag.tui.screens.sitting_down import SittingDown

            SittingDown(home, self.context, machine=self._machine, asset=self._asset, case=self._case).begin()

    def action_pages(self) -> None:
        """Opens the written pages over the present screen. Where they stand below their help, that is closed."""
        from diag.tui.screens.help import HelpScreen
        from diag.tui.screens.pages import PageScreen, PagesScreen

        if not any(isinstance(screen, (PagesScreen, PageScreen)) for screen in self.screen_stack):
            self.push_screen(PagesScreen())
        elif isinstance(self.screen, HelpScreen):
            self.screen.dismiss(None)

    def action_other_theme(self) -> None:
        self.theme = other(self.theme)


def run(context: AppContext, machine: str, case: str, theme: str, asset: str = "") -> int:
    """Runs the app until it is left, and returns the exit code. A fault of the app is raised once the terminal is
    restored. The arguments are those of `DiagApp`."""
    app = DiagApp(context, machine, case, theme, asset)
    app.run()
    if context.storing:
        _tell("Waiting until the last entry is stored …")
    words = context.parting()
    context.close()
    if app._exception is not None:
        raise app._exception
    if words:
        _tell(words)
    return app.return_code or 0


def _tell(words: str) -> None:
    """A terminal that is gone is told nothing."""
    with contextlib.suppress(OSError):
        sys.stdout.write(words + "\n")
        sys.stdout.flush()
