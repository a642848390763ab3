"""One case: the one door through which the app, the commands, drills and tests reach facts, lockout and advice."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import count, product
from typing import TYPE_CHECKING

from pydantic import ValidationError

from diag.case.advice import actions
from diag.case.log import events as e
from diag.case.log.ageing import Around, OldProof
from diag.case.log.facts import sign_name
from diag.case.log.owners import listed_as
from diag.case.log.projection import Projection, tree_position
from diag.case.log.replay import NoCase, Replay, replay
from diag.case.log.stored import Listed, Place, Standing, Stream, entry_to_add, place_of, stream_of
from diag.case.log.validate_event import validate_event
from diag.case.sitting import Clock, Sitting, utc_now
from diag.case.snapshot import Action, Advice, CaseState, Likely, TagLock, Two, Weight
from diag.machine.assets import no_asset, shown_name
from diag.machine.model import Machine
from diag.machine.names import unknown
from diag.machine.states.say import CannotRead
from diag.record.casebook import Casebook, CasebookError, Conflict
from diag.record.entry import NewEntry, Stored
from diag.safety import Act, Person, Refused
from diag.safety.types import same_name
from diag.text import clean, one_line

if TYPE_CHECKING:
    from diag.case.advice.weighing import Lookahead, Weighing
    from diag.case.observe.observation import Observation
    from diag.reason.advice.one_step import Plan
    from diag.tree.walk import TreePosition

LETTERS = "abcdefghjkmnpqrstuvwxyz"
"""Of case names: without i, l and o, which read as digits."""
UNLIKE = (
    "The casebook's list of locks and dangers does not fit the entries of this machine. No zone counts as proved:"
    " look at each point."
)
READ_ONLY = "This case is only read here."
PLAIN = (e.Found, e.CannotTell, e.Noted, e.Called, e.TagFound)
"""What says only what was seen, noted or asked for, and may be stored though others entered something meanwhile."""
TRIES = 5
"""How often that is tried; each time somebody else was quicker."""
MOST_SAID = 200
"""Characters of one answer."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What would be stored, and what would be so then."""

    event: e.Event
    sitting: Sitting
    added: tuple[NewEntry, ...]
    so_far: Replay
    place: Place
    """How far the case and its machine were known."""
    taken: bool | None
    """Whether it is what was advised; None where it is neither."""
    tries: int
    """How often others were quicker."""


