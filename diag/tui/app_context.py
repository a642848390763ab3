"""What one run of the app works with: where machines are listed and read, and cases opened and resumed.

Everything heavy is imported inside functions, so that the first screen is painted before any of it is loaded.
"""

from __future__ import annotations

import gc
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from diag.case.sitting import Clock, utc_now
from diag.text import one_line

if TYPE_CHECKING:
    from diag.case.case import Case
    from diag.case.condition import MachineCondition
    from diag.case.log.stored import CaseLine
    from diag.case.sitting import Sitting
    from diag.machine.find import Folders, Listed
    from diag.machine.model import Machine
    from diag.record.casebook import Casebook
    from diag.safety.types import Person
    from diag.tui.case_session import CaseSession

LATELY = timedelta(minutes=15)
"""Whoever entered something within it may well sit at their terminal still."""
AHEAD = 4.0
"""Seconds after which looking further ahead stops; few people read the screen for longer."""


class CannotOpen(Exception):
    """A machine, a case or the casebook could not be opened; the message is one line that says why."""


@dataclass
class AppContext:
    """What one run of the app works with."""

    knowledge: Folders
    casebook: Path | str | None = None
    clock: Clock = utc_now
    seconds: Callable[[], float] = time.monotonic
    """The clock for everything that blinks; it only ever goes forward."""
    ahead: float = AHEAD
    """Seconds spent on looking further ahead while the person reads; 0 turns it off."""
    sheets: Path | None = None
    """The folder of handover sheets; None for the user's documents."""
    recorded: bool = True
    """Whether cases are kept in the casebook; without, the screens say that they are not."""
    casebook_named_by: str = "DIAG_CASEBOOK"
    """The option or the variable that names another casebook, for the messages."""
    shifts: tuple[str, ...] = ()
    """The times of day, as `06:00`, at which the shifts of the site begin."""
    follows: bool = True
    """Whether an open case shows at once what others enter."""
    session: CaseSession | None = None
    """The case that was opened last."""
    _book: Casebook | None = None
    _read: dict[tuple[str, str], Machine] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def machines(self) -> tuple[Listed, ...]:
        """Lists the machines without reading any of them whole."""
        from diag.machine.find import listing

        return listing(self.knowledge)

    def listed(self, name: str) -> Listed | None:
        """The machine of that name or in that folder as a list shows it; None where there is none."""
        from diag.machine.find import NoSuchMachine, find, listed_in

        try:
            return listed_in(find(name, self.knowledge))
        except NoSuchMachine:
            return None

    def approval(self, machine: Listed) -> str:
        """How far a machine's file may be trusted, in a few words. It is read whole where the list cannot tell."""
        from diag.machine.approval.approval import Approval

        if machine.approval:
            return Approval(machine.approval).brief
        from diag.machine.load import approval_of

        return approval_of(machine.folder).brief

    def book(self) -> Casebook:
        """The casebook, opened when it is first needed. Raises CannotOpen."""
        from diag.record.casebook import Casebook, CasebookError

        with self._lock:
            if self._book is None:
                try:
                    self._book = Casebook(self.casebook, named_by=self.casebook_named_by)
                except CasebookError as error:
                    raise CannotOpen(f"{error} To go on without a record: diag --no-casebook") from None
            return self._book

    def open_cases(self) -> tuple[CaseLine, ...]:
        """Cases that nobody has closed, and those that were handed over, the latest first. Raises CannotOpen."""
        from diag.case.log.stored import cases_in

        if not self.recorded:
            return ()
        with _opening():
            return cases_in(self.book(), only_open=True)

    def condition(self, machine: str, asset: str = "") -> MachineCondition | None:
        """What is so at a machine by its cases; None where none is recorded. Raises CannotOpen."""
        from diag.case.condition import condition_of

        if not self.recorded:
            return None
        with _opening():
            return condition_of(self.book(), self.machine(machine, asset), self.clock())

    def to_be_told(self, machine: str, case: str = "", asset: str = "") -> tuple[tuple[str, str], ...]:
        """Who is to be told at a machine, or at the machine of a case, that something of theirs was taken off, and
        what, in words. Raises CannotOpen."""
        from diag.case.condition import condition_of
        from diag.case.log.owners import taken_off

        if not self.recorded:
            return ()
        with _opening():
            try:
                of = self.of_case(case) if case else self.machine(machine, asset)
            except KeyError:
                return ()
            found = condition_of(self.book(), of, self.clock())
        return tuple((one.owner, taken_off(of, one)) for one in found.to_be_told)

    def machine(self, name: str, asset: str = "") -> Machine:
        """The machine of that name or in that folder, as one of its assets; its files are read only once. Raises
        CannotOpen."""
        from diag.machine.find import NoSuchMachine, find
        from diag.machine.load import NotAMachine, read

        with self._lock:
            if (name, "") not in self._read:
                try:
                    self._read[name, ""] = read(find(name, self.knowledge), examples=False)
                except (NoSuchMachine, NotAMachine, OSError) as error:
                    raise CannotOpen(one_line(str(error))) from None
            if (name, asset) not in self._read:
                self._read[name, asset] = self._read[name, ""].as_recorded(asset)
            return self._read[name, asset]

    def of_case(self, id: str) -> Machine:
        """The machine of a case. Raises KeyError for an unknown case, CannotOpen and `CasebookError`."""
        from diag.case.log.stored import machine_of
        from diag.machine.assets import parted

        return self.machine(*parted(machine_of(self.book(), id)))

    def warm(self, machine: str, asset: str = "") -> None:
        """Loads what will be needed soon. A problem is reported only when the thing is really needed."""
        # The mathematics is loaded while the person says who they are.
        from diag.reason.table.compile import table_of

        with suppress(CannotOpen):
            if self.recorded:
                self.book()
            if machine:
                table_of(self.machine(machine, asset))
        # What is loaded by now stays: searching it again and again would hold up a key for 40 ms each time.
        gc.collect()
        gc.freeze()

    def open(self, machine: str, person: Person, asset: str = "") -> CaseSession:
        """Opens a new case. Raises CannotOpen."""
        from diag.case.case import Case
        from diag.case.sitting import sitting_here

        sitting = sitting_here(person)
        with _opening():
            book = self.book() if self.recorded else None
            case = Case.open(self.machine(machine, asset), sitting, book=book, clock=self.clock, shifts=self.shifts)
        return self._sit(case, sitting)

    def resume(self, id: str, person: Person) -> CaseSession:
        """Goes on with a case that was left, with this person at the keys. Raises CannotOpen."""
        from diag.case.case import Case
        from diag.case.sitting import sitting_here

        if not self.recorded:
            raise CannotOpen("No case is read or kept: diag was started with --no-casebook.")
        book, sitting = self.book(), sitting_here(person)
        with _opening():
            try:
                case = Case.resume(id, self.of_case(id), sitting, book=book, clock=self.clock, shifts=self.shifts)
            except KeyError:
                raise CannotOpen(f"There is no case {one_line(id)} in the casebook.") from None
        return self._sit(case, sitting)

    def seen_lately(self, id: str) -> tuple[tuple[Person, ...], tuple[tuple[str, str], ...]]:
        """Who entered something in a case in the last minutes, and the title of the point and the owner of each lock
        that is on: people who may sit at another terminal now. Raises CannotOpen."""
        from diag.case.case import Case
        from diag.case.log.events import Stamped
        from diag.case.phrases import named

        if not self.recorded:
            return (), ()
        book = self.book()
        with _opening():
            try:
                machine = self.of_case(id)
                case = Case.read(id, machine, book=book, clock=self.clock, shifts=self.shifts)
            except KeyError:
                return (), ()
        now = self.clock()
        lately = {n.by for n in case.entries if isinstance(n, Stamped) and abs(now - n.at) < LATELY}
        locks = tuple((named(machine, point), who) for point, who in case.state.locks)
        return tuple(person for person in case.state.people if person.name in lately), locks

    def _sit(self, case: Case, sitting: Sitting) -> CaseSession:
        from diag.tui.case_session import CaseSession

        follows = self.follows and self.recorded and not case.only_read
        self.session = CaseSession(
            case, sitting, self.clock, self.seconds, self.ahead, self.sheets, self.recorded, follows
        )
        return self.session

    @property
    def storing(self) -> bool:
        """An entry of the case that was opened last is still being stored."""
        return self.session is not None and self.session.storing

    def close(self) -> None:
        """Closes the casebook, so that its one file holds every case."""
        if self._book is not None:
            self._book.close()

    def parting(self) -> str:
        """What a person should know on leaving: which case is open, how to go on with it, what is still locked, and
        what could not be stored. Waits for an entry that is being stored."""
        session = self.session
        if session is None:
            return ""
        unstored, state = session.leave(), session.case.state
        if state.closed:
            return ""
        words = f"Case {state.id} is still open. To go on: diag start {state.machine} --case {state.id}"
        if not self.recorded:
            words = "Nothing of this case was kept: diag was started with --no-casebook."
        return "\n".join(filter(None, (unstored, words, session.left_behind())))


@contextmanager
def _opening() -> Iterator[None]:
    """Why a case cannot be opened, in one line. Raises CannotOpen."""
    from diag.record.casebook import CasebookError
    from diag.safety.types import Refused

    try:
        yield
    except (Refused, CasebookError, ValueError) as error:
        raise CannotOpen(one_line(str(error))) from None
