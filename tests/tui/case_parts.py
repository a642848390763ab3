"""The plain parts of the case screen put together as the screen does it, with no Textual and no threads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from diag.case.case import Case
from diag.case.sitting import Sitting
from diag.machine.model import Machine, Role
from diag.safety import Person
from diag.tui.case_session import CaseSession
from diag.tui.questions import ChooseOne, Picked
from diag.tui.screens.case.parts import finding
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import Reply

NIGHT = datetime(2026, 11, 25, 3, 12, tzinfo=UTC)
ADA = Person("Ada Brandt", Role.ELECTRICIAN, authorised=True, qualified=True)
OLE = Person("Ole", Role.OPERATOR)


@dataclass
class Ticks:
    """Seconds that a test sets."""

    now: float = 0.0

    def __call__(self) -> float:
        return self.now


class Parts:
    """A new case with all parts; `weigh` brings the advice, which a thread does in the app."""

    def __init__(self, machine: Machine, person: Person = ADA) -> None:
        self.seconds = Ticks()
        case = Case.open(machine, person, clock=lambda: NIGHT)
        self.session = CaseSession(case, Sitting(person), lambda: NIGHT, self.seconds, ahead=0.0)
        self.model = CaseModel(self.session)
        self.weigh()

    def weigh(self) -> None:
        assert self.model.weighed(*self.session.advice())

    def told(self, reply: Reply) -> Reply:
        """The reply, with its words in the line of status and its selection taken, as after a key."""
        self.model.told(reply)
        return reply

    def find(self, indication: str) -> None:
        """Select an indication by name."""
        reply = finding.find(self.model)
        assert isinstance(reply.request, ChooseOne)
        reply.then(Picked(indication))

    @property
    def asked(self) -> str:
        """The indication that is asked for; empty when none is."""
        asked = self.model.view.asked
        return asked.indication.id if asked is not None else ""

    @property
    def found(self) -> dict[str, str]:
        return dict(self.model.state.current)
