"""A case replayed from its entries: rounds, facts, the gate, resets, remedies, the end. It never reads a clock.

- A *round* starts with the case, a reset, a remedy, a change of energy, and a check that changes the machine.
- A fact taken in the wrong energy state is kept and carries no evidence.
- A fact found before the case counts for round 1, whatever the energy is now, and never hides what was found in it.
- After a remedy the facts are its proof. Only once the remedy is said to have failed do they become evidence.
- An entry that was taken back never counted, except that live work which it ended stays ended and that a reset stays in
  the count.
- An entry that cannot be read, or no longer fits the machine, gives nothing. If it may have been one of the gate, no
  zone stays proved dead, and everything is confirmed anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial

from diag.case.log import events as e
from diag.case.log import facts, owners
from diag.case.log import proof_facts as proof
from diag.case.log.ageing import Around, Proof
from diag.case.log.carried import Carried
from diag.case.log.others import Others
from diag.case.log.projection import DeadTime, Projection, Undo, known
from diag.case.log.tallies import confirmed, reset_counts, waiting, waits
from diag.case.snapshot import CaseState, DangerTag, Entered, Fact, Note, Raised, ToBeTold
from diag.case.tags import told
from diag.machine.model import Check, Danger, Energy, Machine, ProofStep, Remedy, Role
from diag.safety import Act, Isolation, Lockout, Person, Phase, Refused, Step, banner, order, shows_danger
from diag.safety.tags import forbidden
from diag.safety.types import Aged, folded, same_name

OPENING = 2
"""Entries that open a case; the second says who has it in hand."""
NOTHING = Around()
POWER = "power"
"""Stands among what began a round for a change of energy."""
WRONG_ENERGY = {
    Energy.ON: "Seen with the power off, so it tells nothing about the fault.",
    Energy.OFF: "Taken with the power on, so it tells nothing about the fault.",
}


class NoCase(Exception):
    """The entries do not begin with an opening, so no case can be made of them; one line."""


def replay(
    machine: Machine, id: str, entries: Sequence[e.Entry | e.Elsewhere], carried: Carried | None = None
) -> Replay:
    """The case after these entries, with those of other cases that touched the machine in their place among them. One
    that a later entry takes back never counted. `carried`: what goes on from a rest before them. Raises `NoCase`."""
    first = next((entry for entry in entries if not isinstance(entry, e.Elsewhere)), None)
    if not isinstance(first, e.Stamped) or not isinstance(first.event, e.Opened):
        raise NoCase(f"Case {id}: its first entry cannot be read, so the case cannot be opened.")
    so_far = Replay(machine, id, first.event.revision, first.at, first.at, Person(first.by, Role.OPERATOR))
    if carried is not None:
        so_far.carried, so_far.others, so_far.everyone = carried, carried.others, carried.others
        so_far.states, so_far.sat = carried.states, carried.sat
    taken = {
        (case, entry.event.seq)
        for case, entry in map(so_far.case_of, entries)
        if isinstance(entry, e.Stamped) and isinstance(entry.event, e.TakenBack)
    }
    for entry in entries:
        so_far._take(entry, taken)
    so_far.entries = tuple(entries)
    return so_far


@dataclass(eq=False)
class Replay:
    """What is carried from entry to entry, in values that never change, so that a copy stands by itself."""

    machine: Machine
    id: str
    revision: str
    opened: datetime
    last: datetime
    lead: Person
    """Who has the case in hand."""
    people: Mapping[str, Person] = field(default_factory=dict)
    sittings: Mapping[str, Person] = field(default_factory=dict)
    """Each sitting's person, as they said last."""
    sat: Mapping[tuple[str, str], None] = field(default_factory=dict)
    """Each sitting with each person who was said there."""
    entries: tuple[e.Entry | e.Elsewhere, ...] = ()
    entered: Mapping[str, Entered] = field(default_factory=dict)
    """By the folded name, who entered something last and when, in whichever case, also where it was taken back."""
    """Those of this case, and between them those of others that touched the machine."""
    isolation: Isolation = field(default_factory=Isolation)
    off_since: Mapping[str, datetime] = field(default_factory=dict)
    begun: Mapping[str, datetime] = field(default_factory=dict)
    """When what starts the wait of a stored energy happened, where that is no isolation point."""
    tested: Mapping[str, datetime] = field(default_factory=dict)
    """When the first test point of a zone's proof was tested."""
    tested_by: Mapping[str, int] = field(default_factory=dict)
    """The number of that test's entry."""
    leads: Mapping[str, str] = field(default_factory=dict)
    """Who has each case of the machine in hand."""
    handed: Mapping[str, datetime] = field(default_factory=dict)
    """Zones that were tested before a case changed hands, and when it did."""
    dead_times: tuple[DeadTime, ...] = ()
    own_locks: frozenset[tuple[str, str]] = frozenset()
    """Locks that an entry of this case put on, whether or not they are on still."""
    own_zones: frozenset[str] = frozenset()
    """Zones at whose gate something was confirmed in this case."""
    others: Others = field(default_factory=Others)
    everyone: Others = field(default_factory=Others)
    """The same of all cases, this one among them."""
    carried: Carried | None = None
    states: Mapping[str, str] = field(default_factory=dict)
    """Indications to the state that they were last found in, in whichever case; danger signs are read off these."""
    dangers: tuple[Danger, ...] = ()
    raised: Mapping[Danger, Raised] = field(default_factory=dict)
    """Who raised each of them."""
    """Danger signs that stand, whoever saw them."""
    tags: tuple[DangerTag, ...] = ()
    """Danger tags that stand, whoever found them."""
    to_be_told: tuple[ToBeTold, ...] = ()
    round: int = 1
    last_physical_change_round: int = 1
    untried_round: int = 1
    """Began with the last change that was no trial for a proof."""
    """The round begun by the last change other than of energy: what needs the power off still proves after it."""
    changer: str = ""
    changed: frozenset[str] = frozenset()
    """The check that began this round by changing the machine, and what it has told."""
    facts: tuple[Fact, ...] = ()
    current: Mapping[str, Fact] = field(default_factory=dict)
    cannot_tell: tuple[str, ...] = ()
    skipped: frozenset[str] = frozenset()
    did: frozenset[tuple[str, str]] = frozenset()
    cleared: tuple[tuple[int, str], ...] = ()
    failed: tuple[str, ...] = ()
    resets: tuple[tuple[str, int], ...] = ()
    """Each reset, and which remedy awaited its proof then, from 1; 0 for none."""
    mistaken: tuple[tuple[str, str], ...] = ()
    """Each reset that was taken back, and who had entered it."""
    awaiting: str = ""
    remedy: str = ""
    remedied: int = 0
    prepared: frozenset[str] = frozenset()
    """What was done, since the last remedy, before its proof is looked at."""
    called: tuple[str, ...] = ()
    closed: str = ""
    notes: tuple[Note, ...] = ()
    problems: tuple[str, ...] = ()
    undo: tuple[Undo, ...] = ()
    open_seqs: frozenset[int] = frozenset()

    # ------------------------------------------------------------ entries

    def after(self, entry: e.Stamped | e.Elsewhere) -> Replay:
        """The replay with one entry more: exactly what a replay of them all gives."""
        entries = (*self.entries, entry)
        _, added = self.case_of(entry)
        if isinstance(added, e.Stamped) and isinstance(added.event, e.TakenBack):
            return replay(self.machine, self.id, entries, self.carried)
        other = copy(self)
        other._take(entry, set())
        other.entries = entries
        return other

    def case_of(self, entry: e.Entry | e.Elsewhere) -> tuple[str, e.Entry]:
        """The case that an entry was made in, and the entry."""
        return (entry.case, entry.entry) if isinstance(entry, e.Elsewhere) else (self.id, entry)

    def who(self, entry: e.Stamped) -> Person:
        """Who entered this, with what they said of themselves in that sitting. Somebody of whom the record has no such
        word may look from outside and no more."""
        if entry.role is not None:
            return Person(entry.by, entry.role, entry.authorised, entry.qualified)
        person = self.sittings.get(entry.sitting)
        return person if person is not None and person.name == entry.by else Person(entry.by, Role.OPERATOR)

    def _take(self, one: e.Entry | e.Elsewhere, taken: Set[tuple[str, int]]) -> None:
        case, entry = self.case_of(one)
        if isinstance(entry, e.Stamped):
            back = (case, entry.seq) in taken
            if back and isinstance(entry.event, e.Found) and self._tells_of_danger(entry.event):
                self.isolation = self.isolation.disturbed()
            self.entered = {**self.entered, folded(entry.by): Entered(entry.by, entry.at)}
            self.everyone = (
                self.everyone.said_by_mistake(entry) if back else self.everyone.after(self.machine, case, entry)
            )
        if isinstance(entry, e.Unreadable):
            self.problems += (entry.why,)
            self.isolation = self.isolation.doubted(self.machine)
            self._dead(self.last)
            return
        if isinstance(one, e.Elsewhere):
            if (case, entry.seq) not in taken or not isinstance(entry.event, e.Undoable):
                self._take_elsewhere(case, entry)
            elif isinstance(entry.event, e.Closed):
                self.isolation = self.isolation.lapse()
            else:
                self.others = self.others.said_by_mistake(entry)
        else:
            self._take_own(entry, (case, entry.seq) in taken)
        self._took_off(entry.event)
        self._dead(entry.at)

    def distrust(self, why: str) -> None:
        """What is so at the machine cannot be relied on: no zone stays proved, and it says why."""
        self.problems += (why,)
        self.isolation = self.isolation.doubted(self.machine)
        self._dead(self.last)

    def rest(self) -> str | None:
        """What is carried on from here, where the machine is at rest; None where it is not."""
        begun = tuple(lockout for lockout in self.isolation.lockouts if lockout != Lockout(lockout.zone))
        stands = self.dangers or self.tags or self.to_be_told
        if stands or replace(self.isolation, lockouts=begun) != Isolation():
            return None
        return Carried(self.everyone, self.states, self.sat).text(self.last)

    def _take_own(self, entry: e.Stamped, taken_back: bool) -> None:
        self.last = entry.at
        event = entry.event
        if taken_back and isinstance(event, e.Undoable):
            if isinstance(event, e.Closed):
                self.isolation = self.isolation.lapse()
            if isinstance(event, e.ResetDone):
                self.mistaken += ((event.reset, entry.by),)
            self.others = self.others.said_by_mistake(entry)
            return
        if isinstance(event, e.Undoable):
            self.undo += (Undo(entry.seq, entry.by),)
            self.open_seqs |= {entry.seq}
        match event:
            case e.Opened():
                # What others did before this case belongs to the machine; its rounds begin here.
                self.round = self.last_physical_change_round = self.untried_round = 1
                self.cleared = ()
            case e.TookOver():
                self._changed_hands(self.id, entry, event)
                self._sat_down(entry, event)
                self.lead, self.isolation = self.people[event.person], self.isolation.lapse()
                if self.closed == "handed-over":
                    self.closed = ""
            case e.Joined():
                self._sat_down(entry, event)
            case e.Resumed():
                self.isolation = self.isolation.lapse()
            case e.Found():
                self._found(entry, event)
            case e.CannotTell():
                self._cannot_tell(entry, event)
            case e.Skipped():
                self.skipped |= {event.action}
            case e.Did():
                self.did |= {(event.tree, event.text)}
            case e.ResetDone():
                self._reset(entry, event)
            case e.Remedied():
                self._remedied(entry, event)
            case e.Prepared():
                self.prepared |= {event.text}
                self._next_round()
            case e.RemedyFailed():
                self._remedy_failed(event)
            case e.Gate():
                self._gate(entry, event)
            case e.MadeSafe():
                self._made_safe()
            case e.TagFound() | e.TagDown() | e.OwnerAbsent() | e.OwnerTold():
                self._of_owners(self.id, entry, event)
            case e.ListsRepaired():
                self._repaired(self.id, entry, event)
            case e.Called():
                self.called = (*(r for r in self.called if r != event.role), event.role.value)
            case e.Noted():
                self.notes += (Note(entry.at, entry.by, event.text),)
            case e.Closed():
                self.closed = event.outcome
                if event.note:
                    self.notes += (Note(entry.at, entry.by, event.note),)
                self.isolation = self.isolation.lapse()

    def _take_elsewhere(self, case: str, entry: e.Stamped) -> None:
        """What somebody did at this machine in another case."""
        self.others = self.others.after(self.machine, case, entry)
        match entry.event:
            case e.TookOver() | e.Joined():
                if isinstance(entry.event, e.TookOver):
                    self._changed_hands(case, entry, entry.event)
                    self.isolation = self.isolation.lapse()
                self._returned(entry, entry.event)
            case e.Resumed():
                self.isolation = self.isolation.lapse()
            case e.Gate():
                self._gate(entry, entry.event, elsewhere=True)
            case e.Found():
                self._raise_danger(case, entry, entry.event)
            case e.MadeSafe():
                self._made_safe()
            case e.TagFound() | e.TagDown() | e.OwnerAbsent() | e.OwnerTold():
                self._of_owners(case, entry, entry.event)
            case e.ListsRepaired():
                self._repaired(case, entry, entry.event)
            case e.Closed():
                self.isolation = self.isolation.lapse()

    def _sat_down(self, entry: e.Stamped, event: e.TookOver | e.Joined) -> None:
        """The person of this sitting is said."""
        self.people = {**self.people, event.person: self._returned(entry, event)}

    def _returned(self, entry: e.Stamped, event: e.TookOver | e.Joined) -> Person:
        """Whoever comes back in another sitting was away: what was proved dead for them is proved anew, and their live
        work is over. Nobody saw them at the last look before the power either. Two people who share a terminal do not
        leave each time that the other one enters something."""
        person = Person(event.person, event.role, event.authorised, event.qualified)
        if (entry.sitting, person.name) not in self.sat:
            self.isolation = self.isolation.returned(person.name).disturbed()
        self.sat = {**self.sat, (entry.sitting, person.name): None}
        self.sittings = {**self.sittings, entry.sitting: person}
        return person

    def _changed_hands(self, case: str, entry: e.Stamped, event: e.TookOver) -> None:
        """Somebody else has a case of the machine in hand than before: for a site that names no shifts, its shift
        changed. Whoever opens a case takes over from nobody, and two people who share a terminal and go on in turn are
        of one shift."""
        before, came = self.leads.get(case, ""), (entry.sitting, event.person) not in self.sat
        self.leads = {**self.leads, case: event.person}
        if entry.seq > OPENING and came and not same_name(before, event.person):
            self.handed = {**self.handed, **dict.fromkeys(self.tested, entry.at)}

    def _found(self, entry: e.Stamped, event: e.Found) -> None:
        ind = self.machine.indications.get(event.indication)
        seen = {s: p for s in (ind.state_ids if ind else ()) if (p := event.seen.get(s, 0.0)) > 0.0}
        if ind is None or not seen:
            self._no_longer_fits(entry, f"{event.indication} with that state")
            return
        before = bool(event.before)
        on = self.isolation.energised(self.machine)
        wrong = not before and ind.energy is not Energy.ANY and (ind.energy is Energy.ON) is not on
        check = self.machine.checks.get(event.check)
        if check is not None and check.changes and not before:
            self._change(check.id, ind.id)
        fact = Fact(
            seq=entry.seq,
            at=entry.at,
            by=entry.by,
            indication=ind.id,
            title=ind.title,
            state=max(seen, key=lambda s: (seen[s], s == ind.normal)),
            seen=seen,
            said=event.said,
            round=1 if before else self.round,
            before=event.before,
            counts=not wrong,
            why=WRONG_ENERGY[ind.energy] if wrong else "",
            proves=bool(self.remedy) and not before,
            trial=check is not None and check.changes and not before,
        )
        self.facts += (fact,)
        now = self.current.get(ind.id)
        if now is None or now.before or not before:
            self.current = {**self.current, ind.id: fact}
        self._raise_danger(self.id, entry, event)
        if not before:
            self.cannot_tell = tuple(i for i in self.cannot_tell if i != ind.id)
            self._answered(ind.id)

    def _cannot_tell(self, entry: e.Stamped, event: e.CannotTell) -> None:
        if event.indication not in self.machine.indications:
            self._no_longer_fits(entry, event.indication)
            return
        self.cannot_tell = tuple(dict.fromkeys((*self.cannot_tell, event.indication)))
        self._answered(event.indication)

    def _answered(self, indication: str) -> None:
        if indication == self.awaiting:
            self.awaiting = ""

    def _reset(self, entry: e.Stamped, event: e.ResetDone) -> None:
        if event.reset not in self.machine.resets:
            self._no_longer_fits(entry, event.reset)
        self._next_round()
        self.cleared += ((self.round, event.reset),)
        self.resets += ((event.reset, self._proving()),)
        self.awaiting = event.reset if event.reset in self.machine.indications else ""

    def _remedied(self, entry: e.Stamped, event: e.Remedied) -> None:
        if event.remedy not in self.machine.remedies:
            self._no_longer_fits(entry, event.remedy)
            return
        self._next_round()
        self.others = replace(self.others, protective=self.others.protective - {self.id})
        self.remedy = event.remedy
        self.remedied += 1
        self.prepared = frozenset()

    def _remedy_failed(self, event: e.RemedyFailed) -> None:
        self.facts = tuple(replace(fact, proves=False) for fact in self.facts)
        self.failed += (event.remedy,)
        self.remedy = ""

    def _made_safe(self) -> None:
        """The sign that stood first is over. What showed it is asked anew."""
        over = {indication for sign in self.dangers[:1] for indication, _ in sign.when}
        self.dangers = self.dangers[1:]
        self.current = {i: fact for i, fact in self.current.items() if i not in over}
        self.states = {i: state for i, state in self.states.items() if i not in over}
        self._next_round()

    def _repaired(self, case: str, entry: e.Stamped, event: e.ListsRepaired) -> None:
        """No zone counts as proved. Where entries were lost, what stands begins anew here, as the worst that it can
        have been."""
        if not event.lost:
            self.isolation = self.isolation.doubted(self.machine)
            return
        on = self.isolation.energised(self.machine)
        named = [(*owners.read_listed(what), person) for what, person in event.locks]
        locks = [(point, person) for word, point, person in named if not word and point in self.machine.points]
        self.isolation = self.isolation.lost(self.machine, locks)
        self.off_since = dict.fromkeys(self.isolation.off, entry.at)
        self.tags = tuple(
            DangerTag(person, point, "", "", entry.by, entry.at, case)
            for word, point, person in named
            if word == owners.TAG
        )
        told: dict[str, tuple[str, ...]] = {}
        for word, point, person in named:
            if word == owners.TOLD:
                told[person] = (*told.get(person, ()), point)
        self.to_be_told = tuple(ToBeTold(who, at, (), "", "", entry.at, case) for who, at in told.items())
        self.dangers = tuple(facts.sign_named(self.machine, name) for name in event.dangers)
        gap = Raised("The record", "entries are missing", entry.by, entry.at, case, entry.seq)
        self.raised = {sign: self.raised.get(sign, gap) for sign in self.dangers}
        self.others = self.others.lost(case, event.resets)
        self.everyone = self.everyone.lost(case, event.resets)
        self.undo = tuple(item for item in self.undo if not item.zone)
        if self.isolation.energised(self.machine) is not on:
            self._next_round(energy=True)
            self.cleared += ((self.round, POWER),)

    def _of_owners(
        self, case: str, entry: e.Stamped, event: e.TagFound | e.TagDown | e.OwnerAbsent | e.OwnerTold
    ) -> None:
        """Danger tags, and what was taken off while its owner was absent."""
        match event:
            case e.TagFound(person=person, point=point, where=where, says=says):
                self.tags += (DangerTag(person, point, where, says, entry.by, entry.at, case),)
            case e.TagDown(person=person, point=point):
                self.tags = owners.without(self.tags, person, (point,))
            case e.OwnerTold(owner=owner):
                self.to_be_told = tuple(one for one in self.to_be_told if not same_name(one.owner, owner))
            case e.OwnerAbsent():
                self._owner_absent(case, entry, event)

    def _owner_absent(self, case: str, entry: e.Stamped, event: e.OwnerAbsent) -> None:
        before = self.isolation
        try:
            if event.locks:
                self.isolation = before.owner_absent(self.machine, event.owner, event.locks, event.removed_by)
        except Refused as refused:
            self._no_longer_fits(entry, f"a lock that was taken off ({refused})")
            self.isolation = before.doubted(self.machine)
            return
        self.tags = owners.without(self.tags, event.owner, event.tags)
        done = (event.locks, event.tags, event.directed_by, event.removed_by, entry.at, case)
        self.to_be_told += (ToBeTold(event.owner, *done),)
        # What was confirmed in a zone that stood on it is not taken back by a key any more.
        lost = {z.id for z in self.machine.zones.values() if not set(event.locks).isdisjoint(z.points)}
        self.undo = tuple(item for item in self.undo if item.zone not in lost)

    def _gate(self, entry: e.Stamped, event: e.Gate, elsewhere: bool = False) -> None:
        on, isolation = self.isolation.energised(self.machine), self.isolation
        try:
            running = waiting(waits(self.machine, isolation, self.off_since, self.begun), entry.at)
            who, danger, old = self.who(entry), bool(self.dangers), not event.by_item
            tags = owners.tags_at(self.tags)
            self.isolation = confirmed(self.machine, isolation, who, event, running, danger, old, tags)
        except Refused as refused:
            self._no_longer_fits(entry, f"{event.act.value} at {event.zone} ({refused})")
            self.isolation = isolation.doubted(self.machine)
            return
        if event.act is Act.WAIT_BEGUN:
            self.begun = {**self.begun, event.target: entry.at}
        if event.act is Act.ISOLATE_AGAIN and isolation.lockout(event.zone).phase is Phase.STOP:
            # Something fed the zone, so that what a label counts from is that it is off now.
            again = self.machine.zones[event.zone].points
            self.off_since = {p: at for p, at in self.off_since.items() if p not in again}
        tests = [c for c in self.isolation.lockout(event.zone).trail if c.act is Act.TESTED_DEAD]
        if event.act is Act.TESTED_DEAD and len(tests) == 1:
            self.tested = {**self.tested, event.zone: entry.at}
            self.tested_by = {**self.tested_by, event.zone: entry.seq}
            self.handed = {zone: at for zone, at in self.handed.items() if zone != event.zone}
        self.off_since = {p: self.off_since.get(p, entry.at) for p in self.isolation.off}
        if self.isolation.energised(self.machine) is not on:
            self._next_round(energy=True)
            self.cleared += ((self.round, POWER),)
        if elsewhere:
            # What others confirmed there since is not taken back by a key here.
            self.undo = tuple(item for item in self.undo if item.zone != event.zone)
            return
        self.own_zones |= {event.zone}
        self.own_locks |= self.isolation.locks - isolation.locks
        if event.act is Act.RETRACT:
            last = max((n for n, undo in enumerate(self.undo) if undo.zone == event.zone), default=len(self.undo))
            self.undo = self.undo[:last] + self.undo[last + 1 :]
            return
        grown = len(self.isolation.lockout(event.zone).trail) - len(isolation.lockout(event.zone).trail)
        self.undo += (Undo(entry.seq, entry.by, event.zone),) * max(grown, 1)

    # ------------------------------------------------------------ parts

    def _tells_of_danger(self, event: e.Found) -> bool:
        """Whether it was of a danger sign, though it was taken back since."""
        told = ((i, states) for sign in self.machine.dangers for i, states in sign.when)
        return any(i == event.indication and not set(event.seen).isdisjoint(states) for i, states in told)

    def _raise_danger(self, case: str, entry: e.Stamped, event: e.Found) -> None:
        """A sign that this fact has just shown stands until it is made safe, whatever is seen afterwards, in whichever
        case. What was seen before a case hides nothing that was found in one."""
        ind = self.machine.indications.get(event.indication)
        seen = {s: p for s in (ind.state_ids if ind else ()) if (p := event.seen.get(s, 0.0)) > 0.0}
        if ind is None or not seen:
            return
        states = {**self.states, ind.id: max(seen, key=lambda s: (seen[s], s == ind.normal))}
        if not event.before or ind.id not in self.states:
            self.states = states
        for sign in self.machine.dangers:
            shown = any(i == ind.id for i, _ in sign.when) and shows_danger(sign, states)
            if shown and sign not in self.dangers:
                self.dangers += (sign,)
                self.isolation = self.isolation.disturbed()
                first = Raised(ind.title, states[ind.id], entry.by, entry.at, case, entry.seq)
                self.raised = {**self.raised, sign: first}

    def _took_off(self, event: e.Event) -> None:
        """What a check or a remedy took off inside is off until it is said to be back, also where its entry was a
        mistake."""
        done: Check | Remedy | None = None
        if isinstance(event, e.Remedied):
            done = self.machine.remedies.get(event.remedy)
        elif isinstance(event, e.Found | e.CannotTell) and not (isinstance(event, e.Found) and event.before):
            done = self.machine.checks.get(event.check)
        if done is not None and done.takes_off and done.zone in self.machine.zones:
            self.isolation = self.isolation.took_off(done.zone, done.takes_off)

    def _dead(self, at: datetime) -> None:
        """Which zone is proved dead for whom, from this entry on."""
        dead = {(o.zone, n) for o in self.isolation.lockouts if o.phase is Phase.DEAD for n in o.covered}
        now = {(z, n) for z, n in dead if self.isolation.dead(self.machine, z, n)}
        before = {(time.zone, time.person) for time in self.dead_times if time.until is None}
        if now != before:
            ended = (
                replace(time, until=at) if time.until is None and (time.zone, time.person) not in now else time
                for time in self.dead_times
            )
            self.dead_times = (*ended, *(DeadTime(zone, person, at) for zone, person in sorted(now - before)))

    def proofs(self) -> dict[str, Proof]:
        """For each zone that is proved dead, how old that proof may become."""
        holds = timedelta(minutes=self.machine.proof_holds)
        dead = (o.zone for o in self.isolation.lockouts if o.phase is Phase.DEAD)
        return {
            zone: Proof(self.tested[zone], self.tested_by[zone], holds, self.handed.get(zone))
            for zone in dead
            if zone in self.tested
        }

    def aged(self, around: Around) -> dict[str, Aged]:
        """The zones whose proof of dead is made again before anything more is begun, and why."""
        at = around.at or self.last
        found = {
            zone: proof.aged(at, around.shifts, (zone, proof.tested, proof.seq) in around.old)
            for zone, proof in self.proofs().items()
        }
        return {zone: aged for zone, aged in found.items() if aged is not None}

    def _next_round(self, energy: bool = False, trial: bool = False) -> None:
        self.round += 1
        if not trial:
            self.untried_round = self.round
            if not energy:
                self.last_physical_change_round = self.round
        self.cannot_tell, self.skipped, self.awaiting = (), frozenset(), ""
        self.changer, self.changed = "", frozenset()

    def _change(self, check: str, indication: str) -> None:
        """A check with several answers changes the machine once."""
        if self.changer != check or indication in self.changed:
            self._next_round(trial=bool(self.remedy))
            self.changer = check
        self.changed |= {indication}

    def _still_first(self) -> tuple[ProofStep, ...]:
        """What is still to be done before the proof of the last remedy is looked at."""
        if not self.remedy:
            return ()
        done = {reset for reset, remedy in self.resets if remedy == self.remedied}
        steps = proof.first(self.machine, self.remedy)
        return tuple(s for s in steps if not (s.reset in done if s.reset else s.do in self.prepared))

    def _fault_gone(self, proofs: Iterable[tuple[str, tuple[str, ...], str]]) -> bool:
        """Whether all of the proof that was seen since the remedy is as it should be, and something was."""
        since = {fact.indication: fact.state for fact in self.facts if fact.proves and fact.counts}
        found = [since[i] in states for i, states, _ in proofs if i in since]
        return bool(self.remedy) and bool(found) and all(found)

    def _proving(self) -> int:
        """The number of the remedy that awaits its proof; 0 for none."""
        return self.remedied if self.remedy else 0

    def _no_longer_fits(self, entry: e.Stamped, what: str) -> None:
        self.problems += (f"Entry {entry.seq} of {entry.at:%Y-%m-%d %H:%M} UTC no longer fits the machine: {what}.",)

    def _open_steps(self, steps: tuple[Step, ...]) -> tuple[Step, ...]:
        """Those that no danger tag closes."""
        tags = owners.tags_at(self.tags)
        shut = partial(forbidden, self.machine, self.isolation, tags)
        return tuple(s for s in steps if not shut(s.zone, s.act, s.target)) if tags else steps

    def _states(self) -> dict[str, str]:
        return {i: fact.state for i, fact in self.current.items()}

    def _last_undo(self, person: Person) -> Undo | None:
        """The latest thing of this person's that may be taken back. What was confirmed at a gate that is back and
        closed is history."""
        for item in reversed([item for item in self.undo if same_name(item.by, person.name)]):
            live = self.isolation.live is not None and self.isolation.live.zone == item.zone
            over = self.isolation.lockout(item.zone).phase in (Phase.NONE, Phase.TESTING, Phase.HOLDS)
            if not item.zone or live or not over:
                return item
        return None

    def projection(self, person: Person | None = None, around: Around = NOTHING) -> Projection:
        """The case as it stands after these entries, as this person may be shown it; without one, as whoever has it in
        hand. `around`: what is so beside them."""
        machine, isolation, states = self.machine, self.isolation, self._states()
        person = self.lead if person is None else person
        found = facts.lamp_tests(machine, self.facts, states)
        sign = next(iter(self.dangers), None)
        aged = self.aged(around)
        protective = bool(self.others.protective) or (not self.remedy and facts.protective(machine, found))
        answered = {fact.indication for fact in found if fact.round == self.round}.union(self.cannot_tell)
        counted, resets = reset_counts(
            machine,
            isolation,
            person,
            self.resets,
            self.others.counted(self.last),
            self._proving(),
            answered,
            protective=protective,
            danger=sign is not None,
            mistaken=self.mistaken,
            tagged=self.tags[0].person if self.tags else "",
        )
        proving = facts.proving(machine, found, self.round, self.untried_round, self.last_physical_change_round)
        wrong = facts.wrong(machine, found)
        proofs = proof.found(proof.of_remedy(machine, self.remedy, wrong) if self.remedy else {}, proving)
        first = self._still_first()
        evidence = facts.evidence(machine, found, states)
        state = CaseState(
            id=self.id,
            machine=machine.id,
            asset=machine.asset,
            tag_locks=around.tagged,
            revision=self.revision,
            opened=self.opened,
            last=self.last,
            person=person,
            lead=self.lead,
            round=self.round,
            facts=found,
            cannot_tell=self.cannot_tell,
            current=states,
            banner=banner(machine, isolation, person, sign, aged),
            energised=isolation.energised(machine),
            steps={
                z: told(self._open_steps(isolation.steps(machine, z, person, sign is not None)), around.tagged)
                for z in machine.zones
            },
            locks=tuple(sorted(isolation.locks)),
            own_locks=tuple(sorted(isolation.locks & self.own_locks)),
            own_zones=tuple(
                z for z in machine.zones if z in self.own_zones and isolation.lockout(z).phase is not Phase.NONE
            ),
            waits=waits(machine, isolation, self.off_since, self.begun),
            live=isolation.live,
            danger="" if sign is None else sign.stop,
            danger_raised=None if sign is None else self.raised.get(sign),
            danger_call="" if sign is None else sign.call.value,
            resets=counted,
            remedy=self.remedy,
            proof=proofs,
            proved=proof.holds(proofs) and not first,
            proof_first=tuple(step.do for step in first),
            fault_gone=self._fault_gone(proofs),
            called=self.called,
            closed=self.closed,
            notes=self.notes,
            ways={z: self._open_steps(isolation.ways(machine, z, person, sign is not None)) for z in machine.zones},
            lockouts={z: isolation.lockout(z) for z in machine.zones},
            problems=self.problems,
            holds=tuple(s for s in machine.stored if s in isolation.holds),
            taken=tuple((t.zone, t.what) for t in sorted(isolation.taken)),
            off=tuple(p for p in machine.points if p in isolation.off),
            ahead={
                o.zone: order.ahead(machine, isolation, machine.zones[o.zone])
                for o in isolation.lockouts
                if o.phase in (Phase.BACK, Phase.HOLDS)
            },
            proof_ends={zone: one.end(around.shifts) for zone, one in self.proofs().items()},
            tags=self.tags,
            to_be_told=self.to_be_told,
            entered=tuple(self.entered.values()),
            people=tuple(self.people.values()),
            disagreements=facts.disagree(machine, self.current.values(), self.round),
        )
        return Projection(
            state=state,
            isolation=isolation,
            evidence=evidence,
            known=known(evidence),
            cleared=self.cleared,
            failed=self.failed,
            skipped=self.skipped,
            did=self.did,
            awaiting=self.awaiting,
            protective=protective,
            resets=resets,
            wrong=wrong,
            proving=proving,
            dead_times=self.dead_times,
            aged=aged,
            undo=self._last_undo(person),
            open_seqs=self.open_seqs,
        )
