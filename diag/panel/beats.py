"""How likely tap times are under the beats of a flash pattern: the forward pass of a thumb over a round of beats.

Every tap belongs to a beat and lies a constant reaction after it, give or take the jitter. The constant drops out,
because nobody knows when the pattern began: the pass carries an estimate of the last beat's time with its variance (a
Kalman filter on the phase, one for each beat that the last tap may have been).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from diag.panel.flash import Pattern

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


@dataclass(frozen=True, slots=True)
class Thumb:
    """How a person taps along with a lamp. Times in milliseconds.

    Synchronised tapping of practised people has a jitter of about 20 to 40 ms (common finding); 40 is taken, for a
    tired thumb at a machine. Chances of a missed and a doubled tap are ours.
    """

    jitter: float = 40.0
    """Standard deviation of a tap about its beat."""
    missed: float = 0.03
    doubled: float = 0.02
    double_gap: tuple[float, float] = (50.0, 200.0)
    """A doubled tap comes between these after the real one."""
    lost: float = 0.001
    """The chance that a tap belongs to nothing and the person begins anew."""
    speed: float = 0.04
    """Standard deviation of the lamp's own speed about the declared one, as a share."""
    wander: float = 0.01
    """Standard deviation of what accumulates from beat to beat, as a share of the gap."""
    fastest: float = 170.0
    """The gap of a person who taps as fast as possible, at a lamp that is faster."""
    stray: float = 0.00001
    """Taps per millisecond at a lamp that does not flash at all."""


def gaps_of(edges: Sequence[float], period: float) -> list[float]:
    """From each edge to the next, round the period."""
    return [(edges[(i + 1) % len(edges)] - edges[i]) % period or period for i in range(len(edges))]


def _speeds(pattern: Pattern, thumb: Thumb) -> list[tuple[float, float]]:
    """Factors on the pattern's times, with their weights."""
    if pattern.periods is None:
        return [(math.exp(z * thumb.speed), w) for z, w in _SPEEDS]
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
    times: Sequence[float], edges: Sequence[float], pattern: Pattern, until: float | None, thumb: Thumb, stride: int
) -> float:
    """Log density of the taps, summed over the speeds that the lamp may have."""
    gaps = gaps_of(edges, pattern.period)
    logs = []
    for speed, weight in _speeds(pattern, thumb):
        logs.append(math.log(weight) + _forward(times, [g * speed for g in gaps], until, thumb, stride))
    return log_sum(logs)


@dataclass(slots=True)
class _Track:
    """One beat that the last real tap may have been: weight, estimated time of that beat, variance, the tap's time."""

    weight: float
    at: float
    variance: float


def _forward(times: Sequence[float], gaps: Sequence[float], until: float | None, thumb: Thumb, stride: int) -> float:
    """Forward pass over one pattern at one speed. Log of the density of all taps.

    With `stride` 2 the edges are lit, dark, lit, dark; a tap that is missed takes two of them, and the first edge of
    the person is a lighting. A press that was doubled adds two edges that belong to no beat: a track then passes over
    both, and goes on from where it was.
    """
    count = len(gaps)
    if not times:
        return _log_silence(gaps, until, thumb, stride)
    noise = thumb.jitter**2
    starts = range(0, count, stride)
    tracks = {k: _Track(1 / len(starts), times[0], noise) for k in starts}
    log = math.log(len(starts) / sum(gaps))  # watching begins at any moment of the period
    lost = thumb.lost / SPAN / len(starts)
    passed: dict[int, _Track] = {}
    for i, tap in enumerate(times[1:], 1):
        # The tap may have belonged to nothing; then the count begins anew, at any edge of its kind.
        reached = {k: [_Track(lost, tap, noise)] for k in range(i % stride, count, stride)}
        for k, track in tracks.items():
            _advance(k, track, tap, gaps, thumb, stride, reached)
        for k, track in passed.items():
            reached.setdefault(k, []).append(track)
        passed = _passed(tracks, times[i : i + 2], gaps, thumb) if stride == 2 else {}
        tracks = {k: _merged(found) for k, found in reached.items()}
        total = sum(t.weight for t in tracks.values())
        for t in (*tracks.values(), *passed.values()):
            t.weight /= total
        tracks = {k: t for k, t in tracks.items() if t.weight > _NEGLIGIBLE}
        log += math.log(total)
    if until is not None:
        log += _log_rest(tracks, gaps, until, thumb, stride)
    return log


def _advance(
    k: int,
    track: _Track,
    tap: float,
    gaps: Sequence[float],
    thumb: Thumb,
    stride: int,
    reached: dict[int, list[_Track]],
) -> None:
    """Spread one track over what the next tap may be: a later beat, or a double of this one."""
    count, noise = len(gaps), thumb.jitter**2
    since = tap - track.at
    low, high = thumb.double_gap
    single = 1.0 - thumb.doubled - thumb.lost
    if stride == 1 and low - 3 * thumb.jitter < since < high + 3 * thumb.jitter:
        reached.setdefault(k, []).append(_Track(track.weight * thumb.doubled / (high - low), track.at, track.variance))
    ahead, chance, beat = 0.0, single * (1 - thumb.missed), k
    for skipped in range(_SKIPS):
        for _ in range(1 if not skipped else stride):
            ahead += gaps[beat]
            beat = (beat + 1) % count
        spread = track.variance + (thumb.wander * ahead) ** 2
        off = since - ahead
        if abs(off) < 6 * math.sqrt(spread + noise):
            gain = spread / (spread + noise)
            weight = track.weight * chance * thumb.missed**skipped * normal(off, 0.0, spread + noise)
            found = _Track(weight, track.at + ahead + gain * off, spread * (1 - gain))
            reached.setdefault(beat, []).append(found)
        elif off < 0:
            break


def _passed(
    tracks: Mapping[int, _Track], pair: Sequence[float], gaps: Sequence[float], thumb: Thumb
) -> dict[int, _Track]:
    """The tracks under which the next two edges are a doubled press: close together, before the next beat."""
    if len(pair) < 2 or pair[1] - pair[0] > SLIP:
        return {}
    return {
        k: _Track(track.weight * thumb.doubled / (gaps[k] * SLIP), track.at, track.variance)
        for k, track in tracks.items()
        if pair[1] - track.at < gaps[k] + 3 * thumb.jitter
    }


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


def _log_rest(tracks: Mapping[int, _Track], gaps: Sequence[float], until: float, thumb: Thumb, stride: int) -> float:
    """No tap between the last one and the end of watching: every beat in between was missed."""
    total = 0.0
    for k, track in tracks.items():
        at, beat, chance = track.at, k, 1.0
        for _ in range(_SKIPS * len(gaps)):
            for _ in range(stride):
                at += gaps[beat]
                beat = (beat + 1) % len(gaps)
            if at > until - 3 * thumb.jitter:
                break
            chance *= thumb.missed
        total += track.weight * chance
    return math.log(max(total, 1e-300))


def _log_silence(gaps: Sequence[float], until: float | None, thumb: Thumb, stride: int) -> float:
    """Nothing tapped at all: every beat up to the end of watching was missed."""
    period = sum(gaps)
    beats = (until or 0.0) / period * (len(gaps) / stride)
    return math.log(thumb.missed) * math.floor(beats)
