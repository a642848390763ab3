"""What comes next while a remedy waits for its proof: see each proof fact, clear what is latched, close, or say that
it failed."""

from __future__ import annotations

from dataclasses import replace

from diag.case.advice import actions
from diag.case.log import proof_facts as proof
from diag.case.log.projection import Projection, may_prepare, permitted
from diag.case.phrases import listed, title_of
from diag.case.snapshot import Action
from diag.machine.model import Access, Machine, Reset, Role

EASIEST = (Access.OUTSIDE, Access.DEAD, Access.LIVE)
"""What can be seen with everything closed comes first, and live work last: it may tell that the rest is needless."""
Found = tuple[str, tuple[str, ...], str]
"""Indication, states that prove, and the state found (or empty)."""


def next_of(machine: Machine, projection: Projection) -> tuple[Action, tuple[Action, ...], str]:
    """The next thing, alternatives, and what is missing, in words."""
    state = projection.state
    if state.proved:
        why = "Every fact that proves the cure was found after the remedy."
        if state.locks:
            why = "Return to service first. What was seen without power is to be seen once more with the power on."
        return Action("close", "close", "Close the case: cured and proved", actions.OPEN, why=why), (), ""
    if state.proof_first:
        return _first(machine, projection)
    wrong = [f for f in state.proof if f[2] and f[2] not in f[1]]
    missing = [f for f in state.proof if not f[2]]
    looks = [look for f in (*missing, *wrong) if (look := _look(machine, projection, f)) is not None]
    looks.sort(key=lambda look: (not look.permission.now, EASIEST.index(look.access), not _is_trial(machine, look)))
    if wrong:
        reset = _clears(machine, projection, wrong)
        titles = listed(
            f"{title_of(machine, i)} is {found}, and should be {listed(states, 'or')}" for i, states, found in wrong
        )
        failed = actions.of_failed(state.remedy, f"{titles}.")
        if reset is not None:
            why = f"{titles}. It is latched, so it stays until it is reset."
            return actions.of_reset(machine, projection, reset, why=why), (*looks, failed), ""
        return failed, tuple(looks), ""
    failed = actions.of_failed(state.remedy, "If the fault is still there, say so: then looking for the cause goes on.")
    told = [look for look in looks if look.gives[0] not in state.cannot_tell]
    if state.fault_gone and missing:
        told = [replace(look, why=f"Fault gone, not yet running. {look.why}") for look in told]
    if told:
        return told[0], (*told[1:], failed), ""
    says = "Not everything that proves the cure could be told, so it is not proved. Look again, or close it as running."
    if looks:
        return looks[0], (*looks[1:], failed), says
    why = "What proves the cure is for another role to see."
    return actions.of_call(machine, Role.ENGINEER, why=why), (failed,), says


def _first(machine: Machine, projection: Projection) -> tuple[Action, tuple[Action, ...], str]:
    """What is done next before the proof is looked at; what still shows the fault may be said meanwhile."""
    state = projection.state
    step = next(s for s in proof.first(machine, state.remedy) if s.do == state.proof_first[0])
    more = len(state.proof_first) - 1
    why = f"Before the proof is looked at.{f' {more} more after it.' if more else ''}"
    if state.fault_gone:
        why = f"Fault gone, not yet running. {why}"
    failed = actions.of_failed(state.remedy, "If the fault is still there, say so: then looking for the cause goes on.")
    if step.reset:
        note = _to_note(machine, projection, machine.resets[step.reset])
        if note is not None:
            return note, (failed,), ""
        return actions.of_reset(machine, projection, machine.resets[step.reset], why=f"{step.do}. {why}"), (failed,), ""
    rule = may_prepare(projection, step)
    return Action("do", "", step.do, rule, why=why, how=step.do if rule.how else "", who=step.who), (failed,), ""


def _look(machine: Machine, projection: Projection, fact: Found) -> Action | None:
    """The check by which this person sees a proof fact: one that is open now, else the first of theirs."""
    indication, states, found = fact
    role = projection.state.person.role
    ours = (c for c in machine.checks_for.get(indication, ()) if role in c.who)
    ways = sorted(ours, key=lambda c: (c.id in projection.skipped, not permitted(machine, projection, c).now))
    if not ways:
        return None
    again = f" It was {found}." if found else ""
    why = f"Proof of the cure: it should be {listed(states, 'or')}.{again}"
    return actions.of_check(machine, projection, ways[0], why=why)


def _to_note(machine: Machine, projection: Projection, reset: Reset) -> Action | None:
    """The look at what a reset wipes and nobody has noted in this round; None where all is noted."""
    state = projection.state
    noted = {f.indication for f in state.facts if f.round == state.round and not f.before}.union(state.cannot_tell)
    for indication in (i for i in reset.note_first if i not in noted):
        ours = (c for c in machine.checks_for.get(indication, ()) if state.person.role in c.who)
        for way in sorted(ours, key=lambda c: not permitted(machine, projection, c).now):
            return actions.of_check(machine, projection, way, why=f"Noted before {reset.title} wipes it.")
    return None


def _is_trial(machine: Machine, look: Action) -> bool:
    """Trials come before what is only looked at, which is looked at anew after each of them."""
    return look.id in machine.checks and machine.checks[look.id].changes


def _clears(machine: Machine, projection: Projection, wrong: list[Found]) -> Reset | None:
    """A reset that may be done and clears a latched state that is still shown after the remedy."""
    by = {clear for i, _, found in wrong for clear in machine.indications[i].state(found).cleared_by}
    return next((machine.resets[r.id] for r in projection.state.resets if r.may and r.id in by), None)
