"""What was done in a case, as sentences for a sheet, from the entries that were not taken back."""

from __future__ import annotations

from datetime import datetime
from typing import assert_never

from diag.case.advice.actions import causes_named, remedy_title
from diag.case.case import Case
from diag.case.log import events as e
from diag.case.phrases import named, plain, title_of
from diag.case.sheet.owner_words import entered_words, repaired_words
from diag.safety import Act
from diag.text import one_line

ACTS = {
    Act.TOLD: "people told",
    Act.OFF_AND_LOCKED: "off, and lock on",
    Act.RELEASED: "stored energy released",
    Act.START_TRIED: "start tried, nothing moved",
    Act.TESTED_DEAD: "tested dead",
    Act.VOLTAGE_FOUND: "VOLTAGE FOUND",
    Act.METER_FAILED: "METER NOT PROVED",
    Act.MOVED: "IT MOVED",
    Act.CLEAR: "people clear",
    Act.BEFORE_OFF: "done by the controls before the power went",
    Act.WAIT_BEGUN: "the wait begins",
    Act.WORK_SAID: "said that all that was done inside is entered",
    Act.PUT_BACK: "back as marked",
    Act.HOLD_OUT: "hold out",
    Act.EARTHS_OUT: "no earth and no short left in",
    Act.CONTROLS_OFF: "controls off or neutral",
    Act.LAST_LOOK: "a last look, everybody clear",
    Act.ROTATION: "direction of rotation looked at, right",
    Act.LOCKS_OFF: "lock off",
    Act.TOLD_BACK: "people told that the power is coming back",
    Act.BACK: "return to service begun",
    Act.TEST_POWER: "power wanted for a test",
    Act.RETRACT: "last confirmation taken back",
    Act.LIVE: "live work begun",
    Act.LIVE_OVER: "live work over, closed again",
}


def done(case: Case) -> tuple[str, ...]:
    """What was done at the machine, and who took over. Facts, resets, notes and the end have places of their own."""
    lines = []
    for stamped in entered(case):
        at = f"{time(case, stamped.at)}, {stamped.by}: "
        match stamped.event:
            case e.Did(text=text):
                lines.append(at + text)
            case e.Remedied(remedy=remedy, done_at=None):
                lines.append(f"{at}remedy carried out: {remedied(case, remedy)}.")
            case e.Remedied(remedy=remedy, done_at=done_at):
                when = time(case, done_at or stamped.at)
                lines.append(f"{at}remedy entered later, carried out at {when} under lock: {remedied(case, remedy)}.")
            case e.Prepared(text=text):
                lines.append(f"{at}before the proof: {text.rstrip('.')}.")
            case e.RemedyFailed(remedy=remedy):
                lines.append(f"{at}the remedy did not cure it: {remedied(case, remedy)}.")
            case e.Called(role=role):
                lines.append(f"{at}called the {role.value}.")
            case e.Gate() as gate:
                lines.append(at + _confirmed(case, gate))
            case e.MadeSafe(how=how):
                lines.append(f"{at}made safe. {how}")
            case e.TagFound() | e.TagDown() | e.OwnerAbsent() | e.OwnerTold():
                lines.append(at + entered_words(stamped.event, case.machine))
            case e.ListsRepaired():
                lines.append(at + repaired_words(stamped.event))
            case e.TookOver(role=role) if stamped.seq > 2:
                lines.append(f"{at}took over as {role.value}.")
            case e.Joined(role=role):
                lines.append(f"{at}joined as {role.value}.")
            case e.Opened() | e.TookOver() | e.Resumed() | e.TakenBack() | e.Closed():
                pass
            case e.Found() | e.CannotTell() | e.Skipped() | e.ResetDone() | e.Noted():
                pass
            case _:
                assert_never(stamped.event)
    return tuple(lines)


