"""The other ways to read something off: tapped along with a lamp, drawn, measured on a contact, worked out.

Every way ends in a sight, which the screen takes as one fact with its weights (`case_answers`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from diag.case.snapshot import State
from diag.case.words import listed
from diag.machine.model import Indication, Kind
from diag.tui.screens.ask import Answers, Ask, Line
from diag.tui.screens.choose import Choose, Picked
from diag.tui.turn import FOUND, Turn
from diag.tui.widgets.answer import Target, limits, way
from diag.tui.widgets.picklist import Row
from diag.tui.words import clean, plain, unit

if TYPE_CHECKING:
    from textual.app import App

    from diag.case.sighting import Sighting
    from diag.tui.session import Sitting


class CaseReads:
    """The part of the case screen that reads things off. It leans on what `CaseScreen` defines."""

    if TYPE_CHECKING:
        sitting: Sitting
        app: App[object]
        turn: Turn

        @property
        def state(self) -> State: ...
        def hint(self, words: str) -> None: ...
        def _target(self) -> Target | None: ...
        def _shut(self, target: Target) -> None: ...
        def could_be(self, indication: Indication, sighting: Sighting) -> tuple[tuple[str, float], ...]: ...
        def _take(self, target: Target, read: Callable[[], Sighting], note: bool = False) -> bool: ...
        def _doubt(self, target: Target, words: str) -> str: ...
        def _typed(self) -> str: ...
        def _show_turn(self) -> None: ...

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
                case Kind.READING:
                    if not self._formula(target):
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
