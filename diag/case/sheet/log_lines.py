"""Every entry of a case in words, one line each, for whoever looks at the record itself."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from typing import assert_never

from diag.case.advice.actions import remedy_title
from diag.case.log import events as e
from diag.case.log.stored import event_of
from diag.case.phrases import named, plain
from diag.case.sheet.others_words import taken_back_words
from diag.case.sheet.owner_words import entered_words, repaired_words
from diag.case.sheet.what_was_done import ACTS
from diag.machine.assets import shown_name
from diag.machine.model import Machine
from diag.record.entry import Entry, Stamp
from diag.text import one_line


def log_lines(entries: tuple[Entry, ...], machine: Machine | None = None) -> Iterator[str]:
    """Number, time with its offset, person, role and terminal, and what was entered. A machine gives its titles;
    without one the names of its file stand in their place."""
    before: datetime | None = None
    events: dict[tuple[str, int], e.Event] = {}
    for entry in entries:
        late = ""
        if before is not None and (back := before - entry.at) > timedelta(seconds=2):
            late = f" [its time is {_span(back)} before the one above]"
        before = entry.at
        found = event_of(entry)
        what = found.why if isinstance(found, e.Unreadable) else in_words(found.event, machine)
        if isinstance(found, e.Stamped):
            events[entry.case, entry.seq] = found.event
            if isinstance(found.event, e.TakenBack):
                taken = taken_back_words(events.get((entry.case, found.event.seq)), machine)
                what = f"{taken} (entry {found.event.seq})." if taken else what
        if isinstance(found, e.Stamped) and found.advice is not None:
            what += f" {_advice(found.advice, machine)}"
        yield f"{entry.seq:>4}  {_when(entry)}  " + one_line(f"{_who(entry.who, entry.stamp)}: {what}{late}")


def in_words(event: e.Event, machine: Machine | None = None) -> str:
    """One event as a sentence."""
    match event:
        case e.Opened():
            title = shown_name(event.machine) if machine is None else one_line(machine.name)
            return f"opened the case of {title}, file {event.revision[:16]}."
        case e.TookOver() | e.Joined():
            may = [word for word, so in (("authorised", event.authorised), ("qualified", event.qualified)) if so]
            came = "joined" if isinstance(event, e.Joined) else "took over"
            return f"{event.person} {came} as {', '.join([event.role.value, *may])}."
        case e.Resumed():
            return "opened the case again."
        case e.Found():
            seen = ", ".join(f"{plain(state)} {share:.2g}" for state, share in event.seen.items())
            seen = plain(next(iter(event.seen))) if list(event.seen.values()) == [1.0] else seen
            said = f', said as "{event.said}"' if event.said else ""
            check = f", by the check {_title(machine, event.check)}" if event.check else ""
            earlier = f", before this case, by {event.before}" if event.before else ""
            return f"found {_title(machine, event.indication)}: {seen}{said}{check}{earlier}."
        case e.CannotTell():
            return f"could not tell {_title(machine, event.indication)}."
        case e.Skipped():
            return f"set aside {_action(machine, event.action)}{_because(event.why)}."
        case e.Did():
            return f"did: {event.text}"
        case e.ResetDone():
            return f"did the reset: {_title(machine, event.reset)}."
        case e.Remedied():
            at = f", at {event.done_at:%Y-%m-%d %H:%M %z}, under lock" if event.done_at else ""
            return f"remedy done{at}: {_action(machine, event.remedy)}."
        case e.Prepared():
            return f"did before the proof: {event.text}"
        case e.RemedyFailed():
            return f"the remedy did not cure: {_action(machine, event.remedy)}."
        case e.Gate():
            act = ACTS.get(event.act, event.act.value.replace("-", " "))
            target = f", {_title(machine, event.target)}" if event.target else ""
            permit = f", permit {event.permit}" if event.permit else ""
            read = "".join(f", {pair} {volts:g} V" for pair, volts in event.values.items())
            return f"at the gate of {_title(machine, event.zone)}: {act}{target}{read}{_because(event.reason)}{permit}."
        case e.MadeSafe():
            return f"made it safe: {event.how}"
        case e.TagFound() | e.TagDown() | e.OwnerAbsent() | e.OwnerTold():
            return entered_words(event, machine)
        case e.ListsRepaired():
            return repaired_words(event)
        case e.Called():
            return f"called the {event.role.value}."
        case e.Noted():
            return f"noted: {event.text}"
        case e.TakenBack():
            return f"took back entry {event.seq}."
        case e.Closed():
            cause = f", cause {_title(machine, event.cause)}" if event.cause else ""
            to = f" to {event.to}" if event.to else ""
            note = f" {event.note}" if event.note else ""
            return f"ended it: {event.outcome.replace('-', ' ')}{cause}{to}.{note}"
        case _:
            assert_never(event)


def _advice(advice: e.Advised, machine: Machine | None) -> str:
    ranked = sorted(advice.causes.items(), key=lambda one: -one[1])
    causes = [f"{_title(machine, cause)} {percent:.1f} %" for cause, percent in ranked]
    listed = ", ".join([*causes, f"not in the file {advice.unlisted:.1f} %"])
    kind, _, id = advice.next.partition(" ")
    next = f"{kind} {_action(machine, id)}".strip() or "nothing"
    return f"[Advised: {listed}; next {next}; followed {advice.taken} of {advice.of} times.]"


def _when(entry: Entry) -> str:
    """The time on the clock of the terminal where it was entered, with its distance from UTC."""
    ahead = entry.stamp.offset
    zone = None if ahead is None or abs(ahead) >= 24 * 60 else timezone(timedelta(minutes=ahead))
    return entry.at.astimezone(zone).strftime("%Y-%m-%d %H:%M:%S %z")


def _who(who: str, stamp: Stamp) -> str:
    role = ", ".join(filter(None, (stamp.role, *stamp.confirmed)))
    place = " ".join(filter(None, (stamp.account and f"{stamp.account} on", stamp.host, stamp.terminal)))
    return f"{who or 'nobody'}{f' ({role})' if role else ''}{f' [{place}]' if place else ''}"


def _because(why: str) -> str:
    return f", because {why}" if why else ""


def _title(machine: Machine | None, id: str) -> str:
    if machine is None or not id:
        return id
    return named(machine, id)


def _action(machine: Machine | None, id: str) -> str:
    """What is called as a remedy, where it is one; it may have the name of its cause."""
    remedy = None if machine is None else machine.remedies.get(id)
    return _title(machine, id) if machine is None or remedy is None else remedy_title(machine, remedy).rstrip(".")


def _span(back: timedelta) -> str:
    seconds = int(back.total_seconds())
    return f"{seconds} s" if seconds < 600 else f"{seconds // 60} min"
