"""How much a lamp tells: it may itself be dead, and then it is dark whatever the machine does.

So a dark lamp is weaker evidence than a lit one. The chance of a dead lamp goes into P(seen | state) and nowhere
else; a lamp test that the lamp passed takes it out again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from diag.panel.lamps.flash import Pattern

DEAD: Final = 0.02
"""The chance that a lamp of unknown age is dead. Ours; filament lamps are worse, LEDs better."""
FALSE_LIGHT: Final = 0.002
"""The chance that a dark lamp is taken as lit: sun on the lens, a neighbour shining through."""


def through(
    seen: Mapping[str, float], states: Mapping[str, Pattern], own: str = "", dead: float = DEAD
) -> dict[str, float]:
    """P(this observation | the lamp is driven so), for a lamp that may be dead, or may have one colour dead.

    `seen` is P(this observation | the lamp looks so) by state, `own` the colour of phases that name none. A lamp that
    gives light looks dark with the chance `dead`; one of several colours may also lose each alone, and then it looks
    as its pattern without that colour. A dark one is taken as lit with `FALSE_LIGHT`. Looks that are no state of the
    lamp carry nothing. Raises ValueError unless 0 <= dead < 1.
    """
    if not 0 <= dead < 1:
        raise ValueError("The chance of a dead lamp lies between 0 and 1.")
    dark = [s for s, p in states.items() if not any(phase.lit for phase in p.phases)]
    lit = [s for s in states if s not in dark]
    found = {}
    for s, pattern in states.items():
        here = seen.get(s, 0.0)
        if s in dark:
            found[s] = (1 - FALSE_LIGHT) * here + FALSE_LIGHT * _mean(seen, lit)
            continue
        lost = [frozenset(phase.colour or pattern.colour or own for phase in pattern.phases if phase.lit)]
        lost += [frozenset({c}) for c in sorted(lost[0])] if len(lost[0]) > 1 else []
        looks = [_looks(pattern, gone, states, own) for gone in lost]
        found[s] = (1 - dead * len(lost)) * here + dead * sum(_mean(seen, look) for look in looks)
    return found


def _looks(pattern: Pattern, gone: frozenset[str], states: Mapping[str, Pattern], own: str) -> list[str]:
    """The states that look as this pattern does without these colours."""
    left = _shape(pattern, own, gone)
    return [s for s, p in states.items() if _shape(p, own) == left]


def _shape(pattern: Pattern, own: str, gone: frozenset[str] = frozenset()) -> tuple[tuple[str, int], ...]:
    """Colour and milliseconds of each phase from a fixed start; dark ones without colour, like ones joined;
    one pair where all stays dark."""
    joined: list[tuple[str, int]] = []
    for phase in pattern.phases:
        colour = (phase.colour or pattern.colour or own) if phase.lit else ""
        colour = "" if phase.lit and colour in gone else colour or "?" * phase.lit
        if joined and joined[-1][0] == colour:
            joined[-1] = (colour, joined[-1][1] + phase.ms)
        else:
            joined.append((colour, phase.ms))
    if all(not c for c, _ in joined):
        return (("", 0),)
    if len(joined) > 1 and joined[0][0] == joined[-1][0]:
        last = joined.pop()
        joined[0] = (last[0], joined[0][1] + last[1])
    return min(tuple(joined[n:] + joined[:n]) for n in range(len(joined)))


def _mean(seen: Mapping[str, float], looks: Sequence[str]) -> float:
    return sum(seen.get(s, 0.0) for s in looks) / len(looks) if looks else 0.0
