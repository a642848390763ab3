"""What comes next while a remedy waits for its proof: see each proof fact, clear what is latched, close, or say that
it failed."""

from __future__ import annotations

from diag.case import actions
from diag.case.folded import Folded
from diag.case.snapshot import Action
from diag.case.words import listed, title_of
from diag.machine.model import Access, Check, Machine, Reset, Role

EASIEST = (Access.OUTSIDE, Access.DEAD, Access.LIVE)
"""What can be seen with everything closed comes first, and live work last: it may tell that the rest is needless."""
Found = tuple[str, tuple[str, ...], str]
"""Indication, states that prove, and the state found (or empty)."""


def next_of(machine: Machine, folded: Folded) -> tuple[Action, tuple[Action, ...], str]:
    """The next thing, alternatives, and what is missing, in words."""
    state = folded.state
    if state.proved:
        why = "Every fact that proves the cure was found after the remedy."
        if state.locks:
            why = "Go the way back first. What was seen without power is to be seen once more with the power on."
        return actions.of_close(why), (), ""
    wrong = [f for f in state.proof if f[2] and f[2] not in f[1]]
    missing = [f for f in state.proof if not f[2]]
    looks = [look for f in (*missing, *wrong) if (look := _look(machine, folded, f)) is not None]
    looks.sort(key=lambda look: (not look.permission.now, EASIEST.index(look.access)))
    if wrong:
        reset = _clears(machine, folded, wrong)
        titles = listed(
            f"{title_of(machine, i)} is {found}, and should be {listed(states, 'or')}" for i, states, found in wrong
        )
        failed = actions.of_failed(state.remedy, f"{titles}.")
        if reset is not None:
            why = f"{titles}. It is latched, so it stays until it is reset."
            return actions.of_reset(machine, folded, reset, why=why), (*looks, failed), ""
        return failed, tuple(looks), ""
    failed = actions.of_failed(state.remedy, "If the fault is still there, say so: then looking for the cause goes on.")
    told = [look for look in looks if look.gives[0] not in state.cannot_tell]
    if told:
        return told[0], (*told[1:], failed), ""
    says = "Not everything that proves the cure could be told, so it is not proved. Look again, or close it as running."
    rest = (*looks[1:], failed)
    if looks:
        return looks[0], rest, says
    why = "What proves the cure is for another role to see."
    return actions.of_call(machine, Role.ENGINEER, why=why), (failed,), says


def _look(machine: Machine, folded: Folded, fact: Found) -> Action | None:
    """The check by which this person sees a proof fact: one that is open now, else the first of theirs."""
    indication, states, found = fact
    role = folded.state.person.role
    ways: list[Check] = [c for c in machine.checks_for.get(indication, ()) if role in c.who]
    ways.sort(key=lambda c: (c.id in folded.skipped, not actions.permitted(machine, folded, c).now))
    if not ways:
        return None
    again = f" It was {found}." if found else ""
    why = f"Proof of the cure: it should be {listed(states, 'or')}.{again}"
    return actions.of_check(machine, folded, ways[0], why=why)


def _clears(machine: Machine, folded: Folded, wrong: list[Found]) -> Reset | None:
    """A reset that may be done and clears a latched state that is still shown after the remedy."""
    by = {clear for i, _, found in wrong for clear in machine.indications[i].state(found).cleared_by}
    return next((machine.resets[r.id] for r in folded.state.resets if r.may and r.id in by), None)
