"""What may be entered now. Every event passes here before it is stored, and a refusal is one line.

The rule of `diag.safety` decides about inside work, resets and the gate. The rest are rules of the record: names that
exist, nothing after the end, nothing taken as done that nobody may have done.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime
from math import isfinite

from diag.case.log import events as e
from diag.case.log import owners
from diag.case.log import proof_facts as proof
from diag.case.log.projection import Projection, may_prepare, permitted
from diag.case.log.tallies import confirmed, waiting
from diag.case.phrases import listed
from diag.machine.model import UNLISTED, Access, Check, Machine, Remedy, Role
from diag.machine.names import unknown
from diag.machine.nodes import Do, Go, Look, TreeNode
from diag.safety import Act, Phase, Refused
from diag.safety.measured import at_voltage
from diag.safety.types import same_name
from diag.text import clean, one_line


def validate_event(machine: Machine, projection: Projection, event: e.Event, at: datetime | None = None) -> e.Event:
    """The event as it may be stored: its words cleaned of control characters. Raises `Refused`.

    `at`: when it is entered; without it no label's wait is taken as over."""
    event = cleaned(event)
    _not_over(projection, event)
    owners.check_told_first(machine, projection, event)
    match event:
        case e.Opened():
            raise Refused("This case is open already.")
        case e.ListsRepaired():
            raise Refused("Lists are repaired by `diag cases --repair` alone.")
        case e.TookOver() | e.Joined() if not event.person:
            raise Refused("Say who you are first.")
        case e.TookOver() | e.Joined():
            return event.model_copy(update={"person": as_known(projection, event.person)})
        case e.Found():
            _found(machine, projection, event)
        case e.CannotTell():
            _named(machine, event.indication, event.check)
        case e.Skipped() if event.action not in machine.checks and event.action not in machine.remedies:
            raise Refused(f"There is no check or remedy {event.action!r}.")
        case e.Did():
            _did(machine, projection, event)
        case e.ResetDone():
            _reset(machine, projection, event)
        case e.Remedied():
            _remedied(machine, projection, event, at)
        case e.Prepared():
            _prepared(machine, projection, event)
        case e.RemedyFailed() if not projection.state.remedy or event.remedy != projection.state.remedy:
            raise Refused("No such remedy waits for its proof.")
        case e.Gate():
            event = _as_measured(machine, event)
            state, running = projection.state, waiting(projection.state.waits, at)
            tags = owners.tags_at(state.tags)
            confirmed(machine, projection.isolation, state.person, event, running, bool(state.danger), tags=tags)
        case e.MadeSafe():
            _made_safe(projection, event)
        case e.TagFound() | e.TagDown():
            owners.check_tag(machine, projection, event)
        case e.OwnerAbsent():
            return owners.checked_absent(machine, projection, event, at)
        case e.OwnerTold():
            owners.check_told(projection, event)
        case e.Noted() if not event.text:
            raise Refused("There is nothing to note.")
        case e.TakenBack() if event.seq not in projection.open_seqs:
            raise Refused("That cannot be taken back.")
        case e.Closed():
            _closed(machine, projection, event)
    return event


def as_known(projection: Projection, name: str) -> str:
    """The name as this case knows it already; the same letters in another spelling are the same person."""
    owners = (owner for _, owner in projection.state.locks)
    known = (*owners, *(person.name for person in projection.state.people))
    return next((other for other in known if same_name(other, name)), name)


def cleaned(event: e.Event) -> e.Event:
    """Names on one line; notes and reasons keep their lines; nothing in them steers a terminal."""
    words = ((field, value, _plain(event, field, value)) for field, value in event if isinstance(value, str))
    changed = {field: plain for field, value, plain in words if plain != value}
    return event.model_copy(update=changed) if changed else event


def _plain(event: e.Event, field: str, value: str) -> str:
    if field == "said" or isinstance(event, e.Did | e.Prepared):
        return clean(value)
    return clean(value).strip() if field in ("text", "note", "reason", "why") else one_line(value)


def _not_over(projection: Projection, event: e.Event) -> None:
    closed = projection.state.closed
    if not closed or isinstance(event, e.TakenBack):
        return
    if closed == "handed-over" and isinstance(event, e.TookOver | e.Joined | e.Resumed):
        return
    again = " Take it over to go on." if closed == "handed-over" else ""
    raise Refused(f"This case is closed.{again}")


def _known(what: str, id: str, ids: Collection[str]) -> None:
    if id not in ids:
        raise Refused(unknown(what, id, ids)[0] + ".")


