"""How the case screen comes by its advice: weighed in a thread, painted when it is there, looked at further ahead while
the person reads."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING

from textual.worker import get_current_worker

from diag.case.snapshot import Advice, State
from diag.tui.turn import Turn
from diag.tui.widgets.causes import Causes
from diag.tui.words import clean

if TYPE_CHECKING:
    from typing import Any

    from diag.tui.session import Sitting

READ = 0.4
"""Seconds within which nobody has read what the screen asks for, and it may still ask for something else."""


class CaseAdvice:
    """The part of the case screen that waits for advice. It leans on what `CaseScreen` defines."""

    if TYPE_CHECKING:
        sitting: Sitting
        turn: Turn
        advice: Advice | None
        is_mounted: bool
        query_one: Any
        run_worker: Any
        call_after_refresh: Any
        call_later: Any
        _fresh: bool

        @property
        def state(self) -> State: ...
        def hint(self, words: str) -> None: ...
        def _typed(self) -> str: ...
        def _show_turn(self) -> None: ...
        def _show_evidence(self) -> None: ...

    def _weigh(self) -> None:
        """Advice is worked out in a thread, once the state is painted. Until it comes, only questions that stand
        unanswered take a key."""
        self._fresh = False
        self.call_after_refresh(self._start_weighing)

    def _start_weighing(self) -> None:
        self.run_worker(self._advise, thread=True, exclusive=True, group="advice", exit_on_error=False)

    def _advise(self) -> None:
        worker = get_current_worker()
        state, advice = self.sitting.advice()
        if worker.is_cancelled:
            return
        # Handed over without waiting: a thread that waits for an app that is closing would wait for ever.
        self.call_later(self._weighed, state, advice)
        begun = time.monotonic()
        further = self.sitting.further(lambda: worker.is_cancelled)
        if further is not None and not worker.is_cancelled:
            self.call_later(self._looked_further, *further, time.monotonic() - begun > READ)

    def _weighed(self, state: State, advice: Advice) -> None:
        if not self.is_mounted or state is not self.state:
            return
        self._fresh = True
        self.turn = self.turn.kept(self.advice, advice)
        self.advice = advice
        self.query_one(Causes).show(advice.causes)
        self._show_evidence()
        self._show_turn()

    def _looked_further(self, state: State, advice: Advice, reading: bool) -> None:
        """What comes while nobody can have read far takes its place; later on what is shown stays, and the better
        thing stands beside it."""
        if not self.is_mounted or state is not self.state or self.advice is None:
            return
        now = self.advice.next
        held = next((a for a in advice.others if now and (a.kind, a.id) == (now.kind, now.id)), None)
        if held is None or advice.next is None or not (reading or self._typed()):
            self._weighed(state, advice)
            return
        others = (advice.next, *(a for a in advice.others if a is not held))
        self._weighed(state, replace(advice, next=held, others=others))
        self.hint(f"Looked further ahead: “{clean(advice.next.title)}” first ends this sooner (a).")
