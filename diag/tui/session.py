"""Where the app meets the rooms below: machines are found and loaded, cases opened and resumed, events posted.

Everything heavy is imported inside functions, so that the first screen is painted before any of it is loaded.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from diag.case.clock import Clock, utc_now
from diag.case.snapshot import Advice
from diag.safety.types import Person, Refused
from diag.tui.words import clean

if TYPE_CHECKING:
    from textual.screen import Screen

    from diag.case.case import Case
    from diag.case.casebook import Casebook, CaseLine
    from diag.machine.model import Machine

Weighed = Callable[[Advice | None, str], None]


class CannotOpen(Exception):
    """A machine or a case could not be opened; the message is one line that says why."""


@dataclass
class Desk:
    """What one run of the app works with."""

    knowledge: Path
    casebook: Path | None = None
    clock: Clock = utc_now
    seconds: Callable[[], float] = time.monotonic
    """For what blinks: a clock that only ever goes forward."""
    people: dict[str, Person] = field(default_factory=dict)
    """Everybody who was at the keys in this run, by name."""
    _book: Casebook | None = None

    def machines(self) -> tuple[Listed, ...]:
        """What there is, without reading a machine whole."""
        from diag.machine.find import find

        return tuple(Listed(m.id, clean(m.title), clean(m.place)) for m in find(self.knowledge))


@dataclass(frozen=True, slots=True)
class Listed:
    id: str
    title: str
    place: str


@dataclass
class Sitting:
    """One open case at the keys."""

    case: Case
    clock: Clock
    seconds: Callable[[], float]
    people: dict[str, Person]
    _warm: bool = False

    def attempt(self, do: Callable[[], object]) -> str:
        """Do it; what is wrong in one line, or nothing."""
        try:
            do()
        except Refused as error:
            return clean(str(error))
        except ValueError as error:
            return clean(str(error))
        return ""

    def may(self, indication: str) -> tuple[str, str]:
        """By which check this indication would be answered now, and why none may be; the check is empty for a look."""
        machine = self.case.machine
        closed = ""
        for check in machine.checks_for.get(indication, ()):
            permission = self.case.action(check.id).permission
            if permission.now:
                return check.id, ""
            closed = closed or permission.because
        return "", closed

    def weigh(self, screen: Screen[None], done: Weighed) -> None:
        """Ask for advice; the first time off the screen's own thread, because it loads the mathematics."""
        done(self.case.advice(), "")
