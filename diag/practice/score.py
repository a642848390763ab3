"""How simulated stops ended, with the figures over them, and what looks can tell apart before any stop."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diag.machine.model import Access
from diag.reason.belief.belief import predict
from diag.reason.figures import Diagnosability, brier, diagnosability, log_score, reliability
from diag.reason.table.compile import Array, Index, Table

BINS = 15
"""Bins of equal count for the calibration of the top cause."""
HOLDS = 0.95
"""A stop is isolated to the likeliest few causes that hold this much of the belief."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One simulated stop, diagnosed."""

    cause: str
    place: int
    """Where the group of the true cause came when the diagnosis was over; 1 is first."""
    top: str
    share: float
    """Probability of the top cause's group at the end."""
    asked: int
    minutes: float
    corrupted: int
    """Answers that were lost or wrong."""
    groups_to_95: int
    """How many groups, the likeliest first, hold `HOLDS` of the belief at the end."""
    brier: float
    """The Brier score of the belief in groups at the end."""
    log: float
    """The log score of the same, in nats."""
    ending: str = ""
    """How it ended, where it was followed to the end: see `walk.Followed`."""
    remedies: int = 0
    """Remedies that were tried."""


def scored(
    table: Table,
    cause: int,
    belief: Array,
    *,
    top: int,
    asked: int,
    minutes: float,
    corrupted: int,
    ending: str = "",
    remedies: int = 0,
) -> Stop:
    """A stop with the listed cause of that number, scored by the belief over causes, [C + 1], at its end.

    `top`: the number of the cause that it was taken for."""
    groups = by_group(table, belief[None, :])
    shares, true = groups[0], int(table.group[cause])
    return Stop(
        cause=table.causes[cause],
        place=1 + int((shares > shares[true]).sum()),
        top=table.causes[top],
        share=float(shares.max()),
        asked=asked,
        minutes=minutes,
        corrupted=corrupted,
        groups_to_95=1 + int((np.cumsum(-np.sort(-shares)) < HOLDS).sum()),
        brier=brier(groups, [true]),
        log=log_score(groups, [true]),
        ending=ending,
        remedies=remedies,
    )


def by_group(table: Table, beliefs: Array) -> Array:
    """[N, groups]: belief summed over causes with the same remedy or the same signature."""
    out = np.zeros((beliefs.shape[0], int(table.group.max()) + 1))
    for c, g in enumerate(table.group):
        out[:, g] += beliefs[:, c]
    return out


@dataclass(frozen=True, slots=True)
class CauseScore:
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
    def endings(self) -> dict[str, float]:
        """The share of each ending, the most frequent first; empty where stops were only diagnosed."""
        counts = Counter(s.ending for s in self.stops if s.ending)
        return {ending: n / len(self.stops) for ending, n in counts.most_common()}

    @property
    def remedies(self) -> float:
        """Remedies tried in a stop, on average."""
        return _mean([s.remedies for s in self.stops])

    @property
    def asked(self) -> float:
        """Checks a stop, on average."""
        return _mean([s.asked for s in self.stops])

    @property
    def minutes(self) -> float:
        """Minutes a stop, on average."""
        return _mean([s.minutes for s in self.stops])

    @property
    def corrupted(self) -> float:
        """Share of stops with a lost or wrong answer among those asked."""
        return _mean([s.corrupted > 0 for s in self.stops])

    def isolated(self, size: int) -> float:
        """Share of stops isolated to at most `size` groups that hold `HOLDS` of the belief, the true one in them."""
        return _mean([s.groups_to_95 <= size and s.place <= s.groups_to_95 for s in self.stops])

    @property
    def by_cause(self) -> tuple[CauseScore, ...]:
        """Each cause that was drawn, the one found least surely first, then the one drawn most often."""
        stops: dict[str, list[Stop]] = defaultdict(list)
        for stop in self.stops:
            stops[stop.cause].append(stop)
        found = [_cause_score(cause, of) for cause, of in stops.items()]
        return tuple(sorted(found, key=lambda score: (score.first / score.drawn, -score.drawn)))

    @property
    def misses(self) -> tuple[tuple[str, str, int], ...]:
        """Cause and what was taken for it, with how often, most first."""
        counts = Counter((s.cause, s.top) for s in self.stops if s.place > 1)
        return tuple((true, taken, n) for (true, taken), n in counts.most_common())


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values))


def _cause_score(cause: str, stops: list[Stop]) -> CauseScore:
    taken = tuple(Counter(s.top for s in stops if s.place > 1).most_common())
    first, three = (sum(s.place <= place for s in stops) for place in (1, 3))
    return CauseScore(cause, len(stops), first, three, sum(s.minutes for s in stops) / len(stops), taken)


def isolability(table: Table, looks: Index) -> Diagnosability:
    """The listed causes by what each most likely shows of these indications, weighed by their rates: detection and
    ambiguity groups, as in IEEE Std 1522.

    Causes whose likeliest states are the same everywhere are one ambiguity group: only how often something shows can
    part them, which one stop seldom does. Fault number `f` of the answer is the cause of that number in the table.
    """
    shows = predict(table, np.ones(int(table.start[-1])))
    likeliest = np.stack([shows[:, table.columns(int(i))].argmax(axis=1) for i in looks], axis=1)
    rows = likeliest.tolist()
    return diagnosability(rows[:-2], np.exp(table.log_prior[:-1]), rows[-1])


def every(table: Table) -> Index:
    """All indications."""
    return np.arange(len(table.indications))


def outside(table: Table) -> Index:
    """The indications that some look from outside gives."""
    return np.array(sorted({i for test in table.checks if test.place.access is Access.OUTSIDE for i in test.gives}))
