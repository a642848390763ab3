"""What may be entered now. Every event passes here before it is stored; what is refused is refused in one line.

The rule of `diag.safety` decides about inside work, resets and the gate. The rest are rules of the record: names that
exist, nothing after the end, nothing taken as done that nobody may have done.
"""

from __future__ import annotations

from datetime import datetime
from math import isfinite

from diag.case import events as e
from diag.case import proof
from diag.case.actions import permitted
from diag.case.folded import Folded
from diag.case.tallies import waiting
from diag.case.words import clean, listed, one_line
from diag.machine.model import Access, Check, Machine
from diag.machine.names import unknown
from diag.machine.nodes import Do, Go, Look, Node
from diag.reason.constants import UNLISTED
from diag.safety import Refused


def admit(machine: Machine, folded: Folded, event: e.Event, at: datetime | None = None) -> e.Event:
    """The event as it may be stored: its words cleaned of control characters. Raises `Refused`.

    `at`: when it is entered; without it no label's wait is taken as over."""
    event = cleaned(event)
    _not_over(folded, event)
    match event:
        case e.Opened():
            raise Refused("This case is open already.")
        case e.TookOver() if not event.person:
            raise Refused("Say who you are first.")
        case e.Found():
            _found(machine, folded, event)
        case e.CannotTell():
            _named(machine, event.indication, event.check)
        case e.Skipped() if event.action not in machine.checks and event.action not in machine.remedies:
            raise Refused(f"There is no check or remedy {event.action!r}.")
        case e.Did():
            _did(machine, folded, event)
        case e.ResetDone():
            _reset(machine, folded, event)
        case e.Remedied():
            _remedied(machine, folded, event)
        case e.RemedyFailed() if not folded.state.remedy or event.remedy != folded.state.remedy:
            raise Refused("No such remedy waits for its proof.")
        case e.Gate():
            _gate(machine, folded, event, at)
        case e.Noted() if not event.text:
            raise Refused("There is nothing to note.")
        case e.TakenBack() if event.seq not in folded.open_seqs:
            raise Refused("That cannot be taken back.")
        case e.Closed():
            _closed(machine, folded, event)
    return event


def cleaned(event: e.Event) -> e.Event:
    """Names on one line; notes and reasons keep their lines; nothing that steers a terminal."""
    kept: dict[str, str] = {}
    for field, value in event:
        if isinstance(value, str):
            plain = _plain(event, field, value)
            if plain != value:
                kept[field] = plain
    return event.model_copy(update=kept) if kept else event


def _plain(event: e.Event, field: str, value: str) -> str:
    if field == "said" or isinstance(event, e.Did):
        return clean(value)
    return clean(value).strip() if field in ("text", "note", "reason", "why") else one_line(value)


def _not_over(folded: Folded, event: e.Event) -> None:
    closed = folded.state.closed
    if not closed or isinstance(event, e.TakenBack):
        return
    if closed == "handed-over" and isinstance(event, e.TookOver | e.Resumed):
        return
    again = " Take it over to go on." if closed == "handed-over" else ""
    raise Refused(f"This case is closed.{again}")


def _named(machine: Machine, indication: str, check: str) -> Check | None:
    if indication not in machine.indications:
        raise Refused(unknown("indication", indication, machine.indications)[0] + ".")
    if not check:
        return None
    if check not in machine.checks:
        raise Refused(unknown("check", check, machine.checks)[0] + ".")
    found = machine.checks[check]
    if indication not in found.gives:
        raise Refused(f"{found.title} does not tell {machine.indications[indication].title}.")
    return found


def _found(machine: Machine, folded: Folded, event: e.Found) -> None:
    check = _named(machine, event.indication, event.check)
    ind = machine.indications[event.indication]
    for state, p in event.seen.items():
        if state not in ind.state_ids:
            raise Refused(unknown(f"state of {ind.title}", state, ind.state_ids)[0] + ".")
        if not isfinite(p):
            raise Refused("A weight that is no number.")
    if not any(event.seen.values()):
        raise Refused("A sight that no state could give.")
    if event.before:
        return
    if event.indication in machine.resets:
        if not any(r.done for r in folded.state.resets if r.id == event.indication):
            raise Refused(f"{machine.resets[event.indication].title}: it was not done in this case.")
        return
    _way_there(machine, folded, event.indication, check)


