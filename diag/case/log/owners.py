"""Danger tags, and locks and tags whose owner is absent: what of them may be entered, and how lists name them.

The employer's procedure for an absent owner is entered here and never granted: its direction, that the owner is
verified not to be on site, how they were tried to be reached (29 CFR 1910.147(e)(3)), and a person designated for it,
qualified where the point is electrical (1910.333(b)(2)(v)(C)). The owner has to know before they work here again.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta

from diag.case.log import events as e
from diag.case.log.projection import Projection
from diag.case.phrases import listed
from diag.case.snapshot import CaseState, DangerTag, Entered, ToBeTold
from diag.machine.model import Machine, Role
from diag.safety import Person, Refused
from diag.safety.types import folded, same_name
from diag.safety.zone import PAST_DANGER

TAG, TOLD = "danger-tag", "to-be-told"
"""What stands before an isolation point in a casebook's list of what stands there in somebody's name, where that is no
lock: a danger tag, and that its owner is to be told of one that was taken off. A point's name has no space in it."""
ELSEWHERE = "elsewhere"
"""Stands there for a tag that hangs on no isolation point."""
PRESENT = timedelta(minutes=30)
"""Whoever entered something at the machine less than this ago is not absent. Common practice: ask first whoever was
here just now. No standard gives minutes."""
SAID = 2
"""Letters that an answer has at least which says how something was done; a cross or a dash says nothing."""
MUST = {
    "directed_by": "Say who directs it for the employer, by name.",
    "off_site": "Say how it was verified that the owner is not on site.",
    "tried": "Say how the owner was tried to be reached.",
    "removed_by": "Say who takes it off, by name.",
    "checked": "Say who checked the area and saw that everybody is clear.",
}
"""What the procedure asks for, in its order, and what is said where it is missing."""


def listed_as(tags: Iterable[DangerTag], to_be_told: Iterable[ToBeTold]) -> Iterator[tuple[str, str]]:
    """What a casebook's list holds of these: a word with the isolation point, and the person."""
    for tag in tags:
        yield f"{TAG} {tag.point or ELSEWHERE}", tag.person
    for one in to_be_told:
        for point in dict.fromkeys((*one.locks, *one.tags)):
            yield f"{TOLD} {point or ELSEWHERE}", one.owner


def read_listed(what: str) -> tuple[str, str]:
    """A word of that list apart: empty, `TAG` or `TOLD`, and the isolation point, empty for elsewhere."""
    word, parted, point = what.partition(" ")
    return (word, "" if point == ELSEWHERE else point) if parted else ("", what)


def tags_at(tags: Iterable[DangerTag]) -> Mapping[str, str]:
    """Isolation point to the name on its tag, the oldest tag first."""
    found: dict[str, str] = {}
    for tag in tags:
        found.setdefault(tag.point, tag.person)
    return found


def without(tags: Iterable[DangerTag], person: str, points: Iterable[str]) -> tuple[DangerTag, ...]:
    """The tags, without those at these points that name this person."""
    points = tuple(points)
    return tuple(tag for tag in tags if not (tag.point in points and same_name(tag.person, person)))


def place(machine: Machine, point: str, where: str = "") -> str:
    """Where a tag hangs or a lock was, in words."""
    return machine.points[point].title if point in machine.points else where or "the machine"


# ---------------------------------------------------------------- what may be entered


def check_tag(machine: Machine, projection: Projection, event: e.TagFound | e.TagDown) -> None:
    """Raises `Refused`. Anybody may say that a tag hangs there; only the person named on it that it is down."""
    tags = [tag for tag in projection.state.tags if tag.point == event.point and same_name(tag.person, event.person)]
    if isinstance(event, e.TagFound):
        if event.point and event.point not in machine.points:
            raise Refused(f"There is no isolation point {event.point!r}.")
        if not event.person:
            raise Refused("Say which name is on the tag, or that it cannot be read.")
        if not event.point and not event.where:
            raise Refused("Say where the tag hangs.")
        if tags:
            raise Refused("That tag is entered already.")
        return
    person = projection.state.person
    if not tags:
        raise Refused("No such danger tag stands.")
    if not person.named or not same_name(person.name, event.person):
        raise Refused(f"Only {event.person} takes that tag down. For somebody absent the employer has a procedure.")
    if not event.how:
        raise Refused("Say what you saw, so that it may come down.")


class WrongAnswer(Refused):
    """Refused for one of the procedure's answers; `field`: its key in `MUST`."""

    def __init__(self, field: str, why: str) -> None:
        super().__init__(why)
        self.field = field


def at_work(state: CaseState, owner: str, at: datetime) -> Entered | None:
    """The latest entry of an owner who is at work here, and so not absent; None where they entered nothing lately."""
    return next((one for one in state.entered if same_name(one.person, owner) and at - one.at < PRESENT), None)


def check_away(state: CaseState, owner: str, at: datetime) -> None:
    """Raises `Refused` where this owner entered something at the machine a short while ago."""
    if one := at_work(state, owner, at):
        raise Refused(f"{one.person} entered something here at {one.at.astimezone():%H:%M}. Reach them first.")


