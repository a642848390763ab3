"""Whose turn it is: what a digit marks now. Pure; the screen keeps one `Turn` and asks it after every change.

The next thing to do has the turn until somebody walks over the panel (`PANEL`) or finds an indication by name
(`FOUND`); Escape gives it back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from diag.case.snapshot import Action, Advice, State
from diag.machine.model import Machine
from diag.tui.widgets.answer import Target
from diag.tui.widgets.next import offers

NEXT, PANEL, FOUND = "NEXT", "PANEL", "FOUND"


@dataclass(frozen=True, slots=True)
class Turn:
    source: str = NEXT
    indication: str = ""
    """Which one, where the turn is with the panel or with a find."""
    chosen: int = 0
    """Which of the next thing and its alternatives is shown in full."""
    before: str = ""
    """The next answer was found before this case, by this person."""

    def to_next(self) -> Turn:
        return Turn(before=self.before)

    def to(self, indication: str, source: str) -> Turn:
        return replace(self, source=source, indication=indication)

    def other(self, advice: Advice | None, chosen: int | None = None) -> Turn:
        """The alternative of that number, or the one after the present."""
        count = len(offers(advice))
        if chosen is None:
            chosen = self.chosen + 1 if self.source == NEXT else 0
        return Turn(chosen=chosen % count if count else 0, before=self.before)

    def kept(self, before: Advice | None, after: Advice) -> Turn:
        """The same action under new advice, wherever it stands there; the next thing when it is offered no more."""
        chosen = self.chosen
        if chosen:
            was = [(a.kind, a.id) for a in offers(before)][chosen : chosen + 1]
            now = [(a.kind, a.id) for a in offers(after)]
            chosen = now.index(was[0]) if was and was[0] in now else 0
        return replace(self, chosen=chosen)

    def action(self, advice: Advice | None) -> Action | None:
        """What is shown in full, while it has the turn."""
        offered = offers(advice)
        return offered[self.chosen] if self.source == NEXT and self.chosen < len(offered) else None


@dataclass(frozen=True, slots=True)
class May:
    """How an indication would be answered now."""

    check: str
    """The check that gives it; empty for a look."""
    closed: str = ""
    """Why no answer is taken as done now; empty when one is."""
    shut: bool = False
    """Nor may it be shown how: it is inside."""
    zone: str = ""
    way: str = ""
    """Where it is, or where the way inside to it is; and what opens it: `lock`, `live` and so on."""


def looked_at(state: State) -> frozenset[str]:
    """Indications that were answered in this round, found or not to be told."""
    return frozenset(f.indication for f in state.facts if f.round == state.round) | frozenset(state.cannot_tell)


def target(
    turn: Turn,
    machine: Machine,
    state: State,
    advice: Advice | None,
    may: Callable[[str], May],
    fresh: bool = True,
) -> Target | None:
    """What is answered now; None when the turn is with an act or with nothing.

    With advice that is not `fresh`, a check that is answered whole asks for nothing more: what comes next is not known.

    `may` tells how an indication would be answered now.
    """
    if state.closed:
        return None
    if turn.source != NEXT:
        found = machine.indications.get(turn.indication)
        if found is None:
            return None
        how = may(found.id)
        now = state.standing.get(found.id, "")
        return Target(found, turn.source, how.check, now, turn.before, closed=how.closed, shut=how.shut)
    action = turn.action(advice)
    if action is None or action.kind not in ("look", "check"):
        return None
    gives = [id for id in action.gives if id in machine.indications]
    if not gives:
        return None
    done = looked_at(state)
    id = next((i for i in gives if i not in done), "")
    if not id and not fresh:
        return None
    id = id or gives[0]
    of = f"{gives.index(id) + 1}/{len(gives)}" if len(gives) > 1 else ""
    closed = "" if action.permission.now else action.permission.because
    check = action.id if action.kind == "check" else ""
    shut = not action.permission.how
    return Target(machine.indications[id], NEXT, check, state.standing.get(id, ""), turn.before, of, closed, shut)