class Case:
    """One stop, from the first look to back in service or handed over.

    It is made by `open`, `resume` or `read`. Whatever is entered goes through `post`, which asks the one rule, stores
    the event, and only then shows it. When it cannot be stored, `CasebookError` is raised and nothing has changed.

    Every entry is made in a `Sitting`, in the name of its person; left out, it is the sitting in which the case was
    opened here. Nothing that others enter changes who sits here, and what is shown is what the person of this sitting
    may see and do.
    """

    def __init__(
        self, id: str, machine: Machine, book: Casebook | None, clock: Clock, shifts: tuple[str, ...] = ()
    ) -> None:
        self.id = id
        self.machine = machine
        self._book = book
        self._key = id
        """What the casebook knows it by: its name may come again in another year, or by an import."""
        self._clock = clock
        self._sitting: Sitting | None = None
        """None in a case that is only read here."""
        self._place = Place(0, 0)
        self._tagged: tuple[TagLock, ...] = ()
        self._shifts = shifts
        self._old: frozenset[OldProof] = frozenset()
        """Proofs that were too old once. They are made again, whatever a clock says since."""
        self._so_far: Replay
        self._projection: Projection
        self._weighing: Weighing | None = None
        self._advice: Advice | None = None
        self._given: Advice | None = None
        """The last that was asked for; what is entered next is held against it."""
        self._taken = self._of = 0
        """How many entries made here were what was advised, of those that could have been."""

    # ------------------------------------------------------------ ways in

    @classmethod
    def open(
        cls,
        machine: Machine,
        sitting: Sitting | Person,
        *,
        book: Casebook | None = None,
        clock: Clock = utc_now,
        shifts: tuple[str, ...] = (),
    ) -> Case:
        """A new case. Without a casebook it is kept nowhere. `shifts`: the times of day, as `06:00`, at which those of
        the site begin; a proof of dead is made again then. Raises `Refused` for a person without a name."""
        sitting = _sitting(sitting)
        took = _took_over(sitting.person)
        if not took.person:
            raise Refused("Say who you are first.")
        if book is not None and machine.gone:
            raise Refused(f"No case is begun: {no_asset(machine.id, machine.asset, machine.assets)}.")
        if book is not None:  # the same letters in another spelling are the same person
            book.check(machine.recorded_as)
            owners = (lock.who for lock in book.locks(machine.recorded_as))
            own = next((name for name in owners if same_name(name, took.person)), took.person)
            took = took.model_copy(update={"person": own})
        at = clock().astimezone(UTC)
        entries = _begun(machine, sitting, at, took)
        ids = names(at)
        added = [entry_to_add(machine, entries[:n], stamped, sitting) for n, stamped in enumerate(entries)]
        id = next(ids) if book is None else book.begin(ids, machine.recorded_as, added)
        case = cls(id, machine, book, clock, shifts)
        if book is not None:
            case._key = book.case(f"{id}/{at.astimezone().year}").id
        case._sitting = replace(sitting, person=replace(sitting.person, name=took.person))
        if book is None:
            case._take(Stream(entries, Place(len(entries), 0)))
        else:
            case._load()
        return case

    @classmethod
    def read(
        cls, id: str, machine: Machine, *, book: Casebook, clock: Clock = utc_now, shifts: tuple[str, ...] = ()
    ) -> Case:
        """A case to look at, to which nothing may be added. Raises KeyError and `CasebookError`."""
        case, head = cls(id, machine, book, clock, shifts), book.case(id)
        if head.machine != machine.recorded_as:
            owner, asked = one_line(shown_name(head.machine)), shown_name(machine.recorded_as)
            raise CasebookError(f"Case {one_line(id)} is of {owner}, not of {asked}.")
        case._key = head.id
        case._load()
        return case

    @classmethod
    def resume(
        cls,
        id: str,
        machine: Machine,
        sitting: Sitting | Person,
        *,
        book: Casebook,
        clock: Clock = utc_now,
        shifts: tuple[str, ...] = (),
    ) -> Case:
        """A case that goes on, with this person at a terminal. Locks stand; whoever comes back tests again before they
        work inside. They have the case in hand where they had it before, or nobody has since it was handed over; else
        they sit down beside whoever has. A case that is over is opened to be read.

        Raises KeyError for an unknown id, `CasebookError`, and `Refused` for a person without a name."""
        case = cls.read(id, machine, book=book, clock=clock, shifts=shifts)
        if case.state.closed in ("cured", "running"):
            return case
        case._sitting = _sitting(sitting)
        took = _took_over(case._sitting.person)
        for _ in range(TRIES):
            alone = case.state.closed or same_name(case.state.lead.name, took.person)
            with suppress(Conflict):
                case.post(took if alone else _joined(case._sitting.person))
                return case
        raise _another(id)

    # ------------------------------------------------------------ what is so

    @property
    def only_read(self) -> bool:
        """Nobody sits here, and nothing may be added."""
        return self._sitting is None

    @property
    def state(self) -> CaseState:
        return self._projection.state

    @property
    def entries(self) -> tuple[e.Entry, ...]:
        """Everything that was entered, in order."""
        return tuple(entry for entry in self.stream if not isinstance(entry, e.Elsewhere))

    @property
    def stream(self) -> tuple[e.Entry | e.Elsewhere, ...]:
        """The same, and in their places among them what other cases entered that touched the machine."""
        return self._so_far.entries

    @property
    def undo_zone(self) -> str:
        """The zone at whose gate `undo` would take something back; empty where it would take back an entry."""
        undo = self._projection.undo
        return "" if undo is None else undo.zone

    @property
    def may_undo(self) -> bool:
        """Whether `undo` would take anything back."""
        return self._projection.undo is not None

    @property
    def last_by(self) -> str:
        """Who made the latest entry of this case; empty where it cannot be read."""
        last = next((entry for entry in reversed(self.entries) if not _sits_down(entry)), None)
        return last.by if isinstance(last, e.Stamped) else ""

    @property
    def stays(self) -> bool:
        """The latest entry of whoever sits here is of a danger tag or an absent owner, which is not taken back."""
        name = self.state.person.name
        mine = (n for n in reversed(self.entries) if isinstance(n, e.Stamped) and same_name(n.by, name))
        latest = next(mine, None)
        return latest is not None and isinstance(latest.event, e.TagFound | e.TagDown | e.OwnerAbsent | e.OwnerTold)

    def action(self, id: str) -> Action:
        """Any check, remedy or reset as it may be shown now. Raises KeyError."""
        machine, projection = self.machine, self._projection
        if id in machine.checks:
            return actions.of_check(machine, projection, machine.checks[id])
        if id in machine.remedies:
            return actions.of_remedy(machine, projection, machine.remedies[id])
        return actions.of_reset(machine, projection, machine.resets[id])

    def advice(self) -> Advice:
        """What the facts so far say, and the next thing. The first call loads the mathematics."""
        if self._advice is None:
            from diag.case.advice.advice import advise

            self._advice = self._given = advise(self.machine, self._projection, self._weigh())
        return self._advice

    def ranking(self) -> tuple[Likely, ...]:
        """All causes, best first, `unlisted` among them: the ranking of `advice`, in a fraction of its time."""
        return self._weigh().likely(self._projection)

    def tree_position(self) -> TreePosition | None:
        """Where the machine's start tree stands by what is known; None where there is no tree."""
        return tree_position(self.machine, self._projection)

    def lookahead(self) -> Lookahead | None:
        """A look further ahead than `advice` takes, for a thread that may take its time; None where there is nothing to
        weigh. `adopt_plan` takes what it finds."""
        from diag.case.advice.advice import excluded, looking

        if not looking(self._projection):
            return None
        return self._weigh().lookahead(self._projection, excluded(self.machine, self._projection))

    def adopt_plan(self, lookahead: Lookahead, plan: Plan) -> Advice:
        """The advice with the plan that a look ahead found, as far as that plan is for the facts as they are now."""
        self._weigh().adopt_plan(lookahead, plan)
        self._advice = None
        return self.advice()

    def evidence(self, cause: str) -> tuple[Weight, ...]:
        """What each fact says about one cause. Raises KeyError."""
        return self._weigh().weights(self._projection, cause)

    def log_likelihood(self, cause: str) -> float:
        """Natural log of P(all the facts that count | this cause). Raises KeyError."""
        return self._weigh().log_likelihood(self._projection, cause)

    def ruled_out(self) -> tuple[tuple[str, float, str], ...]:
        """Causes that were likely at some time and are not now, the one that stood highest first: the cause, its
        probability, and the fact that speaks most against it (or empty)."""
        return self._weigh().ruled_out(self._projection)

    def overturn(self, cause: str) -> str:
        """What single further fact would end the lead of this cause, or give it the lead; empty when none would.
        Raises KeyError."""
        return self._weigh().overturn(self._projection, cause)

    def two(self, most: int = 3) -> tuple[Two, ...]:
        """The likeliest two causes at once, when asked; advice names them by itself when no single one explains all."""
        return self._weigh().two(self._projection, most)

    def ending(self) -> e.Closed:
        """The end that the facts allow: cured, with the likeliest cause of the proved remedy, or else running."""
        causes = self.machine.causes_of.get(self.state.remedy, ()) if self.state.proved else ()
        likely = next((c.id for c in self.advice().causes if c.id in causes), "") if causes else ""
        return e.Closed(outcome="cured", cause=likely) if likely else e.Closed(outcome="running")

    # ------------------------------------------------------------ what is entered

    def post(self, event: e.Event, sitting: Sitting | None = None) -> CaseState:
        """Enters an event: asks the rule, stores it, and shows it. Raises `Refused` or `CasebookError` in one line.

        The sitting says who enters it, and the rule is asked for that person. Where the log does not know the sitting,
        or has it with other words of what the person may do, they join first.

        Where somebody else entered something at the same time, a plain fact, note or call is judged again with that
        known, and stored if it is still allowed. Anything else raises `Conflict`: whoever meant it looks again
        first."""
        draft: Draft | None = self.draft(event, sitting)
        while draft is not None:
            draft = self.adopt(draft, self.append(draft))
        return self.state

    def draft(self, event: e.Event, sitting: Sitting | None = None, tries: int = 0) -> Draft:
        """What would be stored, once the rule allows it: the first of three steps of `post`. Nothing has changed yet.
        Raises `Refused`."""
        sitting = sitting or self._sitting
        if sitting is None or self._sitting is None:
            raise Refused(READ_ONLY)
        at = self._clock().astimezone(UTC)
        so_far, added, own = self._so_far, list[NewEntry](), list(self.entries)
        person = _as_stored(sitting.person)
        sits_down = isinstance(event, e.TookOver | e.Joined)
        unknown = so_far.sittings.get(sitting.id) != person and not (sits_down or self.state.closed)
        taken = None
        for one in (_joined(person), event) if unknown else (event,):
            valid = validate_event(self.machine, so_far.projection(person), one, at)
            stamped = _stamped(own[-1].seq + 1, at, valid, sitting)
            if one is event:
                stamped, taken = self._advised(stamped)
            had, so_far = _standing(so_far), so_far.after(stamped)
            seen = self._place.rev
            added.append(entry_to_add(self.machine, own, stamped, sitting, had, _standing(so_far), seen))
            own.append(stamped)
        return Draft(event, sitting, tuple(added), so_far, self._place, taken, tries)

    def append(self, draft: Draft) -> Stored | None:
        """Stores it, and does nothing else: this may take place in a thread, however long the casebook is held. None
        where others were quicker, and in a case that is kept nowhere. Raises `CasebookError`."""
        if self._book is None:
            return None
        try:
            stored = self._book.append(self._key, draft.added, after=draft.place.seq)
        except Conflict:
            return None
        return stored if isinstance(stored, Stored) else None

    def adopt(self, draft: Draft, stored: Stored | None) -> Draft | None:
        """Shows what was stored. Where others were quicker, what they entered is taken in: then a plain fact, note or
        call comes back as another draft, to be stored in its turn; anything else raises `Conflict`. Raises `Refused`
        and `CasebookError`."""
        if self._book is not None and stored is None:
            self._load()
            if not isinstance(draft.event, PLAIN) or draft.tries + 1 >= TRIES:
                raise _another(self.id)
            return self.draft(draft.event, draft.sitting, draft.tries + 1)
        if draft.taken is not None:
            self._of, self._taken, self._given = self._of + 1, self._taken + draft.taken, None
        here = self._sitting
        if here is not None and isinstance(draft.event, e.TookOver | e.Joined) and draft.sitting.id == here.id:
            self._sitting = replace(here, person=draft.so_far.sittings[here.id])
        as_seen, alone = self._place == draft.place, True
        if stored is not None:
            recorded = self.machine.recorded_as
            tags = draft.place.tags + sum(len(entry.touches.keys() - {recorded}) for entry in draft.added)
            place = Place(stored.seq, stored.revs.get(recorded, draft.place.rev), tags)
            alone = stored.rev == place.rev
            self._place = place if as_seen else self._place
        if as_seen:
            self._so_far = draft.so_far
            self._show()
        if not (as_seen and alone):  # others entered something in between, some of which may be shown already
            with suppress(CasebookError):
                self._load()
        return None

    def tick(self) -> bool:
        """Lets time pass: True where a proof of dead has aged since this was shown last, so that it is shown anew."""
        if not self.state.proof_ends:
            return False
        now = self._clock().astimezone(UTC)
        if self._so_far.aged(Around(now, self._shifts, self._old)).keys() == self._projection.aged.keys():
            return False
        self._show(now)
        return True

    def _advised(self, stamped: e.Stamped) -> tuple[e.Stamped, bool | None]:
        """The entry with what it keeps of the advice, and whether it is what was advised; None where it is neither.
        Where nobody has asked for advice, there is none to keep."""
        from diag.case.advice.advised import advised, follows

        ends = isinstance(stamped.event, e.Closed) and self._weighing is not None
        given = self.advice() if ends else self._given
        if given is None:
            return stamped, None
        taken = follows(given.next, stamped.event)
        first = taken is not None and not any(isinstance(n, e.Stamped) and n.advice for n in self.entries)
        if not first and not ends:
            return stamped, taken
        counts = (self._taken + bool(taken), self._of + (taken is not None))
        return stamped.model_copy(update={"advice": advised(self.machine, given, *counts)}), taken

    def stirred(self) -> bool:
        """Whether the casebook may have more than when this, or `news`, was asked last. It takes microseconds, and is
        for one who asks often. Raises `CasebookError`."""
        return self._book is not None and self._book.changed()

    def news(self) -> Stream | None:
        """What the casebook has, where it has more than is known here, of this case or of others at the machine; else
        None. It only reads, and may be asked in a thread. Raises `CasebookError`."""
        if self._book is None:
            return None
        self._book.changed()  # It tells where the casebook is no longer what it was.
        if place_of(self._book, self._key, self.machine) == self._place:
            return None
        return stream_of(self._book, self._key, self.machine, to_end=self.only_read)

    def take_in(self, news: Stream) -> bool:
        """Takes in what `news` found. False where as much is known already."""
        place, new = self._place, news.place
        if new == place or new.seq < place.seq or new.rev < place.rev or new.tags < place.tags:
            return False  # Read before something was entered here.
        self._take(news)
        return True

    def follow(self) -> bool:
        """Takes in what others have entered since. True where there was something. Raises `CasebookError`."""
        news = self.news()
        return news is not None and self.take_in(news)

    def sit(self, sitting: Sitting) -> None:
        """Somebody else is at this terminal now: what is shown is what that person may see and do. They join with
        their first entry. Raises `Refused` in a case that is only read."""
        if self._sitting is None:
            raise Refused(READ_ONLY)
        self._sitting = replace(sitting, person=self._so_far.sittings.get(sitting.id, sitting.person))
        self._show()

    def record_digits(self) -> tuple[int, str, str] | None:
        """The number of the last entry, its digits for a sheet, and those of the last seal; None without a casebook.
        Raises `CasebookError`."""
        return None if self._book is None else self._book.digits(self.id)

    def refusal(self, event: e.Event) -> str:
        """Why an event would be refused now, in one line; empty when it may be entered. Nothing is entered."""
        return str(self.refusing(event) or "")

    def refusing(self, event: e.Event) -> Refused | None:
        """What would be raised for an event now; None where it may be entered. Nothing is entered."""
        if self._sitting is None:
            return Refused(READ_ONLY)
        try:
            validate_event(self.machine, self._projection, event, self._clock().astimezone(UTC))
        except Refused as error:
            return error
        return None

    def say(
        self, indication: str, text: str, sitting: Sitting | None = None, *, check: str = "", before: str = ""
    ) -> CaseState:
        """A fact as people say it: a state, a display's code, a reading. Raises `CannotRead`, and as `post` does."""
        ind = self.machine.indications.get(indication)
        if ind is None:
            raise CannotRead(*unknown("indication", indication, self.machine.indications))
        if len(text) > MOST_SAID:
            raise CannotRead(f"that is longer than {MOST_SAID} characters")
        from diag.case.observe.observe import of_words

        return self.observe(indication, of_words(ind, text), sitting, check=check, before=before)

    def observe(
        self,
        indication: str,
        observation: Observation,
        sitting: Sitting | None = None,
        *,
        check: str = "",
        before: str = "",
    ) -> CaseState:
        """A fact as it was read off: tapped, drawn, measured (`diag.case.observe.observe`). Raises as `post` does."""
        return self.post(found(indication, observation, check, before), sitting)

    def could_be(self, indication: str, observation: Observation) -> tuple[tuple[str, float], ...]:
        """The states that a doubtful observation could be, likeliest by all that is known, with their shares. This only
        orders a list for the screen: the fact that is stored is the observation alone."""
        return self._weigh().could_be(self._projection, indication, observation.seen)

    def cannot_tell(self, indication: str, check: str = "", sitting: Sitting | None = None) -> CaseState:
        """Nobody could tell. Raises as `post` does."""
        return self.post(e.CannotTell(indication=indication, check=check), sitting)

    def undo(self, sitting: Sitting | None = None) -> CaseState:
        """Takes back the latest thing that this person entered and that can be taken back. Raises `Refused` when there
        is none, and at a gate where the last confirmation cannot be taken back by a key."""
        return self.post(self.undoing(), sitting)

    def undoing(self) -> e.Event:
        """The event that takes back the latest thing. Raises `Refused` when there is none."""
        undo = self._projection.undo
        if undo is None:
            raise Refused("There is nothing to take back that you entered.")
        return e.Gate(zone=undo.zone, act=Act.RETRACT) if undo.zone else e.TakenBack(seq=undo.seq)

    # ------------------------------------------------------------ inside

    def _weigh(self) -> Weighing:
        if self._weighing is None:
            from diag.case.advice.weighing import Weighing

            self._weighing = Weighing(self.machine)
        return self._weighing

    def _load(self) -> None:
        assert self._book is not None
        self._take(stream_of(self._book, self._key, self.machine, to_end=self.only_read))

    def _take(self, stream: Stream) -> None:
        try:
            so_far = replay(self.machine, self.id, stream.entries, stream.carried)
        except NoCase as error:
            raise CasebookError(str(error)) from None
        stands = _standing(so_far)
        if stream.listed not in (None, Listed(stands.locks, frozenset(map(sign_name, stands.dangers)))):
            so_far.distrust(UNLIKE)
        self._so_far, self._place, self._tagged = so_far, stream.place, stream.tagged
        self._show()

    def _show(self, at: datetime | None = None) -> None:
        """What is so now, for the person of this sitting."""
        here = None if self._sitting is None else _as_stored(self._sitting.person)
        around = Around(at, self._shifts, self._old, self._tagged)
        self._projection, self._advice = self._so_far.projection(here, around), None
        proofs = self._so_far.proofs()
        self._old |= {(zone, proofs[zone].tested, proofs[zone].seq) for zone in self._projection.aged}