def checked_absent(
    machine: Machine, projection: Projection, event: e.OwnerAbsent, at: datetime | None = None
) -> e.OwnerAbsent:
    """The event with what whoever takes it off has said of themselves. `at`: when it is entered; without it, at the
    time of the latest entry. Raises `Refused`, and `WrongAnswer` where it is for one of the answers."""
    state = projection.state
    if state.danger:
        raise Refused("A danger sign stands. Keep away and call.")
    check_may_enter(state.person)
    if same_name(state.person.name, event.owner):
        raise Refused("It is your own. Take it off yourself, as the lockout says.")
    if not event.locks and not event.tags:
        raise Refused("Say which lock or tag it is.")
    if len({*event.locks}) < len(event.locks) or any((p, event.owner) not in state.locks for p in event.locks):
        raise Refused(f"No such lock of {event.owner} is on.")
    if any(len(without(state.tags, event.owner, (p,))) == len(state.tags) for p in event.tags):
        raise Refused(f"No such danger tag of {event.owner} stands.")
    check_away(state, event.owner, at or state.last)
    _check_answers(event)
    remover = _remover(projection, event.removed_by)
    points = [machine.points[p] for p in (*event.locks, *event.tags) if p in machine.points]
    electrical = [p.title for p in points if p.electrical]
    if electrical and not remover.qualified:
        why = f"{listed(electrical)}: it takes a person who is qualified to work near live parts."
        raise WrongAnswer("removed_by", why)
    said = {"authorised": remover.authorised, "qualified": remover.qualified}
    return event.model_copy(update={"removed_by": remover.name, **said})


def _check_answers(event: e.OwnerAbsent) -> None:
    """Raises `WrongAnswer` at the first answer that is missing, says nothing, or names the wrong person."""
    for field, why in MUST.items():
        if not getattr(event, field):
            raise WrongAnswer(field, why)
    for field in ("off_site", "tried"):
        if sum(letter.isalpha() for letter in getattr(event, field)) < SAID:
            raise WrongAnswer(field, f"{MUST[field]} That is too short to tell.")
    for field, what in (("directed_by", "The employer's direction"), ("removed_by", "Who takes it off")):
        if not Person(getattr(event, field), Role.OPERATOR).named or same_name(getattr(event, field), event.owner):
            raise WrongAnswer(field, f"{what} is somebody else's, by a name of their own.")
    if same_name(event.directed_by, event.removed_by):
        raise WrongAnswer("directed_by", "Who directs it for the employer and who takes it off are two people.")
    if _names(event.checked, event.owner):
        why = f"Whoever is absent saw nothing clear: say who did, and leave {event.owner} out."
        raise WrongAnswer("checked", why)


def _names(text: str, owner: str) -> bool:
    """Whether a text names this person: the whole name within it, or one word of the name as all of it."""
    said, name = (re.findall(r"[^\W_]+", folded(words)) for words in (text, owner))
    whole = any(said[n : n + len(name)] == name for n in range(len(said)))
    return bool(name) and (whole or (len(said) == 1 and said[0] in name))


def check_may_enter(person: Person) -> None:
    """Raises `Refused` where this person may not enter what the employer's procedure came to."""
    if person.role is Role.OPERATOR or not person.named:
        raise Refused("An electrician or an engineer enters this, by a name of their own. Call one.")
    if not person.authorised:
        raise Refused("It takes a person who is authorised to lock out. Call one.")


def _remover(projection: Projection, name: str) -> Person:
    """Whoever takes it off: at the keys now, or with their own word in this case."""
    state = projection.state
    known = (state.person, *reversed(state.people))
    found = next((one for one in known if same_name(one.name, name)), None)
    if found is None:
        why = f"{name} has not said here what they may do. They sit down at this case first."
        raise WrongAnswer("removed_by", why)
    if found.role is Role.OPERATOR or not found.authorised:
        raise WrongAnswer("removed_by", f"{found.name} has not said here that they are authorised to lock out.")
    return found


def check_told(projection: Projection, event: e.OwnerTold) -> None:
    """Raises `Refused`."""
    state = projection.state
    if not any(same_name(one.owner, event.owner) for one in state.to_be_told):
        raise Refused(f"Nothing of {event.owner} was taken off that they do not know of.")
    if not state.person.named:
        raise Refused("Say your name first.")
    if not event.how:
        raise Refused("Say how they were told, and by whom.")


def check_told_first(machine: Machine, projection: Projection, event: e.Event) -> None:
    """Raises `Refused` where somebody would work here who does not know yet that a lock of theirs was taken off."""
    work = isinstance(event, e.Remedied | e.ResetDone | e.OwnerAbsent)
    if not work and not (isinstance(event, e.Gate) and event.act not in PAST_DANGER):
        return
    person = projection.state.person
    for one in projection.state.to_be_told:
        if same_name(one.owner, person.name):
            raise Refused(f"{taken_off(machine, one)} Say first that you know it.")


def taken_off(machine: Machine, one: ToBeTold, whose: str = "your", *, as_absent: bool = False) -> str:
    """What was taken off, when and by whom; for its owner, or with `whose` for somebody else. `as_absent`: it says that
    the owner was entered as absent."""
    locks = [f"{whose} lock at {place(machine, p)}" for p in one.locks]
    tags = [f"{whose} danger tag at {place(machine, p)}" for p in one.tags]
    what = listed([*locks, *tags])
    were = "were" if len(locks) + len(tags) > 1 else "was"
    when = f"{one.at.astimezone():%Y-%m-%d %H:%M}"
    by = f" by {one.removed_by}, for {one.directed_by}" if one.removed_by else ""
    return f"{what[:1].upper()}{what[1:]} {were} taken off{' as absent' if as_absent else ''} on {when}{by}."
