"""One open case at the keys: what a screen asks of it, and how an event is posted."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import timedelta
from math import inf
from typing import TYPE_CHECKING

from diag.case.sitting import Clock
from diag.case.snapshot import Advice, CaseState, Weight
from diag.safety.types import Person, Refused, folded, same_name
from diag.text import one_line
from diag.tui.looks.wording import plain
from diag.tui.storing import LEFT, NOT_YET, Entry, Storing

if TYPE_CHECKING:
    from pathlib import Path

    from diag.case.case import Case
    from diag.case.log.events import Elsewhere, Event
    from diag.case.log.events import Entry as CaseEntry
    from diag.case.log.stored import Stream
    from diag.case.observe.observation import Observation
    from diag.case.sitting import Sitting
    from diag.machine.model import Indication


APART = 0.8
"""Seconds between a confirmation and the press before it. Nobody has read what is asked sooner; and a key that is held
down begins to repeat sooner, and then repeats every few hundredths of a second."""
UNDER_KEYS = 0.7
"""Seconds after something under the keys has changed unannounced, within which no key is taken."""
LATELY = timedelta(hours=24)
"""Whoever entered something at the machine within it may well come to this terminal."""
CHANGED = "Not taken: this changed just now. Read it, then press again."
READ_HERE = "Read it here, on sitting down."
TOO_QUICK = "Too quick to have been read. Read what is asked, then confirm it."


DID = {
    "took-over": "has the case in hand",
    "joined": "sat down",
    "reset-done": "did a reset",
    "remedied": "did a remedy",
    "made-safe": "said that a danger is over",
    "closed": "ended the case",
    "tag-found": "found a danger tag",
    "tag-down": "took a danger tag down",
    "owner-absent": "entered that something of an absent owner was taken off",
    "owner-told": "entered that an owner was told",
    "lists-repaired": "repaired the lists of this machine",
    "taken-back": "took an entry back",
    "called": "made a call",
    "noted": "wrote a note",
}
"""What somebody else's entry of a kind is told as."""


@dataclass(frozen=True, slots=True)
class AnswerAccess:
    """How an indication would be answered now."""

    check: str
    """The check that gives it; empty for a look."""
    closed: str = ""
    """Why no answer is taken as done now; empty when one is."""
    shut: bool = False
    """It may not even be shown how, because it is inside."""
    zone: str = ""
    way: str = ""
    """The zone in which it is, and the way that opens it: `lock`, `live` and so on."""


