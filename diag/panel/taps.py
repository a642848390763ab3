"""Which flash pattern a person tapped along with.

A key is tapped once each time the lamp lights (or held while it is lit). From the times alone follows how likely
they are under each pattern, by a model of a thumb (`Thumb`) and a forward pass over the pattern's own beats:

* every tap belongs to a beat of the pattern, and lies a constant reaction after it, give or take the jitter. The
  constant drops out, because nobody knows when the pattern began: the pass carries an estimate of the next beat's
  time with its variance (a Kalman filter on the phase, one for each beat that the last tap may have been);
* a beat may be missed, a tap may be doubled, and now and then a tap means nothing and the count starts anew;
* a lamp's own timer is off by a few percent, so a pattern is tried at several speeds; where a standard gives a range
  of rates, over the whole range.

So count and pause separate a single flash from a slow blink, where a rate cannot.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from diag.panel.flash import OPEN_STANDARD, Pattern

Looks = Literal["", "lit", "dark"]


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


THUMB: Final = Thumb()
HOLD: Final = Thumb(jitter=50.0)
"""Pressing and letting go have different reactions; that is taken up as jitter."""

FLOOR: Final = 1e-6
"""No sight is impossible under any pattern: a likelihood is never less than this share of the best."""
NEEDED: Final = 4
"""Whole periods to tap before the answer is taken as final."""
_SPAN: Final = 4000.0
"""Milliseconds over which a lost tap may fall."""
_SPEEDS: Final = ((-2.0, 0.054), (-1.0, 0.242), (0.0, 0.408), (1.0, 0.242), (2.0, 0.054))
"""Five points of a normal distribution, in standard deviations, with their weights."""
_RANGE_POINTS: Final = 9
_REPEAT: Final = 45.0
"""Milliseconds. Nothing that comes sooner is a thumb; a key held down repeats about every 33 ms."""
_SLIP: Final = 250.0
"""Milliseconds. A held key that goes up and down, or down and up, within this may be one press that was doubled."""
_MOST_TAPS: Final = 64
_SKIPS: Final = 4
_NEGLIGIBLE: Final = 1e-6
"""A beat that the last tap belonged to with less than this chance is not followed further."""


@dataclass(frozen=True, slots=True)
class Recognition:
    """What tapping says, and nothing about what was expected."""

    states: Mapping[str, float]
    """P(these taps | the lamp is in that state), up to a common factor: the best of all patterns is 1."""
    patterns: tuple[tuple[Pattern, float], ...]
    """Open-standard patterns with their likelihood on the same scale, best first."""
    fits: bool
    """Whether a declared state explains the taps; if not, the lamp does something that its file does not know."""


def likelihoods(
    taps: Sequence[float],
    patterns: Sequence[Pattern],
    *,
    until: float | None = None,
    looks: Looks = "",
    thumb: Thumb = THUMB,
) -> tuple[float, ...]:
    """P(these taps | pattern) for each pattern, scaled so that the best is 1.

    `taps` are milliseconds on any clock, in any order; only the last 64 count, and repeats of a key held down are left
    out. `until` is when watching ended on the same clock (only if the person would have tapped until then: not while
    looking for the next key); `looks` is how the lamp looked at the end. Raises ValueError on times that are not
    finite.
    """
    times = _clean(taps)
    logs = [_log_of_taps(times, p, until, thumb) + _log_looks(p, looks, bool(times)) for p in patterns]
    return scaled(logs)


def held(
    presses: Sequence[tuple[float, float]],
    patterns: Sequence[Pattern],
    *,
    until: float | None = None,
    looks: Looks = "",
    thumb: Thumb = HOLD,
) -> tuple[float, ...]:
    """P(these presses | pattern), scaled; each press is (down, up) in milliseconds, held while the lamp was lit.

    `until` and `looks` are those of `likelihoods`; a key that is still down then goes up at `until`. Presses must not
    overlap; raises ValueError where one ends before it began or before the next one starts.
    """
    edges: list[float] = []
    for down, up in sorted(presses):
        if not (math.isfinite(down) and math.isfinite(up)) or up < down or (edges and down < edges[-1]):
            raise ValueError("Presses end after they begin, one after the other.")
        edges += [down, up]
    return scaled([_log_of_edges(edges, p, until, thumb) + _log_looks(p, looks, bool(edges)) for p in patterns])


def too_fast(patterns: Sequence[Pattern]) -> tuple[float, ...]:
    """P(a person says "too fast to tap" | pattern), scaled: by the shortest gap, half at 220 ms."""
    return scaled([math.log(max(_too_fast(p), 1e-9)) for p in patterns])


def recognise(
    taps: Sequence[float],
    declared: Mapping[str, Pattern],
    *,
    until: float | None = None,
    looks: Looks = "",
    thumb: Thumb = THUMB,
) -> Recognition:
    """The declared states of a lamp by their likelihood, and what the open standards would call it.

    The lamp's file goes first: a standard's pattern only shows through `fits` that no declared one explains the taps
    (less than a twentieth as likely as the best of the standards').
    """
    states = list(declared)
    found = likelihoods(taps, [*declared.values(), *OPEN_STANDARD], until=until, looks=looks, thumb=thumb)
    ours, open_ones = found[: len(states)], found[len(states) :]
    ranked = sorted(zip(OPEN_STANDARD, open_ones, strict=True), key=lambda pair: -pair[1])
    return Recognition(dict(zip(states, ours, strict=True)), tuple(ranked), max(ours, default=0.0) >= 0.05)


def settled(found: Sequence[float]) -> bool:
    """Whether one pattern stands out: no other is a twentieth as likely. If not, tapping on helps."""
    return len(found) < 2 or sorted(found)[-2] <= 0.05 * max(found)


def scaled(logs: Sequence[float]) -> tuple[float, ...]:
    """Likelihoods from their logs, the best 1 and none under FLOOR."""
    best = max(logs, default=0.0)
    return tuple(max(math.exp(x - best), FLOOR) for x in logs)


def _clean(taps: Sequence[float]) -> list[float]:
    if not all(math.isfinite(t) for t in taps):
        raise ValueError("Tap times are finite numbers of milliseconds.")
    times = sorted(taps)
    kept = [t for i, t in enumerate(times) if i == 0 or t - times[i - 1] > _REPEAT]
    return kept[-_MOST_TAPS:]


def _log_looks(pattern: Pattern, looks: Looks, tapped: bool) -> float:
    """A flashing lamp is lit for its share of the time; somebody who tapped has looked away from a static one."""
    if not looks:
        return 0.0
    lit = (
        sum(p.ms for p in pattern.phases if p.lit) / pattern.period if pattern.changes else float(pattern.phases[0].lit)
    )
    if tapped and pattern.changes:
        return 0.0
    share = lit if looks == "lit" else 1 - lit
    return math.log(0.01 + 0.98 * share)


def _too_fast(pattern: Pattern) -> float:
    onsets = pattern.onsets
    if not onsets:
        return 1e-4
    gaps = _gaps(onsets, pattern.period)
    return 1 / (1 + math.exp((min(gaps) - 220.0) / 30.0))


def _gaps(edges: Sequence[float], period: float) -> list[float]:
    """From each edge to the next, round the period."""
    return [(edges[(i + 1) % len(edges)] - edges[i]) % period or period for i in range(len(edges))]


def _speeds(pattern: Pattern, thumb: Thumb) -> list[tuple[float, float]]:
    """Factors on the pattern's times, with their weights."""
    if pattern.periods is None:
        return [(math.exp(z * thumb.speed), w) for z, w in _SPEEDS]
    low, high = pattern.periods
    step = math.log(high / low) / _RANGE_POINTS
    return [(low * math.exp((i + 0.5) * step) / pattern.period, 1 / _RANGE_POINTS) for i in range(_RANGE_POINTS)]


def _log_of_taps(times: Sequence[float], pattern: Pattern, until: float | None, thumb: Thumb) -> float:
    if not pattern.changes:
        return _log_of_none(times, until, thumb)
    fast = _too_fast(pattern)
    tapped = _log_beats(times, pattern.onsets, pattern, until, thumb, stride=1)
    if any(p.colour for p in pattern.phases):
        first = tuple(t for t, p in _starts(pattern) if p == pattern.phases[0].colour)
        one_colour = _log_beats(times, first, pattern, until, thumb, stride=1)
        tapped = _log_sum([tapped, one_colour]) - math.log(2)
    return _log_sum([tapped + math.log(1 - fast), _log_flat_out(times, until, thumb) + math.log(fast)])


def _starts(pattern: Pattern) -> list[tuple[int, str]]:
    found, at = [], 0
    for phase in pattern.phases:
        if phase.lit:
            found.append((at, phase.colour))
        at += phase.ms
    return found


def _log_of_edges(edges: Sequence[float], pattern: Pattern, until: float | None, thumb: Thumb) -> float:
    if not pattern.changes:
        none = _log_of_none(edges, until, thumb)
        return _log_sum([none, _log_on(edges, until, thumb)]) - math.log(2) if pattern.phases[0].lit else none
    at, own = 0, []
    for phase in pattern.phases:
        own.append(at)
        at += phase.ms
    if not all(p.lit != q.lit for p, q in pairwise(pattern.phases)):
        return _log_flat_out(edges, until, thumb)  # never dark: nothing to hold and let go of
    fast = _too_fast(pattern)
    return _log_sum(
        [
            _log_beats(edges, own, pattern, until, thumb, stride=2) + math.log(1 - fast),
            _log_flat_out(edges, until, thumb) + math.log(fast),
        ]
    )


def _log_of_none(times: Sequence[float], until: float | None, thumb: Thumb) -> float:
    """Taps at a lamp that does not change are strays."""
    end = max(until if until is not None else 0.0, times[-1] if times else 0.0)
    return len(times) * math.log(thumb.stray) - thumb.stray * end


def _log_on(edges: Sequence[float], until: float | None, thumb: Thumb) -> float:
    """A key held at a lamp that is lit all the time: one press, begun at any moment, until watching ends. It may be
    let go of for a moment."""
    if not edges or (until is not None and edges[-1] < until - 3 * thumb.jitter):
        return -math.inf
    slips = [b - a for a, b in list(pairwise(edges))[1::2]]
    if any(gap > _SLIP for gap in slips):
        return -math.inf
    return -2 * math.log(_SPAN) + len(slips) * math.log(thumb.doubled / (_SPAN * _SLIP))


def _log_flat_out(times: Sequence[float], until: float | None, thumb: Thumb) -> float:
    """Tapping as fast as the thumb goes, without regard to the lamp; at least the density of lost taps."""
    log = -math.log(thumb.fastest) if times else 0.0
    for a, b in pairwise(times):
        log += math.log(_normal(b - a, thumb.fastest, 2 * thumb.jitter**2) + thumb.lost / _SPAN)
    if until is not None:
        quiet = until - (times[-1] if times else 0.0)
        log += math.log(thumb.missed) * min(max(math.floor(quiet / thumb.fastest), 0), 20)
    return log


def _normal(x: float, mean: float, variance: float) -> float:
    return math.exp(-((x - mean) ** 2) / (2 * variance)) / math.sqrt(2 * math.pi * variance)


def _log_sum(logs: Sequence[float]) -> float:
    best = max(logs)
    return best + math.log(sum(math.exp(x - best) for x in logs))


def _log_beats(
    times: Sequence[float], edges: Sequence[float], pattern: Pattern, until: float | None, thumb: Thumb, stride: int
) -> float:
    """Log density of the taps, summed over the speeds that the lamp may have."""
    gaps = _gaps(edges, pattern.period)
    logs = []
    for speed, weight in _speeds(pattern, thumb):
        logs.append(math.log(weight) + _forward(times, [g * speed for g in gaps], until, thumb, stride))
    return _log_sum(logs)


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
    lost = thumb.lost / _SPAN / len(starts)
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
            weight = track.weight * chance * thumb.missed**skipped * _normal(off, 0.0, spread + noise)
            found = _Track(weight, track.at + ahead + gain * off, spread * (1 - gain))
            reached.setdefault(beat, []).append(found)
        elif off < 0:
            break


def _passed(
    tracks: Mapping[int, _Track], pair: Sequence[float], gaps: Sequence[float], thumb: Thumb
) -> dict[int, _Track]:
    """The tracks under which the next two edges are a doubled press: close together, before the next beat."""
    if len(pair) < 2 or pair[1] - pair[0] > _SLIP:
        return {}
    return {
        k: _Track(track.weight * thumb.doubled / (gaps[k] * _SLIP), track.at, track.variance)
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