def found(indication: str, observation: Observation, check: str = "", before: str = "") -> e.Found:
    """The event of a fact as it was read off. Raises `CannotRead`."""
    try:
        return e.Found(
            indication=indication,
            seen=dict(observation.seen),
            said=clean(observation.said),
            check=check,
            before=one_line(before),
        )
    except ValidationError:
        raise CannotRead("a name in it is too long") from None


def opening(machine: Machine, sitting: Sitting, at: datetime, *then: e.Event) -> tuple[e.Stamped, ...]:
    """The first entries of a case, and what is entered with them. Raises `Refused` for a person without a name."""
    took = _took_over(sitting.person)
    if not took.person:
        raise Refused("Say who you are first.")
    return _begun(machine, sitting, at, took, *then)


def _begun(machine: Machine, sitting: Sitting, at: datetime, *then: e.Event) -> tuple[e.Stamped, ...]:
    begun = (e.Opened(machine=machine.recorded_as, revision=machine.revision), *then)
    return tuple(_stamped(n, at, event, sitting) for n, event in enumerate(begun, 1))


def names(at: datetime) -> Iterator[str]:
    """Names for a case of that day, short enough to be said on the telephone: `1125-a`, `1125-b`, ... `1125-aa`."""
    for size in count(1):
        for letters in product(LETTERS, repeat=size):
            yield f"{at.astimezone():%m%d}-{''.join(letters)}"


