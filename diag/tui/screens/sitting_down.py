"""From the list to a case: who it is, what is so at the machine, and the case that is joined or opened.

What has to be read is read in threads, while a screen already asks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from diag.text import one_line
from diag.tui.app_context import AppContext, CannotOpen
from diag.tui.looks.wording import ago
from diag.tui.questions import ChooseOne, Picked, Row
from diag.tui.screens.tags_and_owners import read_first
from diag.tui.widgets.status import Status

if TYPE_CHECKING:
    from datetime import datetime

    from diag.case.condition import MachineCondition
    from diag.machine.model import Machine
    from diag.safety.types import Person
    from diag.tui.case_session import CaseSession
    from diag.tui.screens.base import BaseScreen

SECOND = "?second"
"""The row that opens another case."""


class SittingDown:
    """One person on the way to one case. `machine`: a new case of it, or of one of its assets; `case`: that one."""

    def __init__(
        self,
        home: BaseScreen,
        context: AppContext,
        *,
        machine: str = "",
        asset: str = "",
        case: str = "",
        title: str = "",
    ) -> None:
        """`title`: what to call the machine with its asset, where that is known; else the machines are listed."""
        self._home, self._context = home, context
        self._machine, self._asset, self._case = machine, asset, case
        self._title = title
        self._told: tuple[tuple[str, str], ...] = ()
        """Who is to be told at the machine that something of theirs was taken off, and what."""

    def begin(self) -> None:
        """Asks which asset where there are several, then who it is, while the machine is read behind the screen."""
        if self._title or not self._machine:
            self._who(self._title or f"case {self._case}")
            return
        listed = self._context.listed(self._machine)
        title = self._machine if listed is None else listed.title
        assets = () if listed is None or self._asset or self._case else listed.assets

        def of_asset(asset: str) -> None:
            self._asset = asset
            self._who(f"{title}, {asset}" if asset else title)

        if len(assets) > 1:
            self._ask(which_asset(assets), lambda answer: of_asset(answer.id), lambda: None)
        else:
            of_asset(self._asset or next(iter(assets), ""))

    def _who(self, title: str) -> None:
        from diag.tui.screens.who import WhoScreen

        self._in_thread(lambda: self._context.warm(self._machine, self._asset), "warm")
        self._home.app.push_screen(WhoScreen(title), self._named)

    def _named(self, person: Person | None) -> None:
        if person is not None:
            self._home.query_one(Status).hint("Reading the machine …")
            self._in_thread(lambda: self._look(person), "sit")

    def _look(self, person: Person) -> None:
        """What is so at the machine, or who is at the case."""
        from diag.tui.screens.people import same_person

        try:
            self._told = self._context.to_be_told(self._machine, self._case, self._asset)
            if self._case:
                people, locks = self._context.seen_lately(self._case)
                self._home.call_later(self._same, person, same_person(person, people, locks))
            else:
                found = self._context.condition(self._machine, self._asset)
                machine = self._context.machine(self._machine, self._asset)
                self._home.call_later(self._which, person, found, machine)
        except CannotOpen as error:
            self._home.call_later(self._home.warn, str(error))

    def _which(self, person: Person, found: MachineCondition | None, machine: Machine) -> None:
        """An open case of the machine is joined before a second one is opened beside it."""
        question = None if found is None else which_case(found, machine, self._context.clock())

        def picked(answer: Picked) -> None:
            if answer.id == SECOND:
                self._sit(person)
            else:
                self._case = answer.id
                self._in_thread(lambda: self._look(person), "sit")

        self._ask(question, picked, lambda: self._sit(person))

    def _same(self, person: Person, question: ChooseOne | None) -> None:
        self._ask(question, lambda answer: self._sit(replace(person, name=answer.id)), lambda: self._sit(person))

    def _ask(self, question: ChooseOne | None, then: Callable[[Picked], None], without: Callable[[], None]) -> None:
        from diag.tui.screens.choose import Choose

        def answered(answer: Picked | None) -> None:
            if answer is not None:
                then(answer)
            else:
                self._home.query_one(Status).hint("")

        if question is None:
            without()
        else:
            self._home.app.push_screen(Choose(question), answered)

    def _sit(self, person: Person) -> None:
        """Whoever has to know something before they work here reads it first."""
        question = read_first(self._told, person) if self._told else None

        def read(answer: Picked) -> None:
            knows = replace(person, name=answer.id) if answer.id else person
            self._in_thread(lambda: self._open(knows, bool(answer.id)), "sit")

        self._ask(question, read, lambda: self._in_thread(lambda: self._open(person), "sit"))

    def _open(self, person: Person, has_read: bool = False) -> None:
        context = self._context
        try:
            session = (
                context.resume(self._case, person)
                if self._case
                else context.open(self._machine, person, asset=self._asset)
            )
            if has_read:
                session.knows()
                session.entries.settle(None)
        except CannotOpen as error:
            self._home.call_later(self._home.warn, str(error))
        else:
            self._home.call_later(self._seat, session)

    def _seat(self, session: CaseSession) -> None:
        from diag.tui.screens.case.case_screen import CaseScreen

        self._home.query_one(Status).hint("")
        self._home.app.push_screen(CaseScreen(session))

    def _in_thread(self, does: Callable[[], None], group: str) -> None:
        self._home.run_worker(does, thread=True, exclusive=True, group=group, exit_on_error=False)


def which_asset(assets: Sequence[str]) -> ChooseOne:
    """Asks which of the machines that share a file is meant."""
    return ChooseOne("WHICH ONE IS IT?", tuple(Row(asset, asset) for asset in assets), digits=True)


def which_case(found: MachineCondition, machine: Machine, now: datetime) -> ChooseOne | None:
    """Asks which case to go on with, and says what is so at the machine; None where none is open."""
    from diag.case.condition import in_words

    if not found.cases:
        return None
    rows = []
    for case in found.cases:
        who = "handed over" if case.handed_over else f"{one_line(case.lead)} has it"
        rows.append(Row(case.id, f"join case {case.id}", f"{who}, {ago(case.last, now)}"))
    rows.append(Row(SECOND, "open a second case", "it shares locks, danger and resets"))
    stands = tuple(line for line in in_words(found, machine) if not line.startswith("Open:"))
    return ChooseOne("THIS MACHINE HAS AN OPEN CASE", tuple(rows), digits=True, about=" ".join(stands))
