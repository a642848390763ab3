"""Somebody at the app in a terminal of 80 by 24, with a new case of the tray stacker open, for the benchmarks."""

from __future__ import annotations

import sys
from pathlib import Path
from types import TracebackType

from pairs import ROOT
from terminal import Terminal

BARE = ROOT / "tests" / "bench" / "bare_app.py"
QUIT = "\x11"
WHO = ("Jo Weber", "\r", "2", "\r")
"""A name, on to the role, electrician, on."""


class Sitting:
    """A case screen, ready for the first fact."""

    def __init__(self, folder: str) -> None:
        home = dict.fromkeys(("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"), folder)
        book = Path(folder) / "casebook.sqlite3"
        book.touch()  # one that is named has to be there
        self.terminal = Terminal(
            [sys.executable, "-m", "diag", "--casebook", str(book), "start", "tray-stacker"], env=home, cwd=ROOT
        )
        try:
            self._arrive()
        except BaseException:
            self.terminal.close()
            raise

    def _arrive(self) -> None:
        """Say who it is, and wait for the first advice."""
        self.terminal.wait_for("first and last name", 30.0)
        for keys in WHO:
            self.terminal.quiet(0.3)
            self.terminal.press(keys)
        self.terminal.wait_for("LIKELY CAUSES", 30.0)
        self.terminal.wait_for("%", 30.0)
        self.terminal.quiet(0.5)

    def key(self, key: str, until: str) -> float:
        """Seconds from pressing a key until this was painted again; then waits until all is still."""
        before = len(self.terminal.painted)
        pressed = self.terminal.press(key)
        moment = self.terminal.wait_for(until, 10.0, before)
        self.terminal.quiet(0.4)
        return moment - pressed

    def leave(self) -> float:
        """Quit in good order. The peak resident set in megabytes."""
        self.terminal.press(QUIT)
        assert self.terminal.ended(20.0) == 0
        assert self.terminal.usage is not None
        return self.terminal.usage.ru_maxrss / 1024

    def __enter__(self) -> Sitting:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.terminal.close()


class Bare:
    """The bare app, ready for keys."""

    def __init__(self, *arguments: str) -> None:
        self.terminal = Terminal([sys.executable, str(BARE), *arguments], cwd=ROOT)
        self.terminal.wait_for("bare app", 30.0)
        self.terminal.quiet(0.3)

    key = Sitting.key
    leave = Sitting.leave
    __enter__ = Sitting.__enter__
    __exit__ = Sitting.__exit__
