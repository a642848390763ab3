"""How simulated stops ended, and the figures over them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diag.reason.figures import reliability

BINS = 15
"""Bins of equal count for the calibration of the top cause."""
HOLDS = 0.95
"""A stop is isolated to the likeliest few causes that hold this much of the belief."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One simulated stop, diagnosed."""

    cause: str
    place: int
    """Where the true cause, or one of its group, came at the end; 1 is first. Groups count once."""
    top: str
    share: float
    """Probability of the top cause's group at the end."""
    asked: int
    minutes: float
    spoiled: int
    """Answers that were lost or wrong."""
    left: int
    """How many groups, the likeliest first, hold `HOLDS` of the belief at the end."""
    brier: float
    """The Brier score of the belief in groups at the end."""
    log: float
    """The log score of the same, in nats."""


@dataclass(frozen=True, slots=True)
class Own:
    """How the stops of one cause went."""

    cause: str
    drawn: int
    first: int
    three: int
    minutes: float
    """On average."""
    taken: tuple[tuple[str, int], ...]
    """What it was taken for, and how often, most first."""


@dataclass(frozen=True, slots=True)
class Score:
    stops: tuple[Stop, ...]

    def within(self, place: int) -> float:
        """Share of stops whose cause came at this place or before."""
        return sum(s.place <= place for s in self.stops) / len(self.stops)

    @property
    def calibration(self) -> float:
        """Expected calibration error of the top group's probability, over `BINS` bins of equal count."""
        said = np.minimum([s.share for s in self.stops], 1.0)  # a sum over causes may round up
        return reliability(said, [s.place == 1 for s in self.stops], BINS, "count").error

    @property
    def brier(self) -> float:
        """The mean Brier score: 0 at best, 2 at worst."""
        return _mean([s.brier for s in self.stops])

    @property
    def log(self) -> float:
        """The mean log score in nats: 0 at best."""
        return _mean([s.log for s in self.stops])

    @property
    def asked(self) -> float:
        """Checks a stop, on average."""
        return _mean([s.asked for s in self.stops])

    @property
    def minutes(self) -> float:
        """Minutes a stop, on average."""
        return _mean([s.minutes for s in self.stops])

    @property
    def spoiled(self) -> float:
        """Share of stops with a lost or wrong answer among those asked."""
        return _mean([s.spoiled > 0 for s in self.stops])

    def isolated(self, size: int) -> float:
        """Share of stops isolated to at most `size` groups that hold `HOLDS` of the belief, the true one in them."""
        return _mean([s.left <= size and s.place <= s.left for s in self.stops])

    @property
    def by_cause(self) -> tuple[Own, ...]:
        """Each cause that was drawn, the one found least surely first, then the one drawn most often."""
        stops: dict[str, list[Stop]] = defaultdict(list)
        for stop in self.stops:
            stops[stop.cause].append(stop)
        found = [_own(cause, of) for cause, of in stops.items()]
        return tuple(sorted(found, key=lambda own: (own.first / own.drawn, -own.drawn)))

    @property
    def misses(self) -> tuple[tuple[str, str, int], ...]:
        """Cause and what was taken for it, with how often, most first."""
        counts = Counter((s.cause, s.top) for s in self.stops if s.place > 1)
        return tuple((true, taken, n) for (true, taken), n in counts.most_common())


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values))


def _own(cause: str, stops: list[Stop]) -> Own:
    return Own(
        cause,
        len(stops),
        sum(s.place == 1 for s in stops),
        sum(s.place <= 3 for s in stops),
        sum(s.minutes for s in stops) / len(stops),
        tuple(Counter(s.top for s in stops if s.place > 1).most_common()),
    )
