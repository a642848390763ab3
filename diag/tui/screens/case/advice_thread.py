"""Weighs the facts of a case in a thread while its screen stays quick, and then looks further ahead."""

from __future__ import annotations

import time
from collections.abc import Callable

from textual.screen import Screen
from textual.worker import get_current_worker

from diag.case.snapshot import CaseState
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import Reply

READ = 0.4
"""Seconds within which nobody has read what the screen asks for, and it may still ask for something else."""


class AdviceThread:
    """One weighing at a time; a newer one calls off the one before."""

    def __init__(self, screen: Screen[None], model: CaseModel, reply: Callable[[Reply], None]) -> None:
        """`reply`: shows on the screen what the advice has changed in the model."""
        self._screen, self._model, self._reply = screen, model, reply
        self._of: CaseState | None = None

    def weigh(self, state: CaseState) -> None:
        """Weighs this state once it is painted, if it was not given to the thread already."""
        if state is not self._of:
            self._of = state
            self._screen.call_after_refresh(self._start)

    def _start(self) -> None:
        self._screen.run_worker(self._run, thread=True, exclusive=True, group="advice", exit_on_error=False)

    def _run(self) -> None:
        worker, session = get_current_worker(), self._model.session
        weighed = session.advice()
        if worker.is_cancelled:
            return
        # Handed over without waiting: a thread that waits for an app that is closing would wait for ever.
        self._screen.call_later(self._take, self._model.weighed, *weighed)
        begun = time.monotonic()
        ahead = session.look_ahead(lambda: worker.is_cancelled)
        if ahead is not None and not worker.is_cancelled:
            # Somebody may have read the first advice by now.
            reading = time.monotonic() - begun > READ
            self._screen.call_later(self._take, self._model.looked_ahead, *ahead, reading)

    def _take(self, advised: Callable[..., Reply | None], *advice: object) -> None:
        found = advised(*advice) if self._screen.is_mounted else None
        if found is not None:
            self._reply(found)
