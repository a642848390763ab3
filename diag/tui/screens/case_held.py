"""A letter that is a key of the case screen and begins a code of the display that is named: it waits for what follows.

`u7` is a code and `u` takes back. So such a letter is held for a moment: when what comes next goes on with a code, both
are typed into the line; else the letter does what its key does, and what came next follows it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from textual import events
from textual.timer import Timer

from diag.machine.codes import begins, decode_exact
from diag.tui.widgets.answer import Answer, Target, typed
from diag.tui.words import clean

HOLD: Final = 0.6
"""Seconds that a letter waits."""


class CaseHeld:
    """The part of the case screen that holds a letter. It leans on what `CaseScreen` defines."""

    _held: events.Key | None = None
    _ring: Timer | None = None

    if TYPE_CHECKING:
        app: Any
        active_bindings: Any
        query_one: Any
        set_timer: Any
        run_action: Any
        is_current: bool

        def hint(self, words: str) -> None: ...
        def _target(self) -> Target | None: ...
        def _start_typing(self, first: str = "") -> None: ...

    def _holds(self, event: events.Key) -> bool:
        """Whether this letter is held from now on."""
        target, letter = self._target(), event.character or ""
        if not (letter.isalpha() and event.key in self.active_bindings and target is not None and target.open):
            return False
        line = self.query_one(Answer).typed
        if not typed(target.indication) or line.value or not begins(target.indication, letter):
            return False
        self._held, self._ring = event, self.set_timer(HOLD, self._let_go)
        does = self.active_bindings[event.key].binding.description
        self.hint(f"{letter} … go on with the code; or in a moment: {clean(does)}.")
        return True

    async def _after_held(self, event: events.Key) -> bool:
        """The key after a held letter. True where it was taken; it is then either in the line or on its way again."""
        held, target = self._held, self._target()
        if held is None:
            return False
        letter, character = held.character or "", event.character or ""
        if target is not None and event.is_printable and begins(target.indication, letter + character):
            self._forget()
            self._start_typing(letter + character)
            return True
        if target is not None and event.key == "enter" and decode_exact(target.indication, letter) is not None:
            self._forget()
            self._start_typing(letter)
        else:
            await self._let_go()
        self.app.post_message(events.Key(event.key, event.character))
        return True

    async def _let_go(self) -> None:
        """The held letter is no code: it does what its key does."""
        held = self._held
        self._forget()
        bound = self.active_bindings.get(held.key) if held is not None and self.is_current else None
        if bound is not None:
            self.hint("")
            await self.run_action(bound.binding.action)

    def _forget(self) -> None:
        self._held = None
        if self._ring is not None:
            self._ring.stop()
            self._ring = None
