"""A case folded from its entries, in order: rounds, facts, the gate, resets, remedies, the end. Never reads a clock.

- A *round* starts with the case, a reset, a remedy, a change of energy, and a check that changes the machine.
- A fact taken in the wrong energy state is kept and carries no evidence.
- A fact found before the case counts for round 1, whatever the present energy, and never hides what was found in it.
- After a remedy the facts are its proof. Only when it is said to have failed do they become evidence.
- An entry that was taken back never counted, but for one thing: live work that it ended stays ended.
- An entry that cannot be read, or no longer fits the machine, gives nothing. If it may have been one of the gate, no
  zone stays proved dead: everything is confirmed anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from diag.case import events as e
from diag.case import facts, proof
from diag.case.facts import Noted
from diag.case.folded import Folded, Undo, known
from diag.case.snapshot import Fact, State
from diag.case.tallies import reset_counts, undoable, waiting, waits
from diag.machine.model import Energy, Machine, Role
from diag.safety import Act, Person, Phase, Refused, Site, banner, danger

POWER = "power"
"""What began a round that a change of energy began."""

WRONG_ENERGY = {
    Energy.ON: "Seen with the power off, so it tells nothing about the fault.",
    Energy.OFF: "Taken with the power on, so it tells nothing about the fault.",
}


class NoCase(Exception):
    """The entries do not begin with an opening, so nothing can be folded from them; one line."""


def fold(machine: Machine, id: str, entries: Sequence[e.Entry]) -> Folded:
    """The case after these entries. Raises `NoCase` when they do not begin with an opening."""
    first = entries[0] if entries else None
    if not isinstance(first, e.Stamped) or not isinstance(first.event, e.Opened):
        raise NoCase(f"Case {id}: its first entry cannot be read, so the case cannot be opened.")
    ledger = Ledger(machine, id, first)
    taken = {s.event.seq for s in entries if isinstance(s, e.Stamped) and isinstance(s.event, e.TakenBack)}
    for entry in entries:
        ledger.take(entry, taken)
    return ledger.folded()


class Ledger:
    """What is carried from entry to entry. One use: made, fed in order, read once."""

    def __init__(self, machine: Machine, id: str, first: e.Stamped) -> None:
        self.machine, self.id, self.first = machine, id, first
        opened = first.event
        assert isinstance(opened, e.Opened)
        self.revision = opened.revision
        self.last = first.at
        self.person = Person(first.by, Role.OPERATOR)
        self.site = Site()
        self.off_since: dict[str, datetime] = {}
        self.round = 1
        self.stirred = 1
        """The round since the last change but one of energy: facts that need the power off still prove after it."""
        self.changer: str = ""
        self.changed: set[str] = set()
        """The check that began this round by changing the machine, and what it has told."""
        self.facts: list[Noted] = []
        self.standing: dict[str, Fact] = {}
        self.untold: list[str] = []
        self.skipped: set[str] = set()
        self.did: set[tuple[str, str]] = set()
        self.cleared: list[tuple[int, str]] = []
        self.failed: list[str] = []
        self.resets: list[tuple[str, int]] = []
        """Each reset, and which remedy awaited its proof then, from 1; 0 for none."""
        self.awaiting = ""
        self.remedy, self.remedied = "", 0
        self.called: list[str] = []
        self.closed = ""
        self.notes: list[str] = []
        self.problems: list[str] = []
        self.undo: list[Undo] = []
        self.open_seqs: set[int] = set()

    # ------------------------------------------------------------ entries

    def take(self, entry: e.Entry, taken: set[int]) -> None:
        """One entry."""
        if isinstance(entry, e.Unreadable):
            self.problems.append(entry.why)
            self._doubt()
            return
        self.last = entry.at
        event = entry.event
        if entry.seq in taken and undoable(event):
            if isinstance(event, e.Closed):
                self.site = self.site.lapse()
            return
        if undoable(event):
            self.undo.append(Undo(entry.seq))
            self.open_seqs.add(entry.seq)
        match event:
            case e.Opened():
                pass
            case e.TookOver():
                self._took_over(event)
            case e.Resumed():
                self.site = self.site.lapse()
            case e.Found():
                self._found(entry, event)
            case e.CannotTell():
                self._cannot_tell(entry, event)
            case e.Skipped():
                self.skipped.add(event.action)
            case e.Did():
                self.did.add((event.tree, event.text))
            case e.ResetDone():
                self._reset(entry, event)
            case e.Remedied():
                self._remedied(entry, event)
            case e.RemedyFailed():
                self._remedy_failed(event)
            case e.Gate():
                self._gate(entry, event)
            case e.Called():
                self.called = [r for r in self.called if r != event.role.value] + [event.role.value]
            case e.Noted():
                self.notes.append(event.text)
            case e.TakenBack():
                pass
            case e.Closed():
                self.closed = event.outcome
                self.site = self.site.lapse()

    def _took_over(self, event: e.TookOver) -> None:
        self.person = Person(event.person, event.role, event.authorised, event.qualified)
        self.site = self.site.lapse()
        if self.closed == "handed-over":
            self.closed = ""

    def _found(self, entry: e.Stamped, event: e.Found) -> None:
        ind = self.machine.indications.get(event.indication)
        if ind is None or not any(event.seen.get(s, 0.0) > 0.0 for s in ind.state_ids):
            self._misfit(entry, f"{event.indication} with that state")
            return
        seen = {s: event.seen[s] for s in ind.state_ids if event.seen.get(s, 0.0) > 0.0}
        check = self.machine.checks.get(event.check)
        on = self.site.energised(self.machine)
        wrong = not event.before and ind.energy is not Energy.ANY and (ind.energy is Energy.ON) is not on
        if check is not None and check.changes and not event.before:
            self._change(check.id, ind.id)
        why = WRONG_ENERGY[ind.energy] if wrong else ""
        fact = Fact(
            seq=entry.seq,
            at=entry.at,
            by=entry.by,
            indication=ind.id,
            title=ind.title,
            state=max(seen, key=lambda s: (seen[s], s == ind.normal)),
            seen=seen,
            said=event.said,
            round=1 if event.before else self.round,
            before=event.before,
            counts=not wrong,
            why=why,
        )
        self.facts.append(Noted(fact, bool(self.remedy) and not event.before))
        now = self.standing.get(ind.id)
        if now is None or now.before or not event.before:
            self.standing[ind.id] = fact
        if not event.before:
            self.untold = [i for i in self.untold if i != ind.id]
            self._answered(ind.id)

    def _cannot_tell(self, entry: e.Stamped, event: e.CannotTell) -> None:
        if event.indication not in self.machine.indications:
            self._misfit(entry, event.indication)
            return
        if event.indication not in self.untold:
            self.untold.append(event.indication)
        self._answered(event.indication)

    def _answered(self, indication: str) -> None:
        if indication == self.awaiting:
            self.awaiting = ""

    def _reset(self, entry: e.Stamped, event: e.ResetDone) -> None:
        if event.reset not in self.machine.resets:
            self._misfit(entry, event.reset)
        self._next_round()
        self.cleared.append((self.round, event.reset))
        self.resets.append((event.reset, self.remedied if self.remedy else 0))
        self.awaiting = event.reset if event.reset in self.machine.indications else ""

    def _remedied(self, entry: e.Stamped, event: e.Remedied) -> None:
        if event.remedy not in self.machine.remedies:
            self._misfit(entry, event.remedy)
            return
        self._next_round()
        self.remedy = event.remedy
        self.remedied += 1

    def _remedy_failed(self, event: e.RemedyFailed) -> None:
        for noted in self.facts:
            noted.proves = False
        self.failed.append(event.remedy)
        self.remedy = ""

    def _gate(self, entry: e.Stamped, event: e.Gate) -> None:
        on, site = self.site.energised(self.machine), self.site
        try:
            self.site = site.apply(
                self.machine,
                event.zone,
                event.act,
                event.target,
                self.person,
                event.reason,
                event.permit,
                danger=self._danger() is not None,
                waiting=waiting(waits(self.machine, site, self.off_since), entry.at),
            )
        except Refused as refused:
            self._misfit(entry, f"{event.act.value} at {event.zone} ({refused})")
            self._doubt()
            return
        self._off(entry.at)
        if self.site.energised(self.machine) is not on:
            self._next_round(energy=True)
            self.cleared.append((self.round, POWER))
        if event.act is Act.RETRACT:
            at = next((n for n in reversed(range(len(self.undo))) if self.undo[n].zone == event.zone), None)
            if at is not None:
                del self.undo[at]
            return
        grown = len(self.site.lockout(event.zone).trail) - len(site.lockout(event.zone).trail)
        self.undo.extend(Undo(entry.seq, event.zone) for _ in range(max(grown, 1)))

    # ------------------------------------------------------------ parts

    def _next_round(self, energy: bool = False) -> None:
        self.round += 1
        if not energy:
            self.stirred = self.round
        self.untold, self.skipped, self.awaiting, self.changer, self.changed = [], set(), "", "", set()

    def _change(self, check: str, indication: str) -> None:
        """A check with several answers changes the machine once."""
        if self.changer != check or indication in self.changed:
            self._next_round()
            self.changer = check
        self.changed.add(indication)

    def _off(self, at: datetime) -> None:
        self.off_since = {p: self.off_since.get(p, at) for p in self.site.off}

    def _doubt(self) -> None:
        """An entry is missing that may have been one of the gate: locks stand, every zone in hand is stopped."""
        self.site = self.site.doubted()

    def _misfit(self, entry: e.Stamped, what: str) -> None:
        self.problems.append(f"Entry {entry.seq} of {entry.at:%Y-%m-%d %H:%M} UTC no longer fits the machine: {what}.")

    def _states(self) -> dict[str, str]:
        return {i: fact.state for i, fact in self.standing.items()}

    def _danger(self) -> str | None:
        sign = danger(self.machine, self._states())
        return None if sign is None else sign.stop

    def _last_undo(self) -> Undo | None:
        """The latest thing that may be taken back. What was confirmed at a gate that is back and closed is history."""
        for item in reversed(self.undo):
            live = self.site.live is not None and self.site.live.zone == item.zone
            if not item.zone or live or self.site.lockout(item.zone).phase not in (Phase.NONE, Phase.TESTING):
                return item
        return None

    def folded(self) -> Folded:
        machine, person, site = self.machine, self.person, self.site
        facts.lamp_tests(machine, self.facts, self._states())
        sign = danger(machine, self._states())
        protective = not self.remedy and facts.protective(machine, self.facts)
        counted, resets = reset_counts(
            machine,
            site,
            person,
            self.resets,
            self.remedied if self.remedy else 0,
            {n.fact.indication for n in self.facts if n.fact.round == self.round}.union(self.untold),
            protective=protective,
            danger=sign is not None,
        )
        proving = facts.proving(machine, self.facts, self.round, self.stirred)
        wrong = facts.wrong(machine, self.facts)
        wanted = proof.of_remedy(machine, self.remedy, wrong) if self.remedy else {}
        proofs = proof.found(wanted, proving)
        evidence = facts.evidence(machine, self.facts, self._states())
        zones = machine.zones
        state = State(
            id=self.id,
            machine=machine.id,
            revision=self.revision,
            opened=self.first.at,
            last=self.last,
            person=person,
            round=self.round,
            facts=tuple(n.fact for n in self.facts),
            cannot_tell=tuple(self.untold),
            standing=self._states(),
            banner=banner(machine, site, person, sign),
            energised=site.energised(machine),
            steps={z: site.steps(machine, z, person, sign is not None) for z in zones},
            locks=tuple(sorted(site.locks)),
            waits=waits(machine, site, self.off_since),
            live=site.live,
            danger="" if sign is None else sign.stop,
            danger_call="" if sign is None else sign.call.value,
            resets=counted,
            remedy=self.remedy,
            proof=proofs,
            proved=proof.holds(proofs),
            called=tuple(self.called),
            closed=self.closed,
            notes=tuple(self.notes),
            ways={z: site.ways(machine, z, person, sign is not None) for z in zones},
            problems=tuple(self.problems),
            disagreements=facts.disagree(machine, self.standing.values(), self.round),
        )
        return Folded(
            state=state,
            site=site,
            evidence=evidence,
            known=known(evidence),
            cleared=tuple(self.cleared),
            failed=tuple(self.failed),
            skipped=frozenset(self.skipped),
            did=frozenset(self.did),
            awaiting=self.awaiting,
            protective=protective,
            resets=resets,
            wrong=wrong,
            proving=proving,
            undo=self._last_undo(),
            open_seqs=frozenset(self.open_seqs),
        )
