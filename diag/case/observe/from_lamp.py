"""Lamps: what was tapped along with one, as an observation; a lamp may be dead until a lamp test shows otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from diag.case.observe.observation import Observation, weighed
from diag.case.snapshot import IN_DOUBT
from diag.machine.model import Indication, Kind, State
from diag.machine.states.say import CannotRead
from diag.panel.lamps import dead_lamp as lamps
from diag.panel.lamps import flash

if TYPE_CHECKING:
    from diag.panel.lamps.taps import Looks

FAILED = "It failed its lamp test, so it tells nothing about the fault."
WATCHED = 6000.0
"""Milliseconds for which a lamp is taken to have been watched when somebody says that it does not flash. Ours."""


@lru_cache(maxsize=1024)
def patterns(states: tuple[State, ...]) -> Mapping[str, flash.Pattern]:
    """How a lamp looks in each of its states, with the colour where a state names one."""
    return {s.id: flash.parse(f"{s.colour} {s.pattern}".strip()) for s in states}


def tested(indication: Indication, current: Mapping[str, str]) -> bool | None:
    """Whether a lamp or a display passed its lamp test; None when there is none, or nobody did it."""
    found = [current[test] not in failed for test, failed in indication.lamp_test if test in current]
    return all(found) if found else None


def as_evidence(indication: Indication, seen: Mapping[str, float], current: Mapping[str, str]) -> dict[str, float]:
    """P(seen | true state) of a lamp that may be dead, from how it looked in one of its states at least; other kinds
    stay as they are.

    A lamp that passed its test is taken as whole. One that failed is left as it is here: it carries nothing (`FAILED`).
    """
    if indication.kind is not Kind.LAMP or tested(indication, current) is False:
        return dict(seen)
    dead = 0.0 if tested(indication, current) else lamps.DEAD
    found = lamps.through(seen, patterns(indication.states), indication.colour, dead)
    best = max(found.values())
    return {s: p / best for s, p in found.items() if p > 0.0}


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


def of_taps(indication: Indication, tapped: Tapped) -> Observation:
    """The states of a lamp by what was tapped along. Raises CannotRead where nothing was."""
    from diag.panel.lamps import taps

    known = patterns(indication.states)
    if tapped.too_fast:
        *fast, _ = taps.too_fast([*known.values(), flash.FLICKER])
        note = "It flashes faster than any state of this lamp in the file." if max(fast) < IN_DOUBT else ""
        return weighed(indication, dict(zip(known, fast, strict=True)), "too fast to tap", note)
    if tapped.held:
        try:
            found = taps.held(tapped.held, [*known.values(), *flash.OPEN_STANDARD], looks=tapped.looks)
        except ValueError as error:
            raise CannotRead(str(error)) from None
        standards = zip(found[len(known) :], flash.OPEN_STANDARD, strict=True)
        likelihood, pattern = max(standards, key=lambda pair: pair[0])
        weights, said = dict(zip(known, found, strict=False)), f"held along {len(tapped.held)} times"
    elif tapped.taps or tapped.looks:
        # A lamp that does not flash was watched for a while in which no flash came; while somebody taps, nobody knows
        # how long they looked for the next key.
        seen = taps.recognise(tapped.taps, known, until=None if tapped.taps else WATCHED, looks=tapped.looks)
        if not tapped.taps:
            note = "" if seen.fits else f"It stays {tapped.looks}, which is no state of this lamp in the file."
            return weighed(indication, seen.states, f"stays {tapped.looks}", note)
        pattern, likelihood = seen.patterns[0]
        weights, said = dict(seen.states), f"tapped {len(tapped.taps)} times"
    else:
        raise CannotRead("nothing was tapped")
    other = max(weights.values()) < IN_DOUBT * likelihood
    note = f"It looks like {pattern.name}, which is no state of this lamp in the file." if other else ""
    return weighed(indication, weights, said, note)


def settled(indication: Indication, observation: Observation) -> bool:
    """One state stands out, so that more tapping would hardly help."""
    from diag.panel.lamps import taps

    return taps.settled([observation.seen.get(s, 0.0) for s in indication.state_ids])
