"""What a character that is pressed without Enter does: it begins the line, or it is a key. Plain.

A letter may be both: `u7` is a code and `u` takes back. Where it begins a code of the display that is asked for it is
held for a moment: when the next key continues a code, both are typed into the line; otherwise the letter acts as its
key, and the next key follows it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

from diag.machine.states.codes import begins, decode_exact
from diag.text import one_line
from diag.tui.screens.case.parts.asked import Asked

AT_ONCE = 1.0
"""Seconds between two keys of a code that is typed in one go."""
HOLD = 0.6
"""Seconds that a letter waits."""


@dataclass(frozen=True, slots=True)
class Press:
    key: str
    character: str = ""
    printable: bool = False
    does: str = ""
    """What the key is bound to on the screen, in a word; empty where it is bound to nothing."""


@dataclass(frozen=True, slots=True)
class Step:
    """What becomes of a press. The screen does what is set here, in this order."""

    stop: bool = False
    """The press goes no further."""
    begin: str = ""
    """These characters begin the line."""
    let_go: str = ""
    """The key that was held acts now."""
    again: bool = False
    """The press is sent once more, behind what was done before it."""
    hold: bool = False
    """The key is held from now on; `let_go` is asked after `HOLD` seconds."""
    warn: str = ""
    hint: str | None = None


PASS = Step()


class TypedKeys:
    """Remembers what was pressed just before, and which letter is held."""

    def __init__(self, seconds: Callable[[], float] = monotonic) -> None:
        """`seconds`: a clock that only ever goes forward."""
        self._seconds = seconds
        self._held: Press | None = None
        self._after_choice = False
        """The last key was a digit that chose something; no figure begins a line after it."""
        self._too_many = 0.0
        """When a figure came after it all the same; from then on typing begins no line until another key is pressed."""

    def press(self, press: Press, asked: Asked | None, line: str) -> Step:
        """What this press does. `line`: what stands in the line already.

        A character that is no key of the screen begins the code or the reading that is asked for, and so does a figure.
        But no figure after a digit that answered something: whoever presses one too many means the list that has just
        ended, and with what comes after it would become a code. From there Enter opens the line. A letter typed in one
        go with such a figure is no command either: it belongs to a code."""
        if self._held is not None:
            return self._after(self._held, press, asked)
        now, figure = self._seconds(), press.character.isdigit()
        words = press.printable and (figure or not press.does)
        starts = asked is not None and asked.open and asked.typed and words
        if starts and self._after_choice and figure:
            self._too_many = now
        if (starts and self._too_many) or (press.printable and self._too_many and now - self._too_many < AT_ONCE):
            self._too_many = now
            said = f"{one_line(press.character)} was not taken: the list has ended. Enter begins the line here."
            return Step(stop=True, warn=said)
        if starts:
            return Step(stop=True, begin=press.character)
        if not words:
            self.other_key()
            if asked is not None and self._may_begin(press, asked, line):
                self._held = press
                said = f"{press.character} … type the rest of the code, or wait for: {one_line(press.does)}."
                return Step(stop=True, hold=True, hint=said)
        return PASS

    def chosen_by_digit(self) -> None:
        self._after_choice = True

    def other_key(self) -> None:
        """The last press was not one digit too many."""
        self._after_choice, self._too_many = False, 0.0

    def let_go(self) -> str:
        """The held letter has waited long enough: its key, which acts now; empty where none is held."""
        held, self._held = self._held, None
        return held.key if held is not None else ""

    def _may_begin(self, press: Press, asked: Asked, line: str) -> bool:
        """Whether this key may be the first letter of a code."""
        letter = press.printable and press.character.isalpha() and press.does
        return bool(letter) and asked.open and asked.typed and not line and begins(asked.indication, press.character)

    def _after(self, held: Press, press: Press, asked: Asked | None) -> Step:
        """The key after a held letter: it is typed into the line with it, or sent once more behind it."""
        code = held.character + press.character
        if asked is not None and press.printable and begins(asked.indication, code):
            self._held = None
            return Step(stop=True, begin=code, hint="")
        if asked is not None and press.key == "enter" and decode_exact(asked.indication, held.character) is not None:
            self._held = None
            return Step(stop=True, begin=held.character, again=True)
        return Step(stop=True, let_go=self.let_go(), again=True)
