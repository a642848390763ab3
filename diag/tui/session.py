"""Where the app meets the rooms below: machines are listed and read, cases opened and resumed, events posted.

Everything heavy is imported inside functions, so that the first screen is painted before any of it is loaded.
"""

from __future__ import annotations

import gc
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from diag.case.clock import Clock, utc_now
from diag.case.snapshot import Advice, State, Weight
from diag.safety.types import Person, Refused
from diag.tui.turn import May
from diag.tui.words import clean

if TYPE_CHECKING:
    from diag.case.case import Case
    from diag.case.casebook import Casebook, CaseLine
    from diag.case.sighting import Sighting
    from diag.machine.find import Listed
    from diag.machine.model import Machine


AHEAD = 4.0
"""Seconds after which looking further ahead ends; few read the screen for longer."""


class CannotOpen(Exception):
    """A machine, a case or the casebook could not be opened; the message is one line that says why."""


@dataclass
class Desk:
    """What one run of the app works with."""

    knowledge: Path
    casebook: Path | None = None
    clock: Clock = utc_now
    seconds: Callable[[], float] = time.monotonic
    """For what blinks: a clock that only ever goes forward."""
    ahead: float = AHEAD
    """Seconds for looking further ahead, while the person reads; 0 for not at all."""
    sitting: Sitting | None = None
    """The case that was opened last."""
    _book: Casebook | None = None
    _read: dict[str, Machine] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def machines(self) -> tuple[Listed, ...]:
        """What there is, without reading a machine whole."""
        from diag.machine.find import listing

        return listing(self.knowledge)

    def standing(self, machine: Listed) -> str:
        """How far a machine's file may be trusted, in a few words; read whole where the list could not tell."""
        from diag.machine.standing import Standing

        if machine.standing:
            return Standing(machine.standing).brief
        from diag.machine.load import standing

        return standing(machine.folder).brief

    def book(self) -> Casebook:
        """The casebook, opened when it is first needed. Raises CannotOpen."""
        from diag.case.casebook import Casebook, CasebookError

        with self._lock:
            if self._book is None:
                try:
                    self._book = Casebook(self.casebook)
                except CasebookError as error:
                    raise CannotOpen(str(error)) from None
            return self._book

    def open_cases(self) -> tuple[CaseLine, ...]:
        """Cases that nobody has closed, and those that were handed over, the latest first. Raises CannotOpen."""
        from diag.case.casebook import CasebookError

        try:
            return tuple(c for c in self.book().cases() if c.closed in ("", "handed-over"))
        except CasebookError as error:
            raise CannotOpen(str(error)) from None

    def machine(self, id: str) -> Machine:
        """The machine of that name, read once. Raises CannotOpen."""
        from diag.machine.find import NoSuchMachine, find
        from diag.machine.load import NotAMachine, read

        with self._lock:
            if id not in self._read:
                try:
                    self._read[id] = read(find(id, self.knowledge), examples=False)
                except (NoSuchMachine, NotAMachine, OSError) as error:
                    raise CannotOpen(clean(str(error))) from None
            return self._read[id]

    def warm(self, id: str) -> None:
        """Read what will be needed soon; whatever is wrong is told when it is."""
        import contextlib

        # The mathematics is loaded while the person says who they are.
        from diag.case.weighing import table_of

        with contextlib.suppress(CannotOpen):
            self.book()
            if id:
                table_of(self.machine(id))
        # What is loaded by now stays: searching it again and again would hold up a key for 40 ms each time.
        gc.collect()
        gc.freeze()

    def open(self, machine: str, person: Person) -> Sitting:
        """A new case. Raises CannotOpen."""
        from diag.case.case import Case
        from diag.case.casebook import CasebookError

        try:
            case = Case.open(self.machine(machine), person, book=self.book(), clock=self.clock)
        except (Refused, CasebookError, ValueError) as error:
            raise CannotOpen(clean(str(error))) from None
        return self._sit(case, {person.name: person})

    def resume(self, id: str, person: Person) -> Sitting:
        """A case that was left, at the keys of this person. Raises CannotOpen."""
        from diag.case.case import Case
        from diag.case.casebook import CasebookError
        from diag.case.events import Stamped, TookOver
        from diag.case.fold import NoCase

        book = self.book()
        try:
            entries = book.events(id)
            line = next(c for c in book.cases() if c.id == id)
            case = Case.resume(id, self.machine(line.machine), person, book=book, clock=self.clock)
        except (KeyError, StopIteration):
            raise CannotOpen(f"There is no case {clean(id)} in the casebook.") from None
        except (Refused, CasebookError, NoCase, ValueError) as error:
            raise CannotOpen(clean(str(error))) from None
        people: dict[str, Person] = {}
        for entry in entries:
            if isinstance(entry, Stamped) and isinstance(entry.event, TookOver):
                e = entry.event
                people[e.person] = Person(e.person, e.role, e.authorised, e.qualified)
        people[person.name] = person
        return self._sit(case, people)

    def _sit(self, case: Case, people: dict[str, Person]) -> Sitting:
        self.sitting = Sitting(case, self.clock, self.seconds, people, self.ahead)
        return self.sitting

    def parting(self) -> str:
        """What whoever leaves may want to know: which case is still open, how to go on, what stands at the machine."""
        sitting = self.sitting
        if sitting is None or sitting.case.state.closed:
            return ""
        state = sitting.case.state
        words = f"Case {state.id} is still open. To go on: diag start {state.machine} --case {state.id}"
        return "\n".join(filter(None, (words, sitting.left_behind())))


