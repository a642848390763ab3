"""What Enter does on the case screen: type, or say that what is shown is done.

What was done at the machine is said twice: a remedy is recorded by a second Enter, or by a click on the words.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from diag.case.snapshot import Action, Advice, State
from diag.tui.turn import Turn
from diag.tui.widgets.answer import DIGITS, Target, typed
from diag.tui.widgets.status import Status
from diag.tui.words import clean

if TYPE_CHECKING:
    from typing import Any

    from diag.tui.session import Sitting

READ = 0.8
"""Seconds within which nobody has read a question. A key that is held down repeats before."""
WAYS_IN = ("lock", "live", "restore", "isolate")
"""What is in the way, and opened at the gate."""


class CaseDoes:
    """The part of the case screen that does what is shown. It leans on what `CaseScreen` defines."""

    _asked_sure = ("", 0.0)
    """What Enter was asked to say again, and when."""

    if TYPE_CHECKING:
        sitting: Sitting
        advice: Advice | None
        turn: Turn
        query_one: Any

        @property
        def state(self) -> State: ...
        def enter(self, do: Callable[[], object], said: str) -> bool: ...
        def hint(self, words: str) -> None: ...
        def warn(self, words: str) -> None: ...
        def action_type(self) -> None: ...
        def action_gate(self, zone: str = "", live: bool = False) -> None: ...
        def action_list_states(self) -> None: ...
        def action_finish(self) -> None: ...
        def _reset(self, id: str) -> None: ...
        def _called(self, role: str) -> None: ...
        def _target(self) -> Target | None: ...

    def action_do(self) -> None:
        """Enter: type, or do what is shown."""
        target, action = self._target(), self.turn.action(self.advice)
        if target is not None and target.open and typed(target.indication):
            self.action_type()
        elif target is not None and not target.open and action is None:
            self.action_gate()
        elif target is not None and target.open and len(target.indication.states) > DIGITS:
            self.action_list_states()
        elif target is not None and not target.closed:
            self.hint("Press the digit of what you see.")
        elif action is not None:
            self._do(action)

    def _do(self, action: Action, asked: bool = False) -> None:
        from diag.case.events import Did, Remedied

        post = self.sitting.case.post
        if not action.permission.now and action.permission.way in WAYS_IN:
            self.action_gate(action.zone, action.permission.way == "live")
        elif action.kind in ("remedy", "failed") and not (asked or self._sure(action)):
            pass
        elif action.kind == "remedy":
            self.enter(
                lambda: post(Remedied(remedy=action.id)), f"Done: {clean(action.title).rstrip('.')}. Now see its proof."
            )
        elif action.kind == "do":
            self.enter(lambda: post(Did(tree=action.id, text=action.title)), f"Done: {action.title}")
        elif action.kind == "reset":
            self._reset(action.id)
        elif action.kind == "call" and action.id in self.state.called:
            self.hint("That call is noted already. c notes another one.")
        elif action.kind == "call":
            self._called(action.id)
        elif action.kind == "close":
            self.action_finish()
        elif action.kind == "failed":
            self.action_failed()
        elif action.permission.because:
            self.warn(action.permission.because)

    def _sure(self, action: Action) -> bool:
        """Enter says for good what was done at the machine only when it is pressed again, with the question read."""
        words = f"Is it done? Enter again says so: {clean(action.title)}"
        if action.kind == "failed":
            words = "Did it not cure it? Enter again says so."
        now = self.sitting.seconds()
        (asked, at), self._asked_sure = self._asked_sure, (words, now)
        if asked == words and now - at >= READ and self.query_one(Status).content.plain.endswith(words):
            return True
        self.warn(words)
        return False

    def action_done(self) -> None:
        """A click on the words that say so needs no second one."""
        action = self.turn.action(self.advice)
        if action is not None:
            self._asked_sure = ("", 0.0)
            self._do(action, asked=True)

    def action_failed(self) -> None:
        from diag.case.events import RemedyFailed

        remedy = self.state.remedy
        if remedy:
            self.enter(
                lambda: self.sitting.case.post(RemedyFailed(remedy=remedy)),
                "Not cured. What was seen since the remedy counts as evidence now.",
            )
        else:
            self.hint("No remedy waits for its proof.")
