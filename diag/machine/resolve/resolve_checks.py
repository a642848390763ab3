"""Checks: those written in `checks.yaml`, and the implied look or question for every other indication."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from diag.machine.isolation import TakenOff
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.cause_fields import RemedySource
from diag.machine.language.fields.check_fields import CheckSource
from diag.machine.language.fields.sections import Sections
from diag.machine.language.validate import Entry
from diag.machine.model import Access, Check, Energy, Indication, Kind, Role
from diag.machine.names import Named
from diag.machine.problem import Broken, shown
from diag.machine.resolve.scope import Scope

_CHECK, _SECTION = names(CheckSource), names(Sections)

EVERYONE: Final = tuple(Role)
SKILLED: Final = (Role.ELECTRICIAN, Role.ENGINEER)
LOOK_MINUTES: Final = 0.2
ASK_MINUTES: Final = 0.5


def who_may(source: CheckSource | RemedySource) -> tuple[Role, ...]:
    """The roles for an action: as written, else everyone outside and the skilled inside."""
    if source.who is None:
        return EVERYONE if source.access is Access.OUTSIDE else SKILLED
    return tuple(dict.fromkeys(source.who))


def zone_of(scope: Scope, entry: Entry[CheckSource] | Entry[RemedySource]) -> str:
    """The zone of an action. Work inside needs one: it says what must be locked."""
    access, zone = entry.source.access, entry.source.zone
    if zone is not None:
        return scope.one_of(entry.place(_CHECK.zone), Named.ZONE, zone, scope.found.maps[_SECTION.zones]) or ""
    if access is not Access.OUTSIDE:
        text = f"'zone' is missing; access {access} needs one, which says what must be locked"
        scope.report(entry.place(_CHECK.access), text, Broken.ZONE)
    return ""


def taken_off(scope: Scope, entry: Entry[RemedySource] | Entry[CheckSource]) -> tuple[TakenOff, ...]:
    """What it takes off or puts on, which goes back by name; so it is work behind a lockout."""
    source = entry.source
    found = (
        *(TakenOff(what=what, phases=source.phases_off) for what in source.takes_off),
        *(TakenOff(what=what, earth=True) for what in source.earths),
    )
    if source.access is Access.DEAD:
        if source.phases_off and not source.takes_off:
            text = f"{shown(_CHECK.phases_off)} without {shown(_CHECK.takes_off)}; name what is disconnected"
            scope.report(entry.key_place(_CHECK.phases_off), text, Broken.ZONE)
        return found
    for field in (_CHECK.takes_off, _CHECK.earths, _CHECK.phases_off):
        if field in entry.keys:
            text = f"{shown(field)} needs access dead: it is put back on the return from a lockout"
            scope.report(entry.key_place(field), text, Broken.ZONE)
    return ()


def resolve_checks(scope: Scope, resets: Collection[str]) -> dict[str, Check]:
    """The written checks in file order, then the implied ones.

    A reset's own indication gets no check: its answer comes from a reset that was done.
    """
    written = scope.found.maps[_SECTION.checks]
    found = {}
    given: set[str] = set(resets)
    for entry in scope.entries(CheckSource, _SECTION.checks):
        found[entry.id] = _check(scope, entry)
        given.update(found[entry.id].gives)
        for i, name in enumerate(entry.source.gives):
            if name in resets:
                text = f"{shown(name)} is the outcome of a reset; a check cannot give it"
                scope.report(entry.place(_CHECK.gives, i), text, Broken.KIND)
    for indication in scope.indications.values():
        if indication.id in given:
            continue
        check = _implied(indication, scope.questions.get(indication.id, indication.title))
        if check.id in written:
            text = f"{shown(check.id)} is the name of the look at {shown(indication.id)}; choose another"
            scope.report(written[check.id].key_place(), text, Broken.CLASH)
        found[check.id] = check
    return found


def _check(scope: Scope, entry: Entry[CheckSource]) -> Check:
    source = entry.source
    ids = scope.expand_all(entry, _CHECK.gives, source.gives)
    indications = [scope.indications[id] for id in ids]
    return Check(
        id=entry.id,
        title=source.title or _title(indications),
        gives=ids,
        do=source.do,
        minutes=source.minutes,
        access=source.access,
        who=who_may(source),
        tool=source.with_,
        where=source.where,
        zone=zone_of(scope, entry),
        needs=dict(scope.when(entry, [_CHECK.needs], source.needs)) if source.needs else {},
        caution=source.caution,
        energy=source.energy or _energy(scope, entry, indications),
        changes=source.changes,
        takes_off=taken_off(scope, entry),
        place=entry.key_place(),
    )


def _title(indications: list[Indication]) -> str:
    """`Measure` when a meter gives all of them, `Ask` when a person does, else `Look`."""
    titles = ", ".join(indication.title for indication in indications)
    if all(indication.kind is Kind.QUESTION for indication in indications):
        return f"Ask: {titles}"
    if all(indication.kind is Kind.READING or indication.measured for indication in indications):
        return f"Measure: {titles}"
    return f"Look: {titles}"


def _energy(scope: Scope, entry: Entry[CheckSource], indications: list[Indication]) -> Energy:
    """What all the indications need; a check cannot be done with the energy both on and off."""
    needed = {indication.energy for indication in indications} - {Energy.ANY}
    if len(needed) > 1:
        text = "one of these means something with the energy on, another with it off; write 'energy', or two checks"
        scope.report(entry.place(_CHECK.gives), text, Broken.ENERGY)
    return needed.pop() if len(needed) == 1 else Energy.ANY


def _implied(indication: Indication, question: str) -> Check:
    asked = indication.kind is Kind.QUESTION
    return Check(
        id=f"ask-{indication.id}" if asked else f"see-{indication.id}",
        title=f"Ask: {indication.title}" if asked else f"Look at {indication.title}",
        gives=(indication.id,),
        do=question if asked else f"Look at {indication.title}",
        minutes=ASK_MINUTES if asked else LOOK_MINUTES,
        access=Access.OUTSIDE,
        who=EVERYONE,
        where=indication.where,
        energy=indication.energy,
        implied=True,
        place=indication.place,
    )
