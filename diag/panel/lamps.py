"""What seeing a lamp is worth: a lamp may itself be dead, and a dead one shows what no fault would.

So a dark lamp is weaker evidence than a lit one. The chance of a dead lamp goes into P(seen | state) and nowhere
else; a lamp test that the lamp passed takes it out again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from diag.panel.flash import OFF, Pattern, Phase

DEAD: Final = 0.02
"""The chance that a lamp of unknown age is dead. Ours; filament lamps are worse, LEDs better."""
FALSE_LIGHT: Final = 0.002
"""The chance that a dark lamp is taken as lit: sun on the lens, a neighbour shining through."""

STACK_TOP_DOWN: Final = ("red", "yellow", "blue", "green", "white")
"""The usual order of a stack light from the top (IEC 60204-1 10.3.2, from memory). Sites differ: go by colour."""


def seen(state: str, states: Mapping[str, Pattern], dead: float = DEAD) -> dict[str, float]:
    """P(the lamp is seen as in `state` | it is in that state), for each of its states with its pattern.

    `dead` is the chance that the lamp gives no light; 0 after a lamp test that it passed. Raises KeyError for a state
    that the lamp has not, ValueError unless 0 <= dead < 1.
    """
    if not 0 <= dead < 1:
        raise ValueError("The chance of a dead lamp lies between 0 and 1.")
    dark = {s for s, p in states.items() if not gives_light(p)}
    if state not in states:
        raise KeyError(state)
    found = {}
    for s in states:
        if s in dark:
            found[s] = 1 - FALSE_LIGHT if state in dark else FALSE_LIGHT
        elif state in dark:
            found[s] = dead
        else:
            found[s] = 1 - dead if s == state else 0.0
    if state in dark:
        for s in dark - {state}:
            found[s] = 0.0
    return found


def gives_light(pattern: Pattern) -> bool:
    """Whether the lamp is lit at any time of the pattern."""
    return any(p.lit for p in pattern.phases)


def with_dead_colour(pattern: Pattern, colour: str) -> Pattern:
    """How a two-colour lamp looks when one of its colours is dead: alternating red and green turns into a blink."""
    left = tuple(p if p.colour != colour else Phase(False, p.ms) for p in pattern.phases)
    if left == pattern.phases:
        return pattern
    if not any(p.lit for p in left):
        return OFF
    return Pattern(f"{pattern.name}, {colour} dead", left, pattern.periods, pattern.source)
