"""Looks in the casebook for what others enter, in a thread of its own, so that a held database never freezes a screen.

It only reads. What it has read is handed to the screens, which take it in between two keys and paint it at once, so
that no key is ever judged by what was not yet to be seen.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from diag.record.casebook import CasebookError
from diag.tui.case_session import CaseSession

if TYPE_CHECKING:
    from diag.case.log.stored import Stream

EVERY = 0.02
"""Seconds between two looks whether the casebook has changed, each of which takes microseconds."""
ANYHOW = 1.0
"""Seconds after which it is read though nothing told of a change."""
LOST = 3.0
"""Seconds without an answer after which nobody may trust what stands on the screen."""


class Following:
    """Follows one case until it is stopped."""

    def __init__(self, session: CaseSession, tell: Callable[[Stream], object], back: Callable[[], object]) -> None:
        """`tell`: given what others entered; `back`: called when the casebook answers again. Both are called in the
        thread, and must not wait."""
        self._session, self._tell, self._back = session, tell, back
        self._stopped, self._away = threading.Event(), False
        self._heard = time.monotonic()
        self._due = 0.0

    @property
    def lost(self) -> bool:
        """The casebook has not answered for too long."""
        return time.monotonic() - self._heard > LOST

    def start(self) -> None:
        threading.Thread(target=self._run, name="following", daemon=True).start()

    def stop(self) -> None:
        self._stopped.set()

    def now(self) -> None:
        """Looks at once; after the program was suspended nothing is painted before this. Raises `CasebookError`."""
        self._look()

    def _run(self) -> None:
        while not self._stopped.wait(EVERY):
            try:
                self._look()
            except (CasebookError, KeyError):
                self._away = True
                continue
            entry = self._session.entries.entry
            if self._away or entry.away:
                self._away = entry.away = False
                self._back()

    def _look(self) -> None:
        stirred, now = self._session.stirred(), time.monotonic()
        if stirred or now >= self._due:
            self._due = 0.0  # until it was read
            news = self._session.news()
            self._due = now + ANYHOW
        else:
            news = None
        self._heard = time.monotonic()
        if news is not None and not self._stopped.is_set():
            self._tell(news)
