"""What was done in a case, as sentences for a sheet: from the entries themselves, those that were not taken back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from diag.case import events as e
from diag.case.actions import causes_named, remedy_title
from diag.case.tallies import undoable
from diag.case.words import one_line, title_of
from diag.safety import Act

if TYPE_CHECKING:
    from diag.case.case import Case

ACTS = {
    Act.TOLD: "people told",
    Act.OFF_AND_LOCKED: "off, and own lock on",
    Act.RELEASED: "stored energy released",
    Act.START_TRIED: "start tried, nothing moved",
    Act.TESTED_DEAD: "tested dead",
    Act.VOLTAGE_FOUND: "VOLTAGE FOUND",
    Act.METER_FAILED: "METER NOT PROVED",
    Act.MOVED: "IT MOVED",
    Act.CLEAR: "people clear",
    Act.LOCKS_OFF: "own locks off",
    Act.TOLD_BACK: "people told that power comes back",
    Act.BACK: "way back started",
    Act.TEST_POWER: "power wanted for a test",
    Act.RETRACT: "last confirmation taken back",
    Act.LIVE: "live work begun",
    Act.LIVE_OVER: "live work over, closed again",
}


def done(case: Case) -> tuple[str, ...]:
    lines = []
    for stamped in entered(case):
        at = f"{time(case, stamped.at)}, {stamped.by}: "
        match stamped.event:
            case e.Did(text=text):
                lines.append(at + text)
            case e.Remedied(remedy=remedy):
                lines.append(f"{at}remedy done. {remedied(case, remedy)}.")
            case e.RemedyFailed(remedy=remedy):
                lines.append(f"{at}it did not cure. {remedied(case, remedy)}.")
            case e.Called(role=role):
                lines.append(f"{at}called the {role.value}.")
            case e.Gate() as gate:
                lines.append(at + _confirmed(case, gate))
            case e.TookOver(role=role) if stamped.seq > 2:
                lines.append(f"{at}took over as {role.value}.")
    return tuple(lines)


def _confirmed(case: Case, gate: e.Gate) -> str:
    """A confirmation at a gate, in words."""
    machine, id = case.machine, gate.target
    named = machine.points.get(id) or machine.stored.get(id) or machine.test_points.get(id)
    target = f", {named.title if named else id}" if id else ""
    why = "".join(f"; {text}" for text in (gate.reason, gate.permit) if text)
    return f"{zone_of(case, gate.zone)}: {ACTS.get(gate.act, gate.act.value.replace('-', ' '))}{target}{why}."


def zone_of(case: Case, id: str) -> str:
    zone = case.machine.zones.get(id)
    return zone.title if zone else id


def resets(case: Case) -> tuple[str, ...]:
    state = case.state
    lines = [f"{r.title}: {r.done} done. The limit in all is {r.limit}. {r.because}" for r in state.resets]
    for stamped in entered(case):
        if isinstance(stamped.event, e.ResetDone):
            lines.append(f"{time(case, stamped.at)}, {stamped.by}: {title_of(case.machine, stamped.event.reset)}")
    outcomes = (f for f in state.facts if f.indication in case.machine.resets)
    lines += [f"Outcome {time(case, f.at)}: {f.title} {f.state}." for f in outcomes]
    taken = sum(isinstance(s.event, e.ResetDone) for s in _taken_back(case))
    if taken:
        lines.append(f"Resets entered and taken back: {taken}.")
    return tuple(lines) or ("This machine file knows no reset.",)


def open_ends(case: Case) -> tuple[str, ...]:
    machine = case.machine
    untold = [f"Could not be told: {title_of(machine, i)}" for i in case.state.cannot_tell]
    aside = []
    for stamped in entered(case):
        if isinstance(stamped.event, e.Skipped):
            id = stamped.event.action
            title = machine.checks[id].title if id in machine.checks else remedy_of(case, id)
            aside.append(f"Set aside: {title}" + (f", because: {stamped.event.why}" if stamped.event.why else ""))
    return (*untold, *aside)


def remedy_of(case: Case, id: str) -> str:
    remedy = case.machine.remedies.get(id)
    return id if remedy is None else remedy_title(case.machine, remedy).rstrip(".")


def remedied(case: Case, id: str) -> str:
    """A remedy that was done: what was done, in its own words, and for which cause. Only of what is done, as inside
    work is told no other way before its gate."""
    machine, remedy = case.machine, case.machine.remedies.get(id)
    if remedy is None:
        return id
    return f"{one_line(remedy.do).rstrip('.')} (for: {causes_named(machine, remedy)})"


def ending(case: Case) -> str:
    for stamped in reversed(list(entered(case))):
        if isinstance(stamped.event, e.Closed) and case.state.closed:
            closed = stamped.event
            cause = case.machine.causes.get(closed.cause)
            what = f" Cause: {cause.title if cause else closed.cause}." if closed.cause else ""
            return what + (f" To {closed.to}." if closed.to else "") + (f" {closed.note}" if closed.note else "")
    return ""


def entered(case: Case) -> Iterable[e.Stamped]:
    """What was entered and not taken back, in order."""
    gone = _gone(case)
    return (s for s in _stamped(case) if s.seq not in gone)


def _taken_back(case: Case) -> Iterable[e.Stamped]:
    gone = _gone(case)
    return (s for s in _stamped(case) if s.seq in gone)


def _gone(case: Case) -> frozenset[int]:
    named = {s.event.seq for s in _stamped(case) if isinstance(s.event, e.TakenBack)}
    return frozenset(s.seq for s in _stamped(case) if s.seq in named and undoable(s.event))


def _stamped(case: Case) -> Iterable[e.Stamped]:
    return (entry for entry in case.entries if isinstance(entry, e.Stamped))


def day(at: datetime) -> str:
    """On this computer's own clock, with its distance from UTC, since a sheet may travel."""
    return at.astimezone().strftime("%Y-%m-%d %H:%M %z")


def time(case: Case, at: datetime) -> str:
    """The time of day, with the date where it is not the day on which the case was opened."""
    local, opened = at.astimezone(), case.state.opened.astimezone()
    return local.strftime("%H:%M" if local.date() == opened.date() else "%Y-%m-%d %H:%M")
