"""Stores entries in a thread, one at a time, so that a held casebook never freezes a screen.

What the rule says of an entry, and what is shown of it afterwards, is worked out where the keys are taken; only the
wait for the casebook takes place in the thread. Whoever enters waits a moment for it. Where it takes longer, the screen
goes on, and is told when it is over.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, wait
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from diag.safety.types import Refused
from diag.text import one_line

if TYPE_CHECKING:
    from diag.case.case import Case, Draft
    from diag.record.entry import Stored

MOMENT = 0.1
"""Seconds that a key waits for its entry. Nobody sees a screen stand still for so long."""
STORING = "Being stored …"
NOT_YET = "Not taken: the entry before it is still being stored."
LEFT = "The last entry was not stored"


@dataclass
class Entry:
    """One entry, and what came of it."""

    wrong: str = ""
    """Why it was refused, or could not be stored, in one line; empty when it was entered."""
    worth: str = ""
    """What an observation is worth, in words."""
    lost: bool = False
    """The casebook could not store it; the rule had allowed it."""
    away: bool = False
    """Because the casebook was not there at all."""
    over: bool = True
    """Nothing more will come of it; until then it is being stored."""
    again: Callable[[], object] = bool
    """Asks for the same once more, with what was typed."""


class Storing:
    """The entries of one case."""

    def __init__(self, case: Case, lock: threading.Lock) -> None:
        """`lock`: held while what the case knows changes, and never while the casebook is waited for."""
        self._case, self._lock = case, lock
        self._draft: Draft | None = None
        self._stored: Future[Stored | None] = Future()
        self._kept: Callable[[], object] = bool
        self.entry = Entry()
        """The last one."""

    @contextmanager
    def entering(self, kept: Callable[[], object], worth: str = "") -> Iterator[list[Draft]]:
        """Stores the draft that is put into the list; the rule may refuse it meanwhile. `kept` is called once it is
        stored. What came of it is `entry`."""
        self.entry, self._kept = Entry(worth=worth, over=False), kept
        with self._refusing(), self._lock:
            drafts: list[Draft] = []
            yield drafts
            self._draft = drafts[0]
        self._go_on()
        self.settle(MOMENT)

    def settle(self, seconds: float | None = 0.0) -> Entry:
        """Waits so long, or with None for as long as it takes, and shows what came of the entry."""
        while not self.entry.over:
            if not wait([self._stored], seconds).done:
                break
            with self._refusing(), self._lock:
                assert self._draft is not None
                self._draft = self._case.adopt(self._draft, self._stored.result())
            self._go_on()
        return self.entry

    def when_stored(self, call: Callable[[], object]) -> None:
        """`call` is called in the thread once `settle` need not wait."""
        self._stored.add_done_callback(lambda _: call())

    def _go_on(self) -> None:
        """Waits for the casebook in a thread, where there is something to store; else the entry is over."""
        if self.entry.over:
            return
        if self._draft is None:
            self.entry.over = True
            self._kept()
            return
        self._stored = Future()
        threading.Thread(target=self._store, args=(self._draft, self._stored), name="storing", daemon=True).start()

    def _store(self, draft: Draft, stored: Future[Stored | None]) -> None:
        try:
            stored.set_result(self._case.append(draft))
        except BaseException as error:
            stored.set_exception(error)

    @contextmanager
    def _refusing(self) -> Iterator[None]:
        """A refusal ends the entry, and is kept in it."""
        from diag.record.casebook import CasebookError, Conflict, InDoubt, Moved

        try:
            yield
        except (Refused, CasebookError, ValueError) as error:
            self.entry.over, self.entry.wrong = True, one_line(str(error)) or "That was refused."
            self.entry.away = isinstance(error, Moved)
            self.entry.lost = isinstance(error, CasebookError) and not isinstance(error, Conflict | InDoubt)
