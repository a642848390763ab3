"""One case: the one door through which the app, the commands, drills and tests reach facts, lockout and advice."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from pydantic import ValidationError

from diag.case import actions
from diag.case import events as e
from diag.case.admit import admit
from diag.case.casebook import Casebook, CasebookError, Conflict, Locks
from diag.case.clock import Clock, utc_now
from diag.case.fold import NoCase, fold
from diag.case.folded import Folded
from diag.case.snapshot import Action, Advice, State, Two, Weight
from diag.case.words import clean, one_line
from diag.machine.model import Machine
from diag.machine.names import unknown
from diag.machine.say import CannotRead
from diag.safety import Act, Person, Refused

if TYPE_CHECKING:
    from diag.case.sighting import Sighting
    from diag.case.weighing import Further, Weighing
    from diag.reason.advise import Plan

LETTERS = "abcdefghjkmnpqrstuvwxyz"
"""Of case names: without i, l and o, which read as digits."""
MOST_SAID = 200
"""Characters of one answer."""


class Case:
    """One stop, from the first look to back in service or handed over.

    Made by `open`, `resume` or `read`. What is entered goes through `post`, which asks the one rule, stores the event,
    and only then shows it. `CasebookError` comes when it could not be stored; then nothing has changed.
    """

    def __init__(self, id: str, machine: Machine, book: Casebook | None, clock: Clock) -> None:
        self.id = id
        self.machine = machine
        self._book = book
        self._clock = clock
        self._read_only = False
        self._entries: tuple[e.Entry, ...] = ()
        self._folded: Folded
        self._weighing: Weighing | None = None
        self._advice: Advice | None = None

    # ------------------------------------------------------------ ways in

    @classmethod
    def open(cls, machine: Machine, person: Person, *, book: Casebook | None = None, clock: Clock = utc_now) -> Case:
        """A new case; without a casebook it is kept nowhere. Raises `Refused` for a person without a name."""
        at = _utc(clock())
        opened = e.Opened(machine=machine.id, revision=machine.revision)
        took = _took_over(person)
        if not took.person:
            raise Refused("Say who you are first.")
        entries = (
            e.Stamped(seq=1, at=at, by=took.person, event=opened),
            e.Stamped(seq=2, at=at, by=took.person, event=took),
        )
        no_locks: Locks = ()
        ids = names(at)
        id = next(ids) if book is None else book.begin(ids, lambda _: tuple((s, no_locks) for s in entries))
        case = cls(id, machine, book, clock)
        case._take(entries)
        return case

    @classmethod
    def read(cls, id: str, machine: Machine, *, book: Casebook, clock: Clock = utc_now) -> Case:
        """A case to look at: nothing is added, and nothing may be. Raises KeyError and `CasebookError`."""
        case = cls(id, machine, book, clock)
        case._load()
        case._read_only = True
        return case

    @classmethod
    def resume(cls, id: str, machine: Machine, person: Person, *, book: Casebook, clock: Clock = utc_now) -> Case:
        """A case that goes on: live work lapses, locks stand. A case that is over opens to be read.

        Raises KeyError for an unknown id, `CasebookError`, and `Refused` for a person without a name."""
        case = cls.read(id, machine, book=book, clock=clock)
        if case.state.closed in ("cured", "running"):
            return case
        case._read_only = False
        case.post(e.Resumed())
        case.post(_took_over(person))
        return case

    # ------------------------------------------------------------ what is so

    @property
    def state(self) -> State:
        return self._folded.state

    @property
    def entries(self) -> tuple[e.Entry, ...]:
        """Everything that was entered, in order."""
        return self._entries

    def action(self, id: str) -> Action:
        """Any check, remedy or reset as it may be shown now. Raises KeyError."""
        machine, folded = self.machine, self._folded
        if id in machine.checks:
            return actions.of_check(machine, folded, machine.checks[id])
        if id in machine.remedies:
            return actions.of_remedy(machine, folded, machine.remedies[id])
        return actions.of_reset(machine, folded, machine.resets[id])

    def advice(self) -> Advice:
        """What the facts so far say, and the next thing. The first call loads the mathematics."""
        if self._advice is None:
            from diag.case.advice import advise

            self._advice = advise(self.machine, self._folded, self._weigh())
        return self._advice

    def further(self) -> Further | None:
        """The next thing, to be looked at further ahead than `advice` does, in a thread that may take its time; None
        where nothing is to be weighed. What it finds is for `heed`."""
        from diag.case.advice import barred, looking

        if not looking(self._folded):
            return None
        return self._weigh().further(self._folded, barred(self.machine, self._folded))

    def heed(self, further: Further, plan: Plan) -> Advice:
        """The advice with what was found further ahead, as far as that is of the facts as they are now."""
        self._weigh().heed(further, plan)
        self._advice = None
        return self.advice()

    def evidence(self, cause: str) -> tuple[Weight, ...]:
        """What each fact says about one cause. Raises KeyError."""
        return self._weigh().weights(self._folded, cause)

    def overturn(self, cause: str) -> str:
        """What single further fact would end the lead of this cause, or give it the lead; empty when none would.
        Raises KeyError."""
        return self._weigh().overturn(self._folded, cause)

    def two(self, most: int = 3) -> tuple[Two, ...]:
        """The likeliest two causes at once, when asked; advice names them by itself when no single one explains all."""
        return self._weigh().two(self._folded, most)

    def ending(self) -> e.Closed:
        """The end that the facts allow: cured by the likeliest cause of the remedy that is proved, else running."""
        state = self.state
        if state.remedy and state.proved:
            causes = self.machine.causes_of.get(state.remedy, ())
            likely = [c.id for c in self.advice().causes if c.id in causes]
            if likely:
                return e.Closed(outcome="cured", cause=likely[0])
        return e.Closed(outcome="running")

    def sheet(self) -> str:
        """The handover sheet, for an operator the call sheet, as Markdown."""
        from diag.case.sheet import markdown

        return markdown(self)

    # ------------------------------------------------------------ what is entered

    def post(self, event: e.Event) -> State:
        """Enters an event: asks the rule, stores it, and shows it. Raises `Refused` or `CasebookError` in one line."""
        if self._read_only:
            raise Refused("This case is only read here.")
        at = _utc(self._clock())
        event = admit(self.machine, self._folded, event, at)
        by = event.person if isinstance(event, e.TookOver) else self.state.person.name
        stamped = e.Stamped(seq=self._entries[-1].seq + 1, at=at, by=by, event=event)
        entries = (*self._entries, stamped)
        folded = fold(self.machine, self.id, entries)
        if self._book is not None:
            try:
                self._book.add(self.id, stamped, folded.state.locks)
            except Conflict:
                self._load()
                raise
        self._entries, self._folded, self._advice = entries, folded, None
        return folded.state

    def say(self, indication: str, text: str, *, check: str = "", before: str = "") -> State:
        """A fact as people say it: a state, a display's code, a reading. Raises `CannotRead`, and as `post` does."""
        ind = self.machine.indications.get(indication)
        if ind is None:
            raise CannotRead(*unknown("indication", indication, self.machine.indications))
        if len(text) > MOST_SAID:
            raise CannotRead(f"that is longer than {MOST_SAID} characters")
        from diag.case.sights import of_words

        return self.sight(indication, of_words(ind, text), check=check, before=before)

    def sight(self, indication: str, sighting: Sighting, *, check: str = "", before: str = "") -> State:
        """A fact as it was read off: tapped, drawn, measured (`diag.case.sights`). Raises as `post` does."""
        try:
            found = e.Found(
                indication=indication,
                seen=dict(sighting.seen),
                said=clean(sighting.said),
                check=check,
                before=one_line(before),
            )
        except ValidationError:
            raise CannotRead("a name in it is too long") from None
        return self.post(found)

    def could_be(self, indication: str, sighting: Sighting) -> tuple[tuple[str, float], ...]:
        """The states that a doubtful sight could be, likeliest by all that is known, with their shares. This only
        orders a list for the screen: the fact that is stored is the sight alone."""
        return self._weigh().could_be(self._folded, indication, sighting.seen)

    def cannot_tell(self, indication: str, check: str = "") -> State:
        """Nobody could tell. Raises as `post` does."""
        return self.post(e.CannotTell(indication=indication, check=check))

    def undo(self) -> State:
        """Takes back the latest thing that can be taken back. Raises `Refused` when there is none, or at a gate where
        what was confirmed last is not taken back by a key."""
        undo = self._folded.undo
        if undo is None:
            raise Refused("There is nothing to take back.")
        return self.post(e.Gate(zone=undo.zone, act=Act.RETRACT) if undo.zone else e.TakenBack(seq=undo.seq))

    # ------------------------------------------------------------ inside

    @property
    def folded(self) -> Folded:
        """The case as folded, for the sheet and the advice."""
        return self._folded

    def weigh(self) -> Weighing:
        """The facts in numbers, kept from fact to fact. The first call loads the mathematics."""
        return self._weigh()

    def _weigh(self) -> Weighing:
        if self._weighing is None:
            from diag.case.weighing import Weighing

            self._weighing = Weighing(self.machine)
        return self._weighing

    def _load(self) -> None:
        assert self._book is not None
        self._take(self._book.events(self.id))

    def _take(self, entries: tuple[e.Entry, ...]) -> None:
        try:
            folded = fold(self.machine, self.id, entries)
        except NoCase as error:
            raise CasebookError(str(error)) from None
        self._entries, self._folded, self._advice = entries, folded, None


def names(at: datetime) -> Iterator[str]:
    """Names for a case of that day, short enough to be said on the telephone: `1125-a`, `1125-b`, ... `1125-aa`."""
    day = f"{at.astimezone():%m%d}"
    size = 1
    while True:
        for number in range(len(LETTERS) ** size):
            word = ""
            for _ in range(size):
                number, letter = divmod(number, len(LETTERS))
                word = LETTERS[letter] + word
            yield f"{day}-{word}"
        size += 1


def _took_over(person: Person) -> e.TookOver:
    try:
        return e.TookOver(
            person=one_line(person.name), role=person.role, authorised=person.authorised, qualified=person.qualified
        )
    except ValidationError:
        raise Refused("That name is too long.") from None


def _utc(at: datetime) -> datetime:
    return at.astimezone(UTC)