def _confirmed(case: Case, gate: e.Gate) -> str:
    """A confirmation at a gate, in words."""
    machine, id = case.machine, gate.target
    target = f", {named(machine, id)}" if id else ""
    target += "".join(f"; {pair} {volts:g} V" for pair, volts in gate.values.items())
    why = "".join(f"; {text}" for text in (gate.reason, gate.permit) if text)
    return f"{zone_of(case, gate.zone)}: {ACTS.get(gate.act, gate.act.value.replace('-', ' '))}{target}{why}."


def zone_of(case: Case, id: str) -> str:
    zone = case.machine.zones.get(id)
    return zone.title if zone else id


def resets(case: Case) -> tuple[str, ...]:
    state = case.state
    lines = [f"{r.title}: {r.done} done, of at most {r.limit} in all. {r.because}" for r in state.resets]
    for stamped in entered(case):
        if isinstance(stamped.event, e.ResetDone):
            lines.append(f"{time(case, stamped.at)}, {stamped.by}: {title_of(case.machine, stamped.event.reset)}")
    outcomes = (f for f in state.facts if f.indication in case.machine.resets)
    lines += [f"Outcome at {time(case, f.at)}: {f.title} {plain(f.state)}." for f in outcomes]
    for stamped in entered(case, taken_back=True):
        if isinstance(stamped.event, e.ResetDone):
            reset = title_of(case.machine, stamped.event.reset)
            lines.append(f"{time(case, stamped.at)}: {reset}, said by mistake, {stamped.by}. It stays in the count.")
    return tuple(lines) or ("This machine file has no reset.",)


def open_ends(case: Case) -> tuple[str, ...]:
    machine = case.machine
    lines = [f"Could not be told: {title_of(machine, i)}" for i in case.state.cannot_tell]
    for stamped in entered(case):
        if isinstance(stamped.event, e.Skipped):
            id, why = stamped.event.action, stamped.event.why
            remedy = machine.remedies.get(id)
            title = named(machine, id)
            title = title if remedy is None else remedy_title(machine, remedy).rstrip(".")
            lines.append(f"Set aside: {title}" + (f", because: {why}" if why else ""))
    return tuple(lines)


def remedied(case: Case, id: str) -> str:
    """A remedy that was carried out, in its own words, and for which cause. It is told of no other remedy, as work
    inside is told no other way before its gate."""
    machine, remedy = case.machine, case.machine.remedies.get(id)
    return id if remedy is None else f"{one_line(remedy.do).rstrip('.')} (for: {causes_named(machine, remedy)})"


def ending(case: Case) -> str:
    """To whom the case went, or what the cause was, with the note; empty while it is open."""
    closed = next((s.event for s in reversed(entered(case)) if isinstance(s.event, e.Closed)), None)
    if closed is None or not case.state.closed:
        return ""
    cause = case.machine.causes.get(closed.cause)
    what = f" Cause: {cause.title if cause else closed.cause}." if closed.cause else ""
    return what + (f" To {closed.to}." if closed.to else "") + (f" {closed.note}" if closed.note else "")


def entered(case: Case, taken_back: bool = False) -> tuple[e.Stamped, ...]:
    """What was entered and not taken back, in order; or what was taken back."""
    stamped = [entry for entry in case.entries if isinstance(entry, e.Stamped)]
    named = {s.event.seq for s in stamped if isinstance(s.event, e.TakenBack)}
    return tuple(s for s in stamped if (s.seq in named and isinstance(s.event, e.Undoable)) is taken_back)


def day(at: datetime) -> str:
    """Day and time by this computer's clock, with its distance from UTC, since a sheet may travel."""
    return at.astimezone().strftime("%Y-%m-%d %H:%M %z")


def time(case: Case, at: datetime) -> str:
    """The time of day, with the date where it is not the day on which the case was opened."""
    local, opened = at.astimezone(), case.state.opened.astimezone()
    return local.strftime("%H:%M" if local.date() == opened.date() else "%Y-%m-%d %H:%M")
