"""Lamps: what was tapped along with one, as a sight; and one that may be dead, until a lamp test shows otherwise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from diag.case.sighting import Sighting, weighed
from diag.case.snapshot import IN_DOUBT
from diag.machine.model import Indication, Kind, State
from diag.machine.say import CannotRead
from diag.panel import flash, lamps

if TYPE_CHECKING:
    from diag.panel.taps import Looks

FAILED = "It failed its lamp test, so it tells nothing about the fault."


WATCHED = 6000.0
"""Milliseconds for which a lamp was watched of which somebody says that it does not flash. Ours."""


@lru_cache(maxsize=1024)
def patterns(states: tuple[State, ...]) -> Mapping[str, flash.Pattern]:
    """How a lamp looks in each of its states, with the colour where a state names one."""
    return {s.id: flash.parse(f"{s.colour} {s.pattern}".strip()) for s in states}


def tested(indication: Indication, standing: Mapping[str, str]) -> bool | None:
    """Whether a lamp or a display passed its lamp test; None when there is none, or nobody did it."""
    found = [standing[test] not in failed for test, failed in indication.lamp_test if test in standing]
    return all(found) if found else None


def as_evidence(indication: Indication, seen: Mapping[str, float], standing: Mapping[str, str]) -> dict[str, float]:
    """P(seen | true state) of a lamp that may be dead, from how it looked; other kinds stay as they are.

    A lamp that passed its test is taken as whole. One that failed is left as it is here: it carries nothing (`FAILED`).
    """
    if indication.kind is not Kind.LAMP or tested(indication, standing) is False:
        return dict(seen)
    dead = 0.0 if tested(indication, standing) else lamps.DEAD
    found = lamps.through(seen, patterns(indication.states), indication.colour, dead)
    best = max(found.values(), default=0.0)
    return {s: p / best for s, p in found.items() if p > 0.0} if best > 0.0 else dict(seen)


@dataclass(frozen=True, slots=True)
class Tapped:
    """What was tapped along with a lamp. Times in milliseconds on any one clock."""

    taps: tuple[float, ...] = ()
    held: tuple[tuple[float, float], ...] = ()
    """Presses that lasted while it was lit, as (down, up); in place of taps."""
    looks: Looks = ""
    """It does not change: it stays `lit` or `dark`."""
    too_fast: bool = False
    """It flashes too fast to be tapped."""


def of_taps(indication: Indication, tapped: Tapped) -> Sighting:
    """The states of a lamp by what was tapped along. Raises CannotRead where nothing was."""
    from diag.panel import taps

    known = patterns(indication.states)
    if tapped.too_fast:
        *fast, fastest = taps.too_fast([*known.values(), flash.FLICKER])
        note = "It flashes faster than any state of this lamp in the file." if max(fast) < IN_DOUBT * fastest else ""
        return weighed(indication, dict(zip(known, fast, strict=True)), "too fast to tap", note)
    if tapped.held:
        try:
            found = taps.held(tapped.held, [*known.values(), *flash.OPEN_STANDARD], looks=tapped.looks)
        except ValueError as error:
            raise CannotRead(str(error)) from None
        best_of_standards = max(found[len(known) :])
        weights = dict(zip(known, found, strict=False))
        said = f"held along {len(tapped.held)} times"
        return _known(indication, weights, best_of_standards, _best(found[len(known) :]), said)
    if not tapped.taps and not tapped.looks:
        raise CannotRead("nothing was tapped")
    # Of a lamp that does not flash it was watched for a while that no flash came; while somebody taps, nobody knows
    # how long they looked for the next key.
    until = None if tapped.taps else WATCHED
    seen = taps.recognise(tapped.taps, known, until=until, looks=tapped.looks)
    pattern, likelihood = seen.patterns[0]
    if not tapped.taps:
        note = "" if seen.fits else f"It stays {tapped.looks}, which is no state of this lamp in the file."
        return weighed(indication, seen.states, f"stays {tapped.looks}", note)
    said = f"tapped {len(tapped.taps)} times"
    return _known(indication, dict(seen.states), likelihood, pattern, said)


def settled(indication: Indication, sighting: Sighting) -> bool:
    """One state stands out, so that more tapping would hardly help."""
    from diag.panel import taps

    return taps.settled([sighting.seen.get(s, 0.0) for s in indication.state_ids])


def _known(
    indication: Indication, weights: dict[str, float], standard: float, pattern: flash.Pattern, said: str
) -> Sighting:
    best = max(weights.values())
    note = ""
    if best < IN_DOUBT * standard:
        note = f"It looks like {pattern.name}, which is no state of this lamp in the file."
    return weighed(indication, weights, said, note)


def _best(found: Sequence[float]) -> flash.Pattern:
    return max(zip(found, flash.OPEN_STANDARD, strict=True), key=lambda pair: pair[0])[1]
