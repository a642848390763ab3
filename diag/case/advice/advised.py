"""What an entry keeps of the advice that its person had: the first one that followed advice, and the ending."""

from __future__ import annotations

from diag.case.log import events as e
from diag.case.snapshot import Action, Advice
from diag.machine.model import UNLISTED, Machine

TOP = 5
"""How many of the likeliest causes are kept."""


def advised(machine: Machine, advice: Advice, taken: int, of: int) -> e.Advised:
    """`of`: how many entries of this sitting could have been what was advised; `taken`: how many were."""
    percent = {cause.id: round(100 * cause.probability, 1) for cause in advice.causes}
    unlisted = percent.pop(UNLISTED, 0.0)
    next = f"{advice.next.kind} {advice.next.id}" if advice.next is not None else ""
    causes = dict(list(percent.items())[:TOP])
    return e.Advised(causes=causes, unlisted=unlisted, next=next[:200], taken=taken, of=of, files=machine.files)


def follows(next: Action | None, event: e.Event) -> bool | None:
    """Whether an entry is what was advised; None for one that says nothing of it, such as a note or a step at the gate
    on the way there."""
    if next is None:
        return None
    match event:
        case e.Found() if event.before:
            return None
        case e.Found() | e.CannotTell():
            asked = next.kind in ("look", "check") and event.indication in next.gives
            return asked and event.check in ("", next.id)
        case e.Remedied():
            return (next.kind, next.id) == ("remedy", event.remedy)
        case e.ResetDone():
            return (next.kind, next.id) == ("reset", event.reset)
        case e.Called():
            return (next.kind, next.id) == ("call", event.role.value)
        case e.Did():
            return next.kind == "do" and next.how == event.text
        case _:
            return None