def _named(machine: Machine, indication: str, check: str) -> Check | None:
    _known("indication", indication, machine.indications)
    if not check:
        return None
    _known("check", check, machine.checks)
    found = machine.checks[check]
    if indication not in found.gives:
        raise Refused(f"{found.title} does not tell {machine.indications[indication].title}.")
    return found


def _found(machine: Machine, projection: Projection, event: e.Found) -> None:
    check = _named(machine, event.indication, event.check)
    ind = machine.indications[event.indication]
    for state, p in event.seen.items():
        _known(f"state of {ind.title}", state, ind.state_ids)
        if not isfinite(p):
            raise Refused("A weight that is no number.")
    if not any(event.seen.values()):
        raise Refused("No state could look like that.")
    if event.before:
        _by_another(machine, projection, event)
        return
    if event.indication in machine.resets:
        if not any(r.done for r in projection.state.resets if r.id == event.indication):
            raise Refused(f"{machine.resets[event.indication].title}: it was not done in this case.")
        return
    _way_there(machine, projection, event.indication, check)


def _by_another(machine: Machine, projection: Projection, event: e.Found) -> None:
    """What is found inside alone is never an operator's own: another person found it, and is named."""
    person = projection.state.person
    ways = machine.checks_for[event.indication]
    if person.role is not Role.OPERATOR or any(way.access is Access.OUTSIDE for way in ways):
        return
    if same_name(event.before, person.name) or not replace(person, name=event.before).named:
        title = machine.indications[event.indication].title
        raise Refused(f"{title} is found inside. Say who found it: an electrician or an engineer, by name.")


def _way_there(machine: Machine, projection: Projection, indication: str, check: Check | None) -> None:
    """A fact is taken as found now only by a way that is open now.

    What is seen from outside is always taken: in the wrong energy state it carries no evidence, and under a danger sign
    it is offered no more but may have been seen."""
    ways = (check,) if check is not None else machine.checks_for[indication]
    why = ""
    for way in ways:
        if way.access is Access.OUTSIDE:
            if projection.state.person.role in way.who:
                return
            why = why or permitted(machine, projection, way).because
        elif check is None:
            why = f"{way.title} is how this is found, and it is inside."
        else:
            rule = permitted(machine, projection, way)
            if rule.now:
                return
            why = rule.because
    title = machine.indications[indication].title
    raise Refused(f"{title}: {why or 'no check tells it.'} If it was found earlier, enter by whom.")


def _did(machine: Machine, projection: Projection, event: e.Did) -> None:
    if projection.state.danger:
        raise Refused("A danger sign stands. Keep away and call.")
    tree = machine.trees.get(event.tree)
    if tree is None or event.text not in instructions(tree.root):
        raise Refused("No tree gives that instruction.")


def instructions(node: TreeNode | None) -> frozenset[str]:
    """The instructions of a tree, from this node on; other trees that it goes to are not entered."""
    match node:
        case Do(text=text, then=then):
            return instructions(then) | {text}
        case Look(when=when, otherwise=otherwise):
            return frozenset().union(*(instructions(n) for n in when.values()), instructions(otherwise))
        case Go():
            return frozenset()
    return frozenset()


def _reset(machine: Machine, projection: Projection, event: e.ResetDone) -> None:
    _known("reset", event.reset, machine.resets)
    count = next(r for r in projection.state.resets if r.id == event.reset)
    if not count.may:
        raise Refused(count.because)


def _as_measured(machine: Machine, event: e.Gate) -> e.Gate:
    """The confirmation as it is stored: made item by item, and where the meter read a voltage at a test point, that one
    was found."""
    point = machine.test_points.get(event.target)
    live = event.act is Act.TESTED_DEAD and point is not None and at_voltage(point, event.values)
    if event.by_item and not live:
        return event
    return event.model_copy(update={"by_item": True, **({"act": Act.VOLTAGE_FOUND} if live else {})})


def _remedied(machine: Machine, projection: Projection, event: e.Remedied, at: datetime | None) -> None:
    _known("remedy", event.remedy, machine.remedies)
    if not projection.state.person.named:
        raise Refused("A remedy is entered by name, not by a role. Say your name first.")
    if projection.state.remedy:
        raise Refused("Say first whether the last remedy cured it.")
    remedy = machine.remedies[event.remedy]
    if event.done_at is not None:
        _done_later(machine, projection, remedy, event.done_at, at)
        return
    rule = permitted(machine, projection, remedy)
    if not rule.now:
        raise Refused(rule.because)


def _prepared(machine: Machine, projection: Projection, event: e.Prepared) -> None:
    state = projection.state
    if not state.proof_first or event.text != state.proof_first[0]:
        raise Refused("That is not what comes next before the proof.")
    step = next(s for s in proof.first(machine, state.remedy) if s.do == event.text)
    if step.reset:
        raise Refused(f"Enter it as a reset: {machine.resets[step.reset].title}.")
    rule = may_prepare(projection, step)
    if not rule.now:
        raise Refused(rule.because)


