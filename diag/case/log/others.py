"""What other cases at the same machine have said that holds for this one too: protective devices that operated, and
resets."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from diag.case.log import events as e
from diag.case.log.facts import operated
from diag.machine.model import Machine

DAY = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Others:
    """Carried by the replay from entry to entry."""

    protective: frozenset[str] = frozenset()
    """Cases in which a protective device operated whose cause is not found."""
    resets: tuple[datetime, ...] = ()
    """When each reset was done that counts against the limit."""
    since_cure: int = 0
    """How many of them since the last cure that was proved."""
    proving: frozenset[str] = frozenset()
    """Cases in which a remedy awaits its proof, and its one reset has not been done."""
    remedied: frozenset[str] = frozenset()
    """Cases in which a protective device operated and a remedy since then awaits its proof."""

    def counted(self, at: datetime) -> int:
        """Resets that count at that time: those of the last 24 hours, or since the last cure, whichever are more."""
        return max(sum(at - done < DAY for done in self.resets), self.since_cure)

    def after(self, machine: Machine, case: str, entry: e.Stamped) -> Others:
        """With one entry more, of that case."""
        match entry.event:
            case e.Found():
                return self._found(machine, case, entry.event)
            case e.ResetDone():
                return self._reset(case, entry.at)
            case e.Remedied():
                remedied = self.remedied | (self.protective & {case})
                found = self.protective - {case}
                return replace(self, protective=found, proving=self.proving | {case}, remedied=remedied)
            case e.RemedyFailed():
                # What operated has its cause still to be found, and the reset that belongs to a remedy is gone with it.
                again = self.protective | (self.remedied & {case})
                left = self.remedied - {case}
                return replace(self, protective=again, proving=self.proving - {case}, remedied=left)
            case e.Closed():
                return self._ended(case, entry.event)
            case _:
                return self

    def lost(self, case: str, resets: tuple[datetime, ...]) -> Others:
        """Where entries of the machine are lost: a protective device may have operated, which only a finding in the
        case that records it answers, and every reset that anything speaks of counts."""
        done = tuple(sorted({*self.resets, *resets}))
        since = max(self.since_cure, len(done))
        return replace(self, protective=self.protective | {case}, resets=done, since_cure=since)

    def said_by_mistake(self, entry: e.Stamped) -> Others:
        """With an entry that was taken back. A reset stays in the count: nobody knows which of the two was the
        mistake, and a limit that the undo key lifts is none."""
        if not isinstance(entry.event, e.ResetDone):
            return self
        return replace(self, resets=(*self.resets, entry.at), since_cure=self.since_cure + 1)

    def _found(self, machine: Machine, case: str, event: e.Found) -> Others:
        ind = machine.indications.get(event.indication)
        if ind is None or event.before or not any(event.seen.values()):
            return self
        return replace(self, protective=self.protective | {case}) if operated(ind, event.seen) else self

    def _reset(self, case: str, at: datetime) -> Others:
        if case in self.proving:
            return replace(self, proving=self.proving - {case})
        return replace(self, resets=(*self.resets, at), since_cure=self.since_cure + 1)

    def _ended(self, case: str, event: e.Closed) -> Others:
        over = replace(self, proving=self.proving - {case})
        if event.outcome != "cured":
            return over
        return replace(over, protective=over.protective - {case}, remedied=over.remedied - {case}, since_cure=0)
