"""Why an action is advised, in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diag.case.log.projection import Projection
from diag.case.phrases import listed, shown_state
from diag.machine.model import UNLISTED, Cause, Kind, Machine, Remedy, Role
from diag.reason.advice.one_step import PlannedAction
from diag.reason.constants import UNLISTED_TITLE
from diag.text import percent

OUTCOMES = 2
"""How many outcomes of a check are told."""


def of_check(machine: Machine, choice: PlannedAction, next: PlannedAction | None = None) -> str:
    """What its likeliest answers would point to, the minutes that it is expected to save, and how many fewer the `next`
    best check saves."""
    text = "; ".join(
        f"{_shown(machine, o.states)} would point to {cause_title(machine, o.top)}, {percent(o.share)}"
        for o in choice.outcomes[:OUTCOMES]
    )
    text = text[:1].upper() + text[1:] + "." if text else ""
    if choice.saved < 1.0:
        return text
    more = choice.saved - next.saved if next is not None else 0.0
    return f"{text} Saves about {choice.saved:.0f} min" + (
        f", {more:.0f} more than the next best." if more >= 1.0 else "."
    )


def leads(machine: Machine, choice: PlannedAction) -> tuple[str, ...]:
    """What each answer of a check would lead to: its chance, the answer, the cause that would lead then."""
    return tuple(
        f"{percent(o.probability)}: {_shown(machine, o.states)}; then {cause_title(machine, o.top)}, {percent(o.share)}"
        for o in choice.outcomes
    )


def _shown(machine: Machine, states: tuple[tuple[str, str], ...]) -> str:
    """An outcome in words; of several answers those that are off their normal state."""
    if len(states) == 1:
        indication, state = states[0]
        return shown_state(machine.indications[indication], state)
    off = ((machine.indications[i], state) for i, state in states if state != machine.indications[i].normal)
    # The title of a question is the whole question.
    return listed(s if ind.kind is Kind.QUESTION else f"{ind.title} {s}" for ind, s in off) or "all normal"


def of_remedy(machine: Machine, remedy: Remedy, now: Mapping[str, float]) -> str:
    """Which causes it is for, and how likely they are together; `now`: the present probability of each cause."""
    causes = sorted(machine.causes_of.get(remedy.id, ()), key=lambda c: -now.get(c, 0.0))
    if not causes:
        return ""
    more = f" or one of {len(causes) - 2} more" if len(causes) > 2 else ""
    together = "together " if len(causes) > 1 else ""
    share = percent(sum(now.get(c, 0.0) for c in causes))
    return f"For {listed((cause_title(machine, c) for c in causes[:2]), 'or')}{more}: {together}{share} likely."


def sooner(first: PlannedAction, later: PlannedAction, top: Cause, chance: float) -> str:
    """Why a remedy comes before that of the likeliest cause `top`, which holds with that `chance`. Their minutes count
    the proof and the way there, as the order of remedies does."""
    quick, slow = (max(round(c.minutes + c.setup), 1) for c in (first, later))
    return f"First because it takes {quick} min; the remedy of “{top.title}”, {percent(chance)}, takes {slow}."


def looked_ahead(before: str, sooner: float) -> str:
    """What looking further ahead changed; `before`: the title of what was advised at first."""
    return f"Looked further ahead: about {sooner:.0f} min sooner to the end than with “{before}” first."


def of_call(projection: Projection, role: Role, due: bool) -> str:
    """Why the advice is to call; `due` says that nothing else is worth its minutes."""
    who = projection.state.person.role
    if not due:
        return "When you cannot go on, or may not."
    if role.value in projection.state.called:
        return "Called already. Until then nothing more here is worth its minutes."
    if who is Role.OPERATOR:
        if projection.protective:
            return "A protective device has operated. No reset; it is time to call."
        return "Nothing more that you may do from outside is worth its minutes. It is time to call."
    return "No check and no remedy is worth its minutes against a call."


def cause_title(machine: Machine, cause: str) -> str:
    return UNLISTED_TITLE.lower() if cause == UNLISTED else machine.causes[cause].title


def of_odd(again: Sequence[str], two: Sequence[str]) -> str:
    """The sentence for facts that no single cause explains: which ones to look at again, by title, and which two causes
    together would explain them."""
    named = [f"“{title}”" if title.endswith("?") else title for title in again]
    ways = [f"look again at {listed(named, 'or')}"] if named else []
    ways += [f"two causes: {listed(two, 'and')}"] if two else []
    return f"No single cause explains this: {', or '.join(ways) or 'something may be missing from the file'}."
