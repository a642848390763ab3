"""How an answer gets into the case screen: typed, tapped along with a lamp, drawn on a display, measured on a contact.

Every way ends in a sight (`diag.case.sights`), which the case takes as one fact with its weights.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from diag.case.snapshot import State
from diag.case.words import listed
from diag.machine.model import OTHER, Indication, Kind
from diag.tui.screens.ask import Answers, Ask, Line
from diag.tui.screens.choose import Choose, Picked
from diag.tui.turn import FOUND, Turn
from diag.tui.widgets.answer import Target, limits, way
from diag.tui.widgets.picklist import Row
from diag.tui.words import clean, cut, plain, unit

if TYPE_CHECKING:
    from textual.app import App

    from diag.case.sighting import Sighting
    from diag.tui.session import Sitting

SHARES = 4
"""Most states that a doubtful sight is said to be."""


class CaseReads:
    """The part of the case screen that reads things off. It leans on what `CaseScreen` defines."""

    if TYPE_CHECKING:
        sitting: Sitting
        app: App[object]
        turn: Turn

        @property
        def state(self) -> State: ...
        def attempt(self, do: Callable[[], object]) -> bool: ...
        def hint(self, words: str) -> None: ...
        def warn(self, words: str) -> None: ...
        def say(self, words: str) -> None: ...
        def _target(self) -> Target | None: ...
        def _shut(self, target: Target) -> None: ...
        def _onward(self, answered: str) -> None: ...
        def _show_turn(self) -> None: ...

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

        if not self.attempt(do):
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
        return f"{cut(clean(indication.title), 24 if note else 40)}: {shown}"

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

    # ------------------------------------------------------------ other ways to read it off

    def action_read(self) -> None:
        """Tap along, draw, measure, work out: whichever way there is for what the strip names."""
        target = self._target()
        if target is None:
            self.hint("Nothing to read off here.")
        elif not target.open:
            self._shut(target)
        elif not way(target.indication):
            self.hint("This one is answered by its digits.")
        else:
            match target.indication.kind:
                case Kind.LAMP:
                    self._tap_along(target)
                case Kind.DISPLAY:
                    self._draw(target)
                case Kind.CONTACT:
                    self._measure(target)
                case _ if not self._formula(target):
                    self._keypad(target)

    def _tap_along(self, target: Target) -> None:
        from diag.tui.screens.tapping import TapAlong

        box = TapAlong(target.indication, self.sitting.seconds, clean(target.indication.where))
        self.app.push_screen(box, lambda sighting: self._took(target, sighting))

    def _draw(self, target: Target) -> None:
        from diag.tui.screens.segments import Segments

        indication = target.indication
        box = Segments(indication, lambda sighting: self.could_be(indication, sighting), self._typed())
        self.app.push_screen(box, lambda sighting: self._took(target, sighting))

    def _typed(self) -> str:
        """What stands in the line already."""
        raise NotImplementedError

    def _took(self, target: Target, sighting: Sighting | None) -> None:
        if sighting is None or not self._take(target, lambda: sighting):
            return
        test = next((test for test, _ in target.indication.lamp_test), "")
        if sighting.fault and test and test not in self.state.standing:
            self.turn = self.turn.to(test, FOUND)
            self._show_turn()
            self.hint(sighting.fault)

    # ------------------------------------------------------------ contacts

    def _measure(self, target: Target) -> None:
        from diag.case import contacts

        indication = target.indication
        if indication.measured == "continuity":
            lines = (
                Line("Across the contact", "Ω", example="0.2, or OL"),
                Line("Leads held together", "Ω", example="0.1", empty=True),
            )
            self._ask_contact(target, "POWER OFF", lines, lambda a: contacts.of_ohms(indication, a[0], a[1]))
            return

        def take(picked: Picked | None) -> None:
            if picked is None:
                return
            supply = () if indication.nominal else (Line("Supply of the circuit", "V", example="24"),)
            if picked.id == "common":
                lines = (Line("To common, before it", "V", example="24.1"), Line("To common, behind it", "V"), *supply)
                self._ask_contact(target, "LIVE", lines, lambda a: contacts.of_volts_to_common(indication, *a))
            else:
                fed = True if picked.id == "fed" else None
                lines = (Line("Across the contact", "V", example="24.1"), *supply)
                across = partial(contacts.of_volts_across, indication)
                self._ask_contact(target, "LIVE", lines, lambda a: across(a[0], fed, *a[1:]))

        rows = (
            Row("common", "to common, both sides", "before it and behind it: tells the most"),
            Row("fed", "across it, loop whole", "the loop is known to be fed and whole"),
            Row("across", "across it, loop unknown", "only the whole supply across it says much"),
        )
        self.app.push_screen(Choose(f"HOW MEASURED · {clean(indication.title)}", rows, digits=True), take)

    def _ask_contact(
        self, target: Target, power: str, lines: tuple[Line, ...], read: Callable[[Answers], Sighting]
    ) -> None:
        from diag.case.contacts import contact_about

        title = f"MEASURED, {power} · {clean(target.indication.title)}"
        self._ask(target, title, contact_about(target.indication), lines, read)

    # ------------------------------------------------------------ readings that are worked out

    def _formula(self, target: Target, first: str = "") -> bool:
        """Ask for the readings that the target is worked out from; False when it is read as it is. `first`: what was
        typed already."""
        from diag.case.readings import of_formula
        from diag.panel.formulas import FORMULAS

        formula = FORMULAS.get(target.indication.formula)
        if formula is None:
            return False
        given = (first, *("" for _ in formula.prompts[1:]))
        lines = tuple(Line(p.text, unit(p.unit), v, p.example) for p, v in zip(formula.prompts, given, strict=True))
        about = f"{formula.name}, {formula.source}. {formula.caution}".strip()
        title = f"WORKED OUT · {clean(target.indication.title)}"
        self._ask(target, title, about, lines, lambda answers: of_formula(target.indication, answers))
        return True

    def _keypad(self, target: Target) -> None:
        """A plain reading, for a hand that has the mouse."""
        from diag.case.sights import of_words

        indication = target.indication
        lines = (Line("Reading", unit(indication.unit), self._typed()),)
        title = f"MEASURED · {clean(indication.title)}"
        about = f"{limits(indication)} {unit(indication.unit)}"
        about += f" · {clean(indication.source)}" if indication.source else ""
        doubt = partial(self._doubt, target)
        self._ask(target, title, about, lines, lambda a: of_words(indication, a[0]), lambda a: doubt(a[0]))

    def _ask(
        self,
        target: Target,
        title: str,
        about: str,
        lines: tuple[Line, ...],
        read: Callable[[Answers], Sighting],
        doubt: Callable[[Answers], str] = lambda _: "",
    ) -> None:
        """Ask for values; say what they come to while they are typed; take them. What is in `doubt` is asked about
        once, and taken when it is sent again."""
        from diag.machine.say import CannotRead

        asked: list[Answers] = []
        needed = [n for n, one in enumerate(lines) if not one.empty]

        def tell(answers: Answers) -> str:
            if not all(answers[n] for n in needed):
                return ""
            try:
                found = read(answers)
            except CannotRead as error:
                return str(error)
            first, *rest = (plain(s) for s in found.doubtful)
            also = f"; it could also be {listed(rest, 'or')}" if rest else ""
            return f"Taken as {first}{also}. {found.note}".strip()

        def check(answers: Answers) -> str:
            try:
                read(answers)
            except CannotRead as error:
                return str(error)
            question = doubt(answers)
            if question and answers not in asked:
                asked.append(answers)
                return f"{question} Enter again takes it as it is."
            return ""

        def take(answers: Answers | None) -> None:
            if answers is not None:
                self._take(target, lambda: read(answers))

        self.app.push_screen(Ask(title, about, lines, check, tell, pad=True), take)


def code_of(indication: Indication, state: str) -> str:
    """The code of a display's state, where it has one; the first of several."""
    return next((clean(c.pattern).strip() for c in indication.codes if c.state == state), "")
