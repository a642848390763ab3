"""How an answer is given on the case screen: one key for a state, a line for a code or a reading; what is said of it.

Every answer ends in a sight, which the case takes as one fact with its weights.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from diag.case.snapshot import State
from diag.case.words import answered
from diag.machine.model import EMPTY, OTHER, Indication, Kind
from diag.tui import turn as turns
from diag.tui.turn import Turn
from diag.tui.widgets.answer import DIGITS, Answer, Target, typed
from diag.tui.widgets.panel import Panel
from diag.tui.words import clean, cut, plain

if TYPE_CHECKING:
    from typing import Any

    from diag.case.sighting import Sighting
    from diag.tui.session import Sitting

ONE_ROW = 72
"""Characters within which what was taken is told in one row."""
SHARES = 4
"""Most states that a doubtful sight is said to be."""


class CaseAnswers:
    """The part of the case screen that takes answers. It leans on what `CaseScreen` defines."""

    if TYPE_CHECKING:
        sitting: Sitting
        turn: Turn
        query_one: Any
        set_focus: Any

        @property
        def state(self) -> State: ...
        def enter(self, do: Callable[[], object], said: str) -> bool: ...
        def hint(self, words: str) -> None: ...
        def warn(self, words: str) -> None: ...
        def say(self, words: str) -> None: ...
        def chosen_by_digit(self) -> None: ...
        def _target(self) -> Target | None: ...
        def _show_turn(self) -> None: ...
        def _formula(self, target: Target, first: str = "") -> bool: ...

    # ------------------------------------------------------------ keys

    def _onward(self, answered: str) -> None:
        """After an answer: on the panel to the next one that is open; after a find back to the next thing."""
        self.query_one(Answer).typed.value = ""
        self.turn = Turn(self.turn.source, self.turn.indication, self.turn.chosen)
        if self.turn.source == turns.PANEL:
            after = self.query_one(Panel).after(answered)
            self.turn = self.turn.to(after, turns.PANEL) if after else self.turn.to_next()
        elif self.turn.source == turns.FOUND:
            self.turn = self.turn.to_next()
        self._focus_panel()
        self._show_turn()

    def _focus_panel(self) -> None:
        if self.query_one(Answer).typed.has_focus:
            self.query_one(Panel).focus()

    def action_digit(self, digit: int) -> None:
        target = self._target()
        self.chosen_by_digit()
        if target is None:
            self.hint("Nothing to mark here. Walk over the panel, or / finds anything by name.")
        elif not target.open:
            self._shut(target)
        elif digit == 0:
            self.action_cannot_tell()
        else:
            self.action_mark(digit)

    def action_mark(self, digit: int) -> None:
        target = self._target()
        if target is not None and not target.open:
            self._shut(target)
        elif (
            target is not None and not typed(target.indication) and digit <= min(len(target.indication.states), DIGITS)
        ):
            self.answer(target.indication.states[digit - 1].id)
        elif target is not None:
            self.hint(f"There is no {digit} here.")

    def action_cannot_tell(self) -> None:
        target = self._target()
        if target is None:
            return
        case, id, title = self.sitting.case, target.indication.id, target.indication.title
        said = answered(cut(clean(title), 50), "can't tell")
        if self.enter(lambda: case.cannot_tell(id, target.check), said):
            self._onward(id)

    def _start_typing(self, first: str = "") -> None:
        target = self._target()
        if target is not None and first and not target.indication.unit and self._formula(target, first):
            # A plain number that is worked out, such as a count: what is typed is what the meter showed.
            return
        line = self.query_one(Answer).typed
        line.value += first
        self.set_focus(line)
        line.cursor_position = len(line.value)

    def action_type(self) -> None:
        target = self._target()
        if target is None or not typed(target.indication):
            return
        if not target.open:
            self._shut(target)
        elif not self._formula(target):
            self._start_typing()

    def _typed(self) -> str:
        """What stands in the line already."""
        return str(self.query_one(Answer).typed.value)

    def _shut(self, target: Target) -> None:
        self.warn("Not open now, as said above. g opens the way; b records what was found before.")

    def action_say_blank(self) -> None:
        target = self._target()
        if target is not None and target.indication.kind is Kind.DISPLAY:
            self.answer("blank")

    def action_say_empty(self) -> None:
        target = self._target()
        if target is not None and target.indication.kind is Kind.HISTORY:
            self.answer(EMPTY)

    # ------------------------------------------------------------ taking a sight

    def answer(self, words: str) -> bool:
        """The target is found as these words say: a state, a code, a reading. False when that was refused."""
        from diag.case.sights import of_words

        target = self._target()
        return target is not None and self._take(target, lambda: of_words(target.indication, words), note=True)

    def _take(self, target: Target, read: Callable[[], Sighting], note: bool = False) -> bool:
        """`note`: tell what the sight is worth; a box has told it already."""
        case, indication = self.sitting.case, target.indication
        found: list[Sighting] = []

        def do() -> None:
            found.append(read())
            case.sight(indication.id, found[0], check=target.check, before=target.before)

        if not self.enter(do, ""):
            return False
        self.say(self._said(indication, found[0].note if note else ""))
        self._onward(indication.id)
        return True

    def _said(self, indication: Indication, note: str) -> str:
        """What was taken, in one line: the state as it was said, what it is worth, and whether it counts."""
        fact = next((f for f in reversed(self.state.facts) if f.indication == indication.id), None)
        if fact is None:
            return ""
        shown = plain(fact.state)
        if clean(fact.said) not in ("", fact.state):
            shown = f"{shown} ({clean(fact.said)})"
        if note:
            shown += f". {clean(note)}"
        if not fact.counts and fact.why:
            shown += f" (does not count: {clean(fact.why)})"
        against = [d for d in self.state.disagreements if indication.id in (d.lamp, d.contact)]
        if against:
            shown += f". {clean(against[0].name)}; i says what that can mean"
        return answered(cut(clean(indication.title), max(ONE_ROW - len(shown), 24)), shown)

    def _doubt(self, target: Target, words: str) -> str:
        """What is odd about an answer, as one line that asks; empty when nothing is.

        A code that the file does not know is told with what it could be, likeliest by all that is known first."""
        from diag.case.sights import of_words
        from diag.machine.codes import decode_exact
        from diag.machine.say import CannotRead
        from diag.panel.meter import BadReading, implausible, parse

        indication = target.indication
        try:
            if indication.kind is Kind.READING:
                return implausible(parse(words, indication.unit).value, indication.nominal, indication.unit)
            sighting = of_words(indication, words)
        except (BadReading, CannotRead):
            return ""
        if indication.kind is not Kind.DISPLAY or (len(sighting.doubtful) == 1 and OTHER not in sighting.seen):
            return ""
        if decode_exact(indication, words) is not None:
            return ""
        could = [(s, share) for s, share in self.could_be(indication, sighting) if s != OTHER][:SHARES]
        question = f"{clean(words)} is not a code of this machine file."
        if could and len(sighting.doubtful) > 1:
            named = ", ".join(f"{code_of(indication, s)} {plain(s)} {100 * p:.0f} %".strip() for s, p in could)
            question += f" It could be {named}."
        return question

    def could_be(self, indication: Indication, sighting: Sighting) -> tuple[tuple[str, float], ...]:
        """The states that a sight fits, by all that is known so far."""
        return self.sitting.could_be(indication.id, sighting)


def code_of(indication: Indication, state: str) -> str:
    """The code of a display's state, where it has one; the first of several."""
    return next((clean(c.pattern).strip() for c in indication.codes if c.state == state), "")
