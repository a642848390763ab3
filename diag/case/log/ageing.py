"""When a proof of dead is made again before anything more is begun inside: after the minutes of the machine's file, and
when the shift changes. What was done may be entered all the same, and the way back stays open.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from diag.case.snapshot import TagLock
from diag.safety.types import Aged

OldProof = tuple[str, datetime, int]
"""Zone, time and number of the entry of its test."""


@dataclass(frozen=True, slots=True)
class Around:
    """What is so and no entry of the case says."""

    at: datetime | None = None
    """Now; without it the time of the last entry counts."""
    shifts: tuple[str, ...] = ()
    """The times of day at which the shifts of the site begin, as `06:00`. Without them a take-over of a case counts."""
    old: frozenset[OldProof] = frozenset()
    """Those that were found too old before. They stay so, whatever a clock says since."""
    tagged: tuple[TagLock, ...] = ()
    """Locks of other machines on what this one shares with them."""


@dataclass(frozen=True, slots=True)
class Proof:
    """The proof of one zone: when it was tested, and how long that holds."""

    tested: datetime
    seq: int
    """The number of the test's entry."""
    holds: timedelta
    taken_over: datetime | None = None
    """When a case of the machine changed hands since the test."""

    def end(self, shifts: tuple[str, ...]) -> datetime:
        """From when on it is made again."""
        return min(self.tested + self.holds, self._shift(shifts)[0])

    def aged(self, at: datetime, shifts: tuple[str, ...], old: bool) -> Aged | None:
        """Why it is made again, where it is; `old`: it was found so before."""
        shift, words = self._shift(shifts)
        by_shift = shift <= at or shift <= self.tested + self.holds
        handed = self.taken_over is not None and not shifts
        if not (old or handed or self.end(shifts) <= at):
            return None
        return Aged(f"{self.tested.astimezone():%H:%M}", words if by_shift or handed else "")

    def _shift(self, shifts: tuple[str, ...]) -> tuple[datetime, str]:
        """When the shift changes after the test, and a sentence for it."""
        if shifts:
            change, begins = next_change(self.tested, shifts)
            return change, f"The shift changed at {begins}."
        if self.taken_over is not None:
            return self.taken_over, f"The case was taken over at {self.taken_over.astimezone():%H:%M}."
        return datetime.max.replace(tzinfo=UTC), ""


def next_change(after: datetime, shifts: tuple[str, ...]) -> tuple[datetime, str]:
    """The first time after this one at which a shift begins by the clock on the wall here, and its time of day.

    Where the clock is set back, a shift that begins in the hour that comes twice begins twice; where it is set forward,
    one that begins in the hour that is left out begins with it, or before."""
    day = after.astimezone().replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    found = []
    for days in (-1, 0, 1, 2):
        for begins in shifts:
            hour, minute = map(int, begins.split(":"))
            wall = (day + timedelta(days=days)).replace(hour=hour, minute=minute)
            found += [(wall.replace(fold=fold).astimezone(UTC), begins) for fold in (0, 1)]
    return min(change for change in found if change[0] > after)
