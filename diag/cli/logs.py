"""What `--verbose` and `--log-file` tell: which files were read and written, what is in force, and how long it took.

No text of a case, no fact and no argument is told; a path may hold the name of a user's folder. The files are learnt
from the interpreter's own audit events, so that none is left out and no other room needs to know of this one.
"""

from __future__ import annotations

import contextlib
import logging
import os
import sys
import time
import traceback
from pathlib import Path
from typing import Any, Final, TextIO

from diag.cli.errors import WrongUsage

KINDS: Final = (".yaml", ".yml", ".toml", ".json", ".md", ".txt", ".sqlite3")
"""Ends of the names of files that are told; the interpreter's own are not."""

log: Final = logging.getLogger("diag")
_began = 0.0
_hooked = False
_telling = False


class _Teller(logging.StreamHandler[TextIO]):
    """Tells lines on a stream. It goes silent at its first failure, which is said once where the stream is a file's;
    the command itself goes on, with the exit code of its own."""

    def __init__(self, stream: TextIO, form: str, file: Path | None = None) -> None:
        super().__init__(stream)
        self.setFormatter(logging.Formatter(form))
        self.file = file
        self.broken = False

    def emit(self, record: logging.LogRecord) -> None:
        if not self.broken:
            super().emit(record)

    def handleError(self, record: logging.LogRecord) -> None:
        self.broken = True
        if self.file is not None:
            from diag.cli.outcome import say_on_stderr

            error = sys.exc_info()[1]
            why = (getattr(error, "strerror", None) or str(error)).lower()
            with contextlib.suppress(OSError, ValueError):
                say_on_stderr(f"the log cannot be written to {self.file.absolute()}: {why}")


def start(verbose: bool, file: Path | None) -> None:
    """Tell on standard error, in a file that is added to, or in both. Raises OSError where the file cannot be opened,
    and `WrongUsage` for `-`, which elsewhere stands for standard output.

    Where the file is made, only its owner may read it."""
    global _began, _hooked
    _began = time.monotonic()
    log.setLevel(logging.INFO)
    log.propagate = False
    if file is not None:
        if str(file) == "-":
            raise WrongUsage("--log-file needs the name of a file; --verbose tells the same on standard error")
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        log.addHandler(_Teller(os.fdopen(descriptor, "a", encoding="utf-8"), "%(asctime)s %(message)s", file))
    if verbose and sys.stderr is not None:
        log.addHandler(_Teller(sys.stderr, "diag: %(message)s"))
    if not _hooked:
        # An audit hook stays for good; it is silent while nothing listens.
        sys.addaudithook(_heard)
        _hooked = True


def tell(text: str) -> None:
    """One line, with the seconds since the command began."""
    from diag.text import one_line

    global _telling
    if log.handlers and not _telling:
        _telling = True
        try:
            log.info("%s", f"[{time.monotonic() - _began:.3f} s] {one_line(text)}")
        finally:
            _telling = False


def leave_the_screen() -> None:
    """Tell nothing on standard error any more, because the app is going to paint there."""
    log.handlers[:] = [handler for handler in _tellers() if handler.file is not None]


def fault(error: BaseException) -> None:
    """Where a fault came up. Its message is left out, because it may repeat what a person wrote."""
    tell(f"a fault in this program: {type(error).__name__}")
    for frame in traceback.extract_tb(error.__traceback__):
        tell(f"in {frame.name}, {frame.filename}, line {frame.lineno}")


def end(code: int) -> None:
    """The last line; the file is closed."""
    times = os.times()
    tell(f"ended with exit code {code}; {times.user + times.system:.3f} s of processor time in all")
    tellers, log.handlers[:] = _tellers(), []
    for teller in tellers:
        if teller.file is not None:
            with contextlib.suppress(OSError, ValueError):  # what a full disk did not take; it has been said
                teller.stream.close()


def _tellers() -> list[_Teller]:
    return [handler for handler in log.handlers if isinstance(handler, _Teller)]


def _heard(event: str, details: tuple[Any, ...]) -> None:
    if not log.handlers or _telling:
        return
    if event == "open" and isinstance(details[0], str) and details[0].endswith(KINDS):
        mode, flags = details[1], details[2]
        written = any(c in mode for c in "wxa+") if isinstance(mode, str) else bool(flags & (os.O_WRONLY | os.O_RDWR))
        tell(f"{'wrote' if written else 'read'} {details[0]}")
    elif event == "sqlite3.connect":
        tell(f"opened {details[0]}")