@dataclass
class Sitting:
    """One open case at the keys."""

    case: Case
    clock: Clock
    seconds: Callable[[], float]
    people: dict[str, Person]
    """Everybody who was at the keys in this case, by name."""
    ahead: float = AHEAD
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def attempt(self, do: Callable[[], object]) -> str:
        """Do it; what is wrong in one line, or nothing."""
        from diag.case.casebook import CasebookError

        try:
            with self._lock:
                do()
        except (Refused, CasebookError, ValueError) as error:
            return clean(str(error)) or "That was refused."
        return ""

    def take_over(self, person: Person) -> str:
        """This person has the keys from now on; what is wrong in one line, or nothing."""
        from diag.case.events import TookOver

        event = TookOver(person=person.name, role=person.role, authorised=person.authorised, qualified=person.qualified)
        wrong = self.attempt(lambda: self.case.post(event))
        if not wrong:
            self.people[person.name] = person
        return wrong

    def left_behind(self) -> str:
        """The locks that are on and the live work that is open, as sentences; empty when there are none."""
        state, points = self.case.state, self.case.machine.points
        owners: dict[str, list[str]] = {}
        for point, person in state.locks:
            owners.setdefault(person, []).append(clean(points[point].title))
        words = [f"Locks of {clean(person)} are on: {', '.join(on)}." for person, on in owners.items()]
        if state.live is not None:
            words.append(f"Live work of {clean(state.live.person)} is open.")
        return " ".join(words)

    def may(self, indication: str) -> May:
        """By which check this indication would be answered now, and why none may be."""
        first, shut = None, True
        checks = self.case.machine.checks_for.get(indication, ())
        zone = next((check.zone for check in checks if check.zone), "")
        for check in checks:
            action = self.case.action(check.id)
            if action.permission.now:
                return May("" if check.implied else check.id, zone=action.zone or zone)
            first = first or action
            shut = shut and not action.permission.how
        if first is None:
            return May("")
        return May("", first.permission.because, shut, first.zone or zone, first.permission.way)

    def advice(self) -> tuple[State, Advice]:
        """What reasoning says, and of which state; slow the first time, because it loads the mathematics.

        Whoever enters something meanwhile waits for it, so that advice is never kept for a state that it is not of."""
        with self._lock:
            return self.case.state, self.case.advice()

    def further(self, off: Callable[[], bool]) -> tuple[State, Advice] | None:
        """Advice by what comes after the next thing, and of which state; None where there is none, or it was called
        off. It takes seconds, and nobody waits for it: `off` is asked every few milliseconds."""
        if not self.ahead:
            return None
        with self._lock:
            state, further = self.case.state, self.case.further()
        if further is None:
            return None
        end = time.monotonic() + self.ahead
        plan = further.look(off, lambda: time.monotonic() > end)
        with self._lock:
            if plan is None or off() or self.case.state is not state:
                return None
            return state, self.case.heed(further, plan)

    def could_be(self, indication: str, sighting: Sighting) -> tuple[tuple[str, float], ...]:
        """The states that a sight fits, by all that is known so far; likeliest first."""
        with self._lock:
            return self.case.could_be(indication, sighting)

    def evidence(self, cause: str) -> tuple[Weight, ...]:
        """What each fact says about a cause."""
        with self._lock:
            return self.case.evidence(cause)

    def overturn(self, cause: str) -> str:
        """What single further fact would change its place at the top."""
        with self._lock:
            return self.case.overturn(cause)
