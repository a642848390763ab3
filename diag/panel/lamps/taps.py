"""Which flash pattern a person tapped along with.

A key is tapped once each time the lamp lights (or held while it is lit). From the times alone follows how likely
they are under each pattern, by a model of a thumb and a forward pass over the pattern's own beats (`beats`):

* every tap belongs to a beat of the pattern, and lies a constant reaction after it, give or take the jitter;
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

from diag.panel.lamps import beats
from diag.panel.lamps.flash import OPEN_STANDARD, Pattern

Looks = Literal["", "lit", "dark"]


FLOOR: Final = 1e-6
"""No observation is impossible under any pattern: a likelihood is never less than this share of the best."""
NEEDED: Final = 4
"""Whole periods to tap before the answer is taken as final."""
_REPEAT: Final = 45.0
"""Milliseconds. Nothing that comes sooner is a thumb; a key held down repeats about every 33 ms."""
_MOST_TAPS: Final = 64


@dataclass(frozen=True, slots=True)
class Recognition:
    """What the tapping says, regardless of what was expected."""

    states: Mapping[str, float]
    """P(these taps | the lamp is in that state), up to a common factor: the best of all patterns is 1."""
    patterns: tuple[tuple[Pattern, float], ...]
    """Open-standard patterns with their likelihood on the same scale, best first."""
    fits: bool
    """Whether a declared state explains the taps; if not, the lamp does something that its file does not know."""


def likelihoods(
    taps: Sequence[float], patterns: Sequence[Pattern], *, until: float | None = None, looks: Looks = ""
) -> tuple[float, ...]:
    """P(these taps | pattern) for each pattern, scaled so that the best is 1.

    `taps` are milliseconds on any clock, in any order; only the last 64 count, and repeats of a key held down are left
    out. `until` is when watching ended on the same clock (only if the person would have tapped until then: not while
    looking for the next key); `looks` is how the lamp looked at the end. Raises ValueError on times that are not
    finite.
    """
    times = _clean(taps)
    logs = [_log_of_taps(times, p, until) + _log_looks(p, looks, bool(times)) for p in patterns]
    return scaled(logs)


def held(
    presses: Sequence[tuple[float, float]],
    patterns: Sequence[Pattern],
    *,
    until: float | None = None,
    looks: Looks = "",
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
    return scaled([_log_of_edges(edges, p, until) + _log_looks(p, looks, bool(edges)) for p in patterns])


def too_fast(patterns: Sequence[Pattern]) -> tuple[float, ...]:
    """P(a person says "too fast to tap" | pattern), scaled: by the shortest gap, half at 220 ms."""
    return scaled([math.log(max(_too_fast(p), 1e-9)) for p in patterns])


def recognise(
    taps: Sequence[float], declared: Mapping[str, Pattern], *, until: float | None = None, looks: Looks = ""
) -> Recognition:
    """The declared states of a lamp by their likelihood, and what the open standards would call it.

    The lamp's file goes first: a standard's pattern only shows through `fits` that no declared one explains the taps
    (less than a twentieth as likely as the best of the standards').
    """
    states = list(declared)
    found = likelihoods(taps, [*declared.values(), *OPEN_STANDARD], until=until, looks=looks)
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
    if not looks or (tapped and pattern.changes):
        return 0.0
    lit = float(pattern.phases[0].lit)
    if pattern.changes:
        lit = sum(p.ms for p in pattern.phases if p.lit) / pattern.period
    share = lit if looks == "lit" else 1 - lit
    return math.log(0.01 + 0.98 * share)


def _too_fast(pattern: Pattern) -> float:
    if not pattern.changes:
        return 1e-4
    return 1 / (1 + math.exp((min(beats.gaps_of(pattern.onsets, pattern.period)) - 220.0) / 30.0))


def _log_of_taps(times: Sequence[float], pattern: Pattern, until: float | None) -> float:
    if not pattern.changes:
        return _log_of_none(times, until)
    fast = _too_fast(pattern)
    tapped = beats.log_beats(times, pattern.onsets, pattern, until, stride=1)
    if any(p.colour for p in pattern.phases):
        phases = zip(pattern.starts, pattern.phases, strict=True)
        first = tuple(at for at, p in phases if p.lit and p.colour == pattern.phases[0].colour)
        one_colour = beats.log_beats(times, first, pattern, until, stride=1)
        tapped = beats.log_sum([tapped, one_colour]) - math.log(2)
    return beats.log_sum([tapped + math.log(1 - fast), _log_flat_out(times, until, beats.TAP_JITTER) + math.log(fast)])


def _log_of_edges(edges: Sequence[float], pattern: Pattern, until: float | None) -> float:
    if not pattern.changes:
        none = _log_of_none(edges, until)
        return beats.log_sum([none, _log_on(edges, until)]) - math.log(2) if pattern.phases[0].lit else none
    if not all(p.lit != q.lit for p, q in pairwise(pattern.phases)):
        return _log_flat_out(edges, until, beats.HOLD_JITTER)  # never dark: nothing to hold and let go of
    fast = _too_fast(pattern)
    return beats.log_sum(
        [
            beats.log_beats(edges, pattern.starts, pattern, until, stride=2) + math.log(1 - fast),
            _log_flat_out(edges, until, beats.HOLD_JITTER) + math.log(fast),
        ]
    )


def _log_of_none(times: Sequence[float], until: float | None) -> float:
    """Taps at a lamp that does not change are strays."""
    end = max(until if until is not None else 0.0, times[-1] if times else 0.0)
    return len(times) * math.log(beats.STRAY) - beats.STRAY * end


def _log_on(edges: Sequence[float], until: float | None) -> float:
    """A key held at a lamp that is lit all the time: one press, begun at any moment, until watching ends. It may be
    let go of for a moment."""
    if not edges or (until is not None and edges[-1] < until - 3 * beats.HOLD_JITTER):
        return -math.inf
    slips = [b - a for a, b in list(pairwise(edges))[1::2]]
    if any(gap > beats.SLIP for gap in slips):
        return -math.inf
    return -2 * math.log(beats.SPAN) + len(slips) * math.log(beats.DOUBLED / (beats.SPAN * beats.SLIP))


def _log_flat_out(times: Sequence[float], until: float | None, jitter: float) -> float:
    """Tapping as fast as the thumb goes, without regard to the lamp; at least the density of lost taps."""
    log = -math.log(beats.FASTEST) if times else 0.0
    for a, b in pairwise(times):
        log += math.log(beats.normal(b - a, beats.FASTEST, 2 * jitter**2) + beats.LOST / beats.SPAN)
    if until is not None:
        quiet = until - (times[-1] if times else 0.0)
        log += math.log(beats.MISSED) * min(max(math.floor(quiet / beats.FASTEST), 0), 20)
    return log
