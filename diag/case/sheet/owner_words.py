"""Danger tags, and what was taken off while its owner was absent, as sentences: what was entered, and what stands."""

from __future__ import annotations

from collections.abc import Iterator

from diag.case.log import events as e
from diag.case.log.owners import place
from diag.case.phrases import listed
from diag.case.snapshot import CaseState
from diag.machine.model import Machine


def entered_words(event: e.TagFound | e.TagDown | e.OwnerAbsent | e.OwnerTold, machine: Machine | None = None) -> str:
    """What was entered, as a sentence. Without a machine its names stand for its titles."""
    match event:
        case e.TagFound():
            at = _title(machine, event.point) or event.where
            says = f', which says "{event.says}"' if event.says else ""
            return f"found a danger tag at {at}, naming {event.person}{says}."
        case e.TagDown():
            return f"took down the danger tag{_at(machine, event.point)} that named {event.person}: {event.how}"
        case e.OwnerAbsent():
            return "; ".join(_absent(event, machine)) + "."
        case e.OwnerTold():
            return f"{event.owner} knows what was taken off: {event.how}"


def repaired_words(event: e.ListsRepaired) -> str:
    """What a repair of the machine's lists came to."""
    rows = f"{event.changed} {'row' if event.changed == 1 else 'rows'}"
    words = f"repaired the casebook's lists of the machine, {rows}. No zone counts as proved."
    if event.lost:
        words += " Entries are lost, and count as the worst that they can have been."
    return words


def _absent(event: e.OwnerAbsent, machine: Machine | None) -> Iterator[str]:
    """What was taken off, and each answer that the employer's procedure asks for, in its order."""
    locks = [f"lock at {_title(machine, p)}" for p in event.locks]
    tags = [f"danger tag{_at(machine, p)}" for p in event.tags]
    may = [word for word, so in (("authorised", event.authorised), ("qualified", event.qualified)) if so]
    yield f"taken off while {event.owner} was absent: {listed([*locks, *tags])}"
    yield f"directed for the employer by {event.directed_by}"
    yield f"not on site: {event.off_site.rstrip('.')}"
    yield f"tried to be reached: {event.tried.rstrip('.')}"
    yield f"taken off by {event.removed_by}{f' ({listed(may)})' if may else ''}"
    yield f"area checked, everybody clear: {event.checked.rstrip('.')}"


def standing_words(state: CaseState, machine: Machine) -> Iterator[str]:
    """The danger tags that stand, and who is to be told, a sentence for each."""
    for tag in state.tags:
        says = f', says "{tag.says}"' if tag.says else ""
        yield (
            f"DANGER TAG: {place(machine, tag.point, tag.where)}, names {tag.person}{says}; found by {tag.by}."
            f" Only {tag.person} takes it down."
        )
    for one in state.to_be_told:
        at = listed(place(machine, p) for p in dict.fromkeys((*one.locks, *one.tags)))
        yield (
            f"TO BE TOLD: {one.owner}, before any work here. Taken off in absence at {at} by {one.removed_by},"
            f" directed by {one.directed_by}, {one.at.astimezone():%Y-%m-%d %H:%M}."
        )


def _title(machine: Machine | None, point: str) -> str:
    return machine.points[point].title if machine is not None and point in machine.points else point


def _at(machine: Machine | None, point: str) -> str:
    return f" at {_title(machine, point)}" if point else ""