def _done_later(
    machine: Machine, projection: Projection, remedy: Remedy, done_at: datetime, at: datetime | None
) -> None:
    """A remedy that is entered later was done when its place was proved dead for whoever enters it."""
    state = projection.state
    if done_at.tzinfo is None or not state.opened <= done_at <= (at or state.last):
        raise Refused("Say when it was done: between the opening of this case and now.")
    if state.danger:
        raise Refused("A danger sign stands. Keep away and call.")
    if state.person.role not in remedy.who:
        raise Refused(permitted(machine, projection, remedy).because)
    if remedy.access is Access.OUTSIDE:
        return
    for time in projection.dead_times:
        mine = time.zone == remedy.zone and time.person == state.person.name
        if mine and time.since <= done_at and (time.until is None or done_at <= time.until):
            return
    zone = machine.zones[remedy.zone].title if remedy.zone in machine.zones else "Its place"
    when = f"{done_at.astimezone():%H:%M}"
    raise Refused(f"{zone} was not proved dead for {state.person.name} at {when}. Who did it enters it, with the time.")


def _made_safe(projection: Projection, event: e.MadeSafe) -> None:
    state = projection.state
    if not state.danger:
        raise Refused("No danger sign stands.")
    if not state.person.named or state.person.role is Role.OPERATOR:
        raise Refused("An electrician or an engineer says by name that it was made safe. Call one.")
    if not event.how:
        raise Refused("Say how it was made safe.")


def _closed(machine: Machine, projection: Projection, event: e.Closed) -> None:
    state = projection.state
    if event.cause and event.cause != UNLISTED:
        _known("cause", event.cause, machine.causes)
    if event.outcome == "handed-over":
        if not event.to:
            raise Refused("Say who takes over.")
        lead = state.lead.name
        at_work = any(same_name(owner, lead) for _, owner in state.locks)
        if at_work and not same_name(lead, state.person.name):
            raise Refused(f"{lead} has the case in hand and locks on. They hand it over, or you take it in hand first.")
        return
    if state.danger:
        raise Refused("A danger sign stands. Hand over, or have it made safe first.")
    if state.tags:
        raise Refused(f"A danger tag names {state.tags[0].person}. Hand over, or have it taken down first.")
    if state.own_locks:
        locks = listed(f"{machine.points[p].title if p in machine.points else p} ({who})" for p, who in state.own_locks)
        raise Refused(f"Locks of this case are on: {locks}. Return to service first, or hand over.")
    if state.own_zones:
        zones = listed(machine.zones[z].title for z in state.own_zones)
        why = _unfinished(machine, projection)
        raise Refused(f"The return to service is not finished: {zones}. {why}Finish it first, or hand over.")
    late = (t for t in projection.isolation.taken if projection.isolation.lockout(t.zone).phase is Phase.NONE)
    if off := sorted(t.what for t in late):
        raise Refused(f"Not said to be back: {listed(off)}. Say it at the gate, or hand over.")
    if event.outcome == "cured":
        _cured(machine, projection, event.cause)


def _unfinished(machine: Machine, projection: Projection) -> str:
    """What is not as it was before the lockout, in one sentence; empty where that says nothing more."""
    isolation = projection.isolation
    for lockout in isolation.lockouts:
        if lockout.phase is Phase.TESTING:
            return f"Power is on for a test in {machine.zones[lockout.zone].title}. "
    if held := [machine.stored[s].title for s in machine.stored if s in isolation.holds]:
        return f"A hold is still in: {listed(held)}. "
    if isolation.turned:
        return "Nobody looked at the direction of rotation. "
    return ""


def _cured(machine: Machine, projection: Projection, cause: str) -> None:
    if not cause:
        raise Refused("Say which cause it was, or that it is not in this file.")
    found = machine.causes.get(cause)
    if found is not None and found.remedy is not None:
        if projection.state.remedy != found.remedy.id:
            raise Refused("Its remedy was not entered as done. Enter it first, or close as running, cause not found.")
        facts = projection.state.proof
    else:
        facts = proof.found(proof.of_cause(machine, found, projection.wrong), projection.proving)
    if found is not None and found.remedy is not None and projection.state.proof_first:
        raise Refused(f"Not proved yet. First: {projection.state.proof_first[0]}")
    if not proof.holds(facts):
        missing = listed(machine.indications[i].title for i, states, state in facts if state not in states)
        raise Refused(f"Not proved yet: {missing or 'nothing that would prove it'}. See it, or close as running.")