@dataclass
class CaseSession:
    """One open case at the keys."""

    case: Case
    sitting: Sitting
    """Who enters, at this terminal."""
    clock: Clock
    seconds: Callable[[], float]
    ahead: float
    """Seconds after which looking further ahead ends; 0 for not at all."""
    sheets: Path | None = None
    """The folder of handover sheets; None for the user's documents."""
    recorded: bool = True
    """Whether what is entered is kept."""
    follows: bool = True
    """Whether it shows at once what others enter."""
    lost: Callable[[], bool] = bool
    """Whether the casebook has not answered for too long to trust what is shown."""
    _lock: threading.Lock = field(default_factory=threading.Lock)
    """Held while what the case knows changes; never while the casebook is waited for."""
    entries: Storing = field(init=False)
    sat: dict[str, Sitting] = field(default_factory=dict)
    """The sittings at this terminal, by the folded name of their person."""
    host: Sitting | None = None
    """Who goes on here once somebody beside them has made their one entry."""
    touched: int = 0
    """How often others have entered something here that changes what may be done at the machine."""
    came_out: bool = False
    """What others entered last makes people come out: it is told with the mark of a stop."""
    _pressed: float = -inf
    _changed: float = -inf

    def __post_init__(self) -> None:
        self.sat[folded(self.sitting.person.name)] = self.sitting
        self.entries = Storing(self.case, self._lock)

    def unhurried(self) -> bool:
        """Notes a press that confirms, on whichever screen of the case. True where it comes long enough after the one
        before: a key that is held down must not confirm anything past its first press."""
        now = self.seconds()
        before, self._pressed = self._pressed, now
        return now - before >= APART

    def tick(self) -> bool:
        """Lets time pass. True where a proof of dead has become too old since it was shown last."""
        if not self.case.state.proof_ends:
            return False
        with self._lock:
            return self.case.tick()

    def has_changed(self) -> None:
        """Something under the keys was painted anew, and nobody here had asked for it."""
        self._changed = self.seconds()

    @property
    def just_changed(self) -> bool:
        """Whoever presses a key now aimed it at what stood there before."""
        return self.seconds() - self._changed < UNDER_KEYS

    def early(self) -> bool:
        """Whether a key comes too soon after a question of people's safety opened, or after the key before it: whoever
        types on has not read it."""
        soon = self.just_changed
        self.has_changed()
        return soon

    @property
    def people(self) -> dict[str, Person]:
        """Everybody who was at the keys in this case, by name."""
        return {person.name: person for person in self.case.state.people}

    @property
    def lately(self) -> tuple[str, ...]:
        """The names of those who entered something at the machine within a day, whoever has a lock on, and who has the
        case in hand."""
        from diag.case.log.events import Elsewhere, Stamped

        state, day = self.case.state, self.clock() - LATELY
        entries = (one.entry if isinstance(one, Elsewhere) else one for one in self.case.stream)
        found = [entry.by for entry in entries if isinstance(entry, Stamped) and entry.at >= day]
        return tuple(dict.fromkeys((state.lead.name, *found, *(owner for _, owner in state.locks))))

    @property
    def badges(self) -> tuple[str, ...]:
        """What whoever is at the keys must know all the time, the longest way to say it first; none where all is well:
        that nothing is recorded, and that the machine's file is not approved."""
        badges = self.case.machine.approval.badges
        if self.host is not None:
            return (f"ONE ENTRY, THEN {one_line(self.host.person.name)}", "ONE ENTRY")
        if self.recorded:
            return badges
        return (*(f"NOT RECORDED, {badge}" for badge in badges), "NOT RECORDED")

    # ------------------------------------------------------------ entering

    @property
    def storing(self) -> bool:
        """An entry is still being stored, and no other one is taken."""
        return not self.entries.entry.over

    def post(
        self, event: Event, worth: str = "", by: Sitting | None = None, kept: Callable[[], object] | None = None
    ) -> Entry:
        """Enters an event, in the name of whoever sits here unless it is `by` another sitting. `worth`: what an
        observation is worth; `kept` is called once it is stored. One that comes while another is being stored is
        refused."""
        if self.storing:
            return Entry(NOT_YET)
        with self.entries.entering(kept or self.give_back, worth) as drafts:
            drafts.append(self.case.draft(event, by or self.sitting))
        return self.entries.entry

    def observe(
        self, indication: Indication, found: str | Callable[[], Observation], check: str = "", before: str = ""
    ) -> Entry:
        """Enters what an indication was found to be, in words or as it was read off. `check`: the check that gave it;
        `before`: who found it before this case."""
        from diag.case.case import found as fact
        from diag.case.observe.observe import of_words

        try:
            observation = of_words(indication, found) if isinstance(found, str) else found()
            event = fact(indication.id, observation, check, before)
        except ValueError as error:
            return Entry(one_line(str(error)) or "That was refused.")
        return self.post(event, observation.note)

    def cannot_tell(self, indication: str, check: str = "") -> Entry:
        """Enters that nobody can tell."""
        from diag.case.log.events import CannotTell

        return self.post(CannotTell(indication=indication, check=check))

    def undo(self) -> Entry:
        """Takes back the latest entry."""
        try:
            return self.post(self.case.undoing())
        except Refused as error:
            return Entry(one_line(str(error)))

    def leave(self) -> str:
        """Waits until nothing is being stored any more. What was not stored, as a sentence."""
        unsaid = self.storing
        wrong = self.entries.settle(None).wrong
        return f"{LEFT}: {wrong}" if unsaid and wrong else ""

    # ------------------------------------------------------------ what others enter

    def stirred(self) -> bool:
        """Whether there may be news; quick. It may be asked in a thread. Raises `CasebookError`."""
        return self.recorded and self.case.stirred()

    def news(self) -> Stream | None:
        """What others have entered since; None where there is nothing. It may be asked in a thread. Raises
        `CasebookError`."""
        return self.case.news() if self.recorded else None

    def take_in(self, news: Stream) -> str:
        """Takes in what others have entered. Returns who did, and what in a few words; nothing where it is known."""
        from diag.case.case import PLAIN
        from diag.case.log.events import Elsewhere, Gate, Stamped, TakenBack
        from diag.case.phrases import answered
        from diag.case.sheet.others_words import gate_words, taken_back_words

        self.came_out = False
        case = self.case
        known = set(map(_where, case.stream))
        with self._lock:
            if not case.take_in(news):
                return ""
        # What was stored here may be read before it is known here that it was.
        own = {sitting.id for sitting in self.sat.values()} if self.storing else set()
        added = [one for one in news.entries if _where(one) not in known and _sitting_of(one) not in own]
        if self.storing and not added:
            return ""
        self.touched += any(not (isinstance(one, Stamped) and isinstance(one.event, PLAIN)) for one in added)
        if not added:
            return "Somebody changed the record."
        last = next((one for one in reversed(added) if self._comes_out(one)), added[-1])
        self.came_out = self._comes_out(last)
        where, entry = ("", last) if not isinstance(last, Elsewhere) else (f", case {last.case}", last.entry)
        if not isinstance(entry, Stamped):
            return "An entry was added that cannot be read."
        fact = next((f for f in case.state.facts if not where and f.seq == entry.seq), None)
        told = DID.get(entry.event.kind, "added something")
        what = answered(one_line(fact.title), plain(fact.state)) if fact is not None else told
        if isinstance(entry.event, Gate):
            what = gate_words(entry.event, case.machine)
        elif isinstance(entry.event, TakenBack):
            place = (last.case if isinstance(last, Elsewhere) else "", entry.event.seq)
            gone = next((inner(one) for one in (*case.stream, *news.entries) if _where(one) == place), None)
            what = taken_back_words(gone.event if isinstance(gone, Stamped) else None, case.machine) or told
        return f"{one_line(entry.by)}{where}: {what}."

    @staticmethod
    def _comes_out(one: CaseEntry | Elsewhere) -> bool:
        from diag.case.log.events import Stamped
        from diag.case.sheet.others_words import makes_come_out

        entry = inner(one)
        return isinstance(entry, Stamped) and makes_come_out(entry.event)

    # ------------------------------------------------------------ who is here

    def knows(self, person: Person | None = None) -> Entry:
        """Whoever has the keys knows what of theirs was taken off; or another person does, before they get them."""
        from diag.case.log.events import OwnerTold

        name = (person or self.sitting.person).name
        by = None if person is None else self.sitting.of(person)
        return self.post(OwnerTold(owner=name, how=READ_HERE), by=by)

    def take_over(self, person: Person) -> Entry:
        """This person has the keys here and takes the case in hand, once that is stored."""
        from diag.case.log.events import TookOver

        self.give_back()
        before, known = self.sitting, self.sat.get(folded(person.name))
        sitting = replace(before, person=person)
        if known is not None:
            sitting = replace(known, person=person)
        elif not same_name(person.name, before.person.name):
            sitting = before.of(person)
        event = TookOver(person=person.name, role=person.role, authorised=person.authorised, qualified=person.qualified)
        return self.post(event, by=sitting, kept=lambda: self._sit_down(sitting))

    def say_anew(self, person: Person) -> Entry:
        """Whoever has the keys says anew what they may do."""
        from diag.case.log.events import Joined

        event = Joined(person=person.name, role=person.role, authorised=person.authorised, qualified=person.qualified)
        sitting = replace(self.sitting, person=person)
        return self.post(event, kept=lambda: self._sit_down(sitting))

    def for_one_entry(self, person: Person) -> None:
        """Somebody beside whoever has the keys makes one entry in their own name, by their own word."""
        self.give_back()
        self.host = self.sitting
        self._sit(self.sitting.of(person))

    def give_back(self) -> None:
        """The keys go back to whoever had them, where somebody else had them for one entry."""
        if self.host is not None:
            self._sit(self.host)
            self.host = None

    def _sit_down(self, sitting: Sitting) -> None:
        self.sat[folded(sitting.person.name)] = sitting
        self._sit(sitting)

    def _sit(self, sitting: Sitting) -> None:
        self.sitting = sitting
        self.case.sit(sitting)

    def left_behind(self) -> str:
        """The locks that are on and the live work that is open, as sentences; empty when there are none."""
        state, points = self.case.state, self.case.machine.points
        owners: dict[str, list[str]] = {}
        for point, person in state.locks:
            owners.setdefault(person, []).append(one_line(points[point].title))
        words = [f"Locks of {one_line(person)} are on: {', '.join(on)}." for person, on in owners.items()]
        if state.live is not None:
            words.append(f"Live work of {one_line(state.live.person)} is open.")
        return " ".join(words)

    def access_to(self, indication: str) -> AnswerAccess:
        """The check by which this indication would be answered now, or why none may be done."""
        first, shut = None, True
        checks = self.case.machine.checks_for.get(indication, ())
        zone = next((check.zone for check in checks if check.zone), "")
        for check in checks:
            action = self.case.action(check.id)
            if action.permission.now:
                return AnswerAccess("" if check.implied else check.id, zone=action.zone or zone)
            first = first or action
            shut = shut and not action.permission.how
        if first is None:
            return AnswerAccess("")
        return AnswerAccess("", first.permission.because, shut, first.zone or zone, first.permission.way)

    def advice(self) -> tuple[CaseState, Advice]:
        """The advice, and the state that it is for. The first call is slow, because it loads the mathematics.

        An entry made meanwhile waits for it, so that advice is never kept for a state that it is not for."""
        with self._lock:
            return self.case.state, self.case.advice()

    def look_ahead(self, off: Callable[[], bool]) -> tuple[CaseState, Advice] | None:
        """Advice by what comes after the next thing, and of which state; None where there is none, or it was called
        off. It takes seconds, and nobody waits for it: `off` is asked every few milliseconds."""
        if not self.ahead:
            return None
        with self._lock:
            state, lookahead = self.case.state, self.case.lookahead()
        if lookahead is None:
            return None
        end = time.monotonic() + self.ahead
        plan = lookahead.look(off, lambda: time.monotonic() > end)
        with self._lock:
            if plan is None or off() or self.case.state is not state:
                return None
            return state, self.case.adopt_plan(lookahead, plan)

    def could_be(self, indication: str, observation: Observation) -> tuple[tuple[str, float], ...]:
        """The states that an observation fits, the likeliest by all that is known so far first."""
        with self._lock:
            return self.case.could_be(indication, observation)

    def evidence(self, cause: str) -> tuple[tuple[Weight, ...], str]:
        """What each fact says about a cause; and, in words, what further fact would change its place at the top."""
        with self._lock:
            return self.case.evidence(cause), self.case.overturn(cause)


def inner(one: CaseEntry | Elsewhere) -> CaseEntry:
    """The entry itself, also where it is of another case."""
    from diag.case.log.events import Elsewhere

    return one.entry if isinstance(one, Elsewhere) else one


def _sitting_of(entry: CaseEntry | Elsewhere) -> str:
    from diag.case.log.events import Elsewhere, Stamped

    inner = entry.entry if isinstance(entry, Elsewhere) else entry
    return inner.sitting if isinstance(inner, Stamped) else ""


def _where(entry: CaseEntry | Elsewhere) -> tuple[str, int]:
    """The case of an entry, empty for the one that is open here, and its number."""
    from diag.case.log.events import Elsewhere

    return (entry.case, entry.entry.seq) if isinstance(entry, Elsewhere) else ("", entry.seq)