def _way_there(machine: Machine, folded: Folded, indication: str, check: Check | None) -> None:
    """A fact is taken as found now only by a way that is open now.

    What is seen from outside is always taken: in the wrong energy state it carries no evidence, and under a danger sign
    it is offered no more but may have been seen."""
    ways = (check,) if check is not None else machine.checks_for[indication]
    why = ""
    for way in ways:
        if way.access is Access.OUTSIDE:
            if folded.state.person.role in way.who:
                return
            why = why or permitted(machine, folded, way).because
        elif check is None:
            why = f"{way.title} is how this is found, and it is inside."
        else:
            rule = permitted(machine, folded, way)
            if rule.now:
                return
            why = rule.because
    title = machine.indications[indication].title
    raise Refused(f"{title}: {why or 'no check tells it.'} If it was found earlier, enter by whom.")


def _did(machine: Machine, folded: Folded, event: e.Did) -> None:
    if folded.state.danger:
        raise Refused("A danger sign stands. Keep away and call.")
    tree = machine.trees.get(event.tree)
    if tree is None or event.text not in instructions(tree.root):
        raise Refused("No tree gives that instruction.")


def instructions(node: Node | None) -> frozenset[str]:
    """The instructions of a tree, from this node on; other trees that it goes to are not entered."""
    match node:
        case Do(text=text, then=then):
            return instructions(then) | {text}
        case Look(when=when, otherwise=otherwise):
            return frozenset().union(*(instructions(n) for n in when.values()), instructions(otherwise))
        case Go():
            return frozenset()
    return frozenset()


def _reset(machine: Machine, folded: Folded, event: e.ResetDone) -> None:
    count = next((r for r in folded.state.resets if r.id == event.reset), None)
    if count is None:
        raise Refused(unknown("reset", event.reset, machine.resets)[0] + ".")
    if not count.may:
        raise Refused(count.because)


def _remedied(machine: Machine, folded: Folded, event: e.Remedied) -> None:
    remedy = machine.remedies.get(event.remedy)
    if remedy is None:
        raise Refused(unknown("remedy", event.remedy, machine.remedies)[0] + ".")
    if folded.state.remedy:
        raise Refused("Say first whether the last remedy cured it.")
    rule = permitted(machine, folded, remedy)
    if not rule.now:
        raise Refused(rule.because)


def _gate(machine: Machine, folded: Folded, event: e.Gate, at: datetime | None) -> None:
    state = folded.state
    folded.site.apply(
        machine,
        event.zone,
        event.act,
        event.target,
        state.person,
        event.reason,
        event.permit,
        danger=bool(state.danger),
        waiting=waiting(state.waits, at),
    )


def _closed(machine: Machine, folded: Folded, event: e.Closed) -> None:
    state = folded.state
    if event.cause and event.cause != UNLISTED and event.cause not in machine.causes:
        raise Refused(unknown("cause", event.cause, machine.causes)[0] + ".")
    if event.outcome == "handed-over":
        if not event.to:
            raise Refused("Say who takes over.")
        return
    if state.danger:
        raise Refused("A danger sign stands. Hand over, or take it back if it was entered by mistake.")
    if state.locks:
        locks = listed(f"{machine.points[p].title if p in machine.points else p} ({who})" for p, who in state.locks)
        raise Refused(f"Locks are on: {locks}. Go the way back first, or hand over.")
    if not folded.site.closed:
        raise Refused("The way back is not finished. Finish it first, or hand over.")
    if event.outcome == "cured":
        _cured(machine, folded, event.cause)


def _cured(machine: Machine, folded: Folded, cause: str) -> None:
    if not cause:
        raise Refused("Say which cause it was, or that it is not in this file.")
    found = machine.causes.get(cause)
    if found is not None and found.remedy is not None:
        if folded.state.remedy != found.remedy.id:
            raise Refused("Its remedy was not entered as done. Enter it first, or close as running, cause not found.")
        facts = folded.state.proof
    else:
        facts = proof.found(proof.of_cause(machine, found, folded.wrong), folded.proving)
    if not proof.holds(facts):
        missing = listed(machine.indications[i].title for i, states, state in facts if state not in states)
        raise Refused(f"Not proved yet: {missing or 'nothing that would prove it'}. See it, or close as running.")
