"""What a character does on the case screen that is pressed without Enter: begin the line, or be a key.

A letter may be both: `u7` is a code and `u` takes back. Where it begins a code of the display that is named it is held
for a moment: when what comes next goes on with a code, both are typed into the line; else the letter does what its key
does, and what came next follows it.
"""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, Any

from textual import events
from textual.timer import Timer

from diag.machine.codes import begins, decode_exact
from diag.tui.widgets.answer import Answer, Target, typed
from diag.tui.words import clean

AT_ONCE = 1.0
"""Seconds between two keys of a code that is typed in one go."""
HOLD = 0.6
"""Seconds that a letter waits."""


class CaseTyping:
    """The part of the case screen that takes what is typed. It leans on what `CaseScreen` defines."""

    _by_digit = False
    """The last key was a digit that chose something; no figure begins a line after it."""
    _too_many = 0.0
    """When a figure came after it all the same; nothing that is typed begins a line until another key comes."""
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
        def warn(self, words: str) -> None: ...
        def _target(self) -> Target | None: ...
        def _start_typing(self, first: str = "") -> None: ...

    async def on_key(self, event: events.Key) -> None:
        """A character that is no key of this screen begins the code or the reading that is asked for, and so does a
        figure: taken here and not by its binding, so that what is typed fast keeps its order.

        But no figure after a digit that answered something: whoever presses one too many means the list that has just
        ended, and with what comes after it would become a code. From there Enter opens the line. A letter typed in one
        go with such a figure is no command either: it belongs to a code."""
        if await self._after_held(event):
            event.stop()
            return
        target, character, now = self._target(), event.character or "", monotonic()
        words = event.is_printable and (character.isdigit() or event.key not in self.active_bindings)
        starts = target is not None and target.open and typed(target.indication) and words
        if starts and self._by_digit and character.isdigit():
            self._too_many = now
        if (starts and self._too_many) or (event.is_printable and self._too_many and now - self._too_many < AT_ONCE):
            event.stop()
            self._too_many = now
            self.warn(f"{clean(character)} was not taken: the list has ended. Enter begins the line here.")
        elif starts:
            event.stop()
            self._start_typing(character)
        elif not words:
            self.other_key()
            if event.is_printable and self._holds(event):
                event.stop()

    def chosen_by_digit(self) -> None:
        self._by_digit = True

    def other_key(self) -> None:
        """What was pressed last was no figure too many."""
        self._by_digit, self._too_many = False, 0.0

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
            self.hint("")
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