def _sits_down(entry: e.Entry) -> bool:
    return isinstance(entry, e.Stamped) and isinstance(entry.event, e.TookOver | e.Joined)


def _another(case: str) -> Conflict:
    return Conflict(f"Somebody else has added to case {case} or its machine just now. Look at it again, then repeat.")


def _standing(so_far: Replay) -> Standing:
    locks = so_far.isolation.locks.union(listed_as(so_far.tags, so_far.to_be_told))
    return Standing(locks, so_far.dangers, so_far.rest())


def _took_over(person: Person) -> e.TookOver:
    try:
        return e.TookOver(
            person=one_line(person.name), role=person.role, authorised=person.authorised, qualified=person.qualified
        )
    except ValidationError:
        raise Refused("That name is too long.") from None


def _joined(person: Person) -> e.Joined:
    return e.Joined(**_took_over(person).model_dump(exclude={"kind"}))


def _as_stored(person: Person) -> Person:
    """The person as entries keep them."""
    return replace(person, name=one_line(person.name))


def _stamped(seq: int, at: datetime, event: e.Event, sitting: Sitting) -> e.Stamped:
    """The entry, in the name of whoever the event says to sit there, or else of whoever does."""
    person = _as_stored(sitting.person)
    if isinstance(event, e.TookOver | e.Joined):
        person = Person(event.person, event.role, event.authorised, event.qualified)
    return e.Stamped(
        seq=seq,
        at=at,
        by=person.name,
        event=event,
        sitting=sitting.id,
        role=person.role,
        authorised=person.authorised,
        qualified=person.qualified,
    )


def _sitting(sitting: Sitting | Person) -> Sitting:
    return sitting if isinstance(sitting, Sitting) else Sitting(sitting)
