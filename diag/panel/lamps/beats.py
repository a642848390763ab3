"""How likely tap times are under the beats of a flash pattern: the forward pass of a thumb over a round of beats.

Every tap belongs to a beat and lies a constant reaction after it, give or take the jitter. The constant drops out,
because nobody knows when the pattern began: the pass carries an estimate of the last beat's time with its variance (a
Kalman filter on the phase, one for each beat that the last tap may have been).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from diag.panel.lamps.flash import Pattern

SPAN: Final = 4000.0
"""Milliseconds over which a lost tap may fall."""
_SPEEDS: Final = ((-2.0, 0.054), (-1.0, 0.242), (0.0, 0.408), (1.0, 0.242), (2.0, 0.054))
"""Five points of a normal distribution, in standard deviations, with their weights."""
_RANGE_POINTS: Final = 9
_SKIPS: Final = 4
_NEGLIGIBLE: Final = 1e-6
"""A beat that the last tap belonged to with less than this chance is not followed further."""
SLIP: Final = 250.0
"""Milliseconds. A held key that goes up and down, or down and up, within this may be one press that was doubled."""


# How a person taps along with a lamp. The chances of a missed and a doubled tap, and what follows them, are ours.
TAP_JITTER: Final = 40.0
"""Milliseconds, standard deviation of a tap about its beat. Synchronised tapping of practised people has about 20 to 40
(common finding); 40 is taken, for a tired thumb at a machine."""
HOLD_JITTER: Final = 50.0
"""Pressing and letting go have different reactions; that is taken up as jitter."""
MISSED: Final = 0.03
DOUBLED: Final = 0.02
DOUBLE_GAP: Final = (50.0, 200.0)
"""A doubled tap comes between these milliseconds after the real one."""
LOST: Final = 0.001
"""The chance that a tap belongs to nothing and the person begins anew."""
SPEED: Final = 0.04
"""Standard deviation of the lamp's own speed about the declared one, as a share."""
WANDER: Final = 0.01
"""Standard deviation of what accumulates from beat to beat, as a share of the gap."""
FASTEST: Final = 170.0
"""Milliseconds between the taps of a person who taps as fast as possible, at a lamp that is faster."""
STRAY: Final = 0.00001
"""Taps per millisecond at a lamp that does not flash at all."""


def gaps_of(edges: Sequence[float], period: float) -> list[float]:
    """From each edge to the next, round the period."""
    return [(edges[(i + 1) % len(edges)] - edges[i]) % period or period for i in range(len(edges))]


def _speeds(pattern: Pattern) -> list[tuple[float, float]]:
    """Factors on the pattern's times, with their weights."""
    if pattern.periods is None:
        return [(math.exp(z * SPEED), w) for z, w in _SPEEDS]
    low, high = pattern.periods
    step = math.log(high / low) / _RANGE_POINTS
    return [(low * math.exp((i + 0.5) * step) / pattern.period, 1 / _RANGE_POINTS) for i in range(_RANGE_POINTS)]


def normal(x: float, mean: float, variance: float) -> float:
    """The density of a normal distribution."""
    return math.exp(-((x - mean) ** 2) / (2 * variance)) / math.sqrt(2 * math.pi * variance)


def log_sum(logs: Sequence[float]) -> float:
    """The log of a sum of numbers given by their logs."""
    best = max(logs)
    return best + math.log(sum(math.exp(x - best) for x in logs))


def log_beats(
    times: Sequence[float], edges: Sequence[float], pattern: Pattern, until: float | None, stride: int
) -> float:
    """Log density of the taps, summed over the speeds that the lamp may have; until watching ended, where that is told.

    With `stride` 1 the edges are when it lights. With 2 they are lit, dark, lit, dark, and a key was held along: a tap
    that is missed takes two of them, and the first edge of the person is a lighting.
    """
    gaps = gaps_of(edges, pattern.period)
    logs = [math.log(w) + _Beats([g * speed for g in gaps], stride).log(times, until) for speed, w in _speeds(pattern)]
    return log_sum(logs)


@dataclass(slots=True)
class _Track:
    """One beat that the last real tap may have been: weight, estimated time of that beat, variance."""

    weight: float
    at: float
    variance: float


@dataclass(frozen=True, slots=True)
class _Beats:
    """One pattern at one speed."""

    gaps: Sequence[float]
    stride: int

    @property
    def jitter(self) -> float:
        return TAP_JITTER if self.stride == 1 else HOLD_JITTER

    def log(self, times: Sequence[float], until: float | None) -> float:
        """Log of the density of all taps, by a forward pass.

        A press that was doubled adds two edges that belong to no beat: a track then passes over both, and goes on from
        where it was.
        """
        count, stride, noise = len(self.gaps), self.stride, self.jitter**2
        if not times:
            # Every beat up to the end of watching was missed.
            return math.log(MISSED) * math.floor((until or 0.0) / sum(self.gaps) * (count / stride))
        starts = range(0, count, stride)
        tracks = {k: _Track(1 / len(starts), times[0], noise) for k in starts}
        log = math.log(len(starts) / sum(self.gaps))  # watching begins at any moment of the period
        lost = LOST / SPAN / len(starts)
        passed: dict[int, _Track] = {}
        for i, tap in enumerate(times[1:], 1):
            # The tap may have belonged to nothing; then the count begins anew, at any edge of its kind.
            reached = {k: [_Track(lost, tap, noise)] for k in range(i % stride, count, stride)}
            for k, track in tracks.items():
                for beat, found in self.advanced(k, track, tap):
                    reached.setdefault(beat, []).append(found)
            for k, track in passed.items():
                reached.setdefault(k, []).append(track)
            passed = self.passed(tracks, times[i : i + 2]) if stride == 2 else {}
            tracks = {k: _merged(found) for k, found in reached.items()}
            total = sum(t.weight for t in tracks.values())
            for t in (*tracks.values(), *passed.values()):
                t.weight /= total
            tracks = {k: t for k, t in tracks.items() if t.weight > _NEGLIGIBLE}
            log += math.log(total)
        return log if until is None else log + self.log_rest(tracks, until)

    def advanced(self, k: int, track: _Track, tap: float) -> Iterator[tuple[int, _Track]]:
        """What the next tap may be, from one track: a later beat, or a double of this one."""
        noise, since = self.jitter**2, tap - track.at
        low, high = DOUBLE_GAP
        if self.stride == 1 and low - 3 * self.jitter < since < high + 3 * self.jitter:
            yield k, _Track(track.weight * DOUBLED / (high - low), track.at, track.variance)
        ahead, chance, beat = 0.0, (1.0 - DOUBLED - LOST) * (1 - MISSED), k
        for skipped in range(_SKIPS):
            for _ in range(self.stride if skipped else 1):
                ahead += self.gaps[beat]
                beat = (beat + 1) % len(self.gaps)
            spread = track.variance + (WANDER * ahead) ** 2
            off = since - ahead
            if abs(off) < 6 * math.sqrt(spread + noise):
                gain = spread / (spread + noise)
                weight = track.weight * chance * MISSED**skipped * normal(off, 0.0, spread + noise)
                yield beat, _Track(weight, track.at + ahead + gain * off, spread * (1 - gain))
            elif off < 0:
                break

    def passed(self, tracks: Mapping[int, _Track], pair: Sequence[float]) -> dict[int, _Track]:
        """The tracks under which the next two edges are a doubled press: close together, before the next beat."""
        if len(pair) < 2 or pair[1] - pair[0] > SLIP:
            return {}
        return {
            k: _Track(track.weight * DOUBLED / (self.gaps[k] * SLIP), track.at, track.variance)
            for k, track in tracks.items()
            if pair[1] - track.at < self.gaps[k] + 3 * self.jitter
        }

    def log_rest(self, tracks: Mapping[int, _Track], until: float) -> float:
        """No tap between the last one and the end of watching: every beat in between was missed."""
        total = 0.0
        for k, track in tracks.items():
            at, beat, chance = track.at, k, 1.0
            for _ in range(_SKIPS * len(self.gaps)):
                for _ in range(self.stride):
                    at += self.gaps[beat]
                    beat = (beat + 1) % len(self.gaps)
                if at > until - 3 * self.jitter:
                    break
                chance *= MISSED
            total += track.weight * chance
        return math.log(max(total, 1e-300))


def _merged(tracks: Sequence[_Track]) -> _Track:
    """Several ways to the same beat as one, with their mean and variance."""
    if len(tracks) == 1:
        return tracks[0]
    weight = sum(t.weight for t in tracks)
    if weight <= 0:
        return tracks[0]
    at = sum(t.weight * t.at for t in tracks) / weight
    variance = sum(t.weight * (t.variance + (t.at - at) ** 2) for t in tracks) / weight
    return _Track(weight, at, variance)
