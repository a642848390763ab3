"""Checks: those written in `checks.yaml`, and the implied look or question for every other indication."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Final

from diag.machine.model import Access, Check, Energy, Indication, Kind
from diag.machine.problem import shown
from diag.machine.resolve_causes import EVERYONE, who_may, zone_for
from diag.machine.resolve_site import entries_of
from diag.machine.scope import Scope
from diag.machine.source import CheckSource
from diag.machine.validate import Entry, Written

LOOK_MINUTES: Final = 0.2
ASK_MINUTES: Final = 0.5


def resolve_checks(
    scope: Scope,
    written: Mapping[str, Written],
    zones: Collection[str],
    resets: Collection[str],
) -> dict[str, Check]:
    """The written checks in file order, then the implied ones.

    A reset's own indication gets no check: its
    answer comes from a reset that was done.
    """
    found = {}
    given: set[str] = set(resets)
    for id, entry in entries_of(scope, CheckSource, written).items():
        found[id] = _check(scope, entry, zones)
        given.update(found[id].gives)
        for i, name in enumerate(entry.source.gives):
            if name in resets:
                text = f"{shown(name)} is the outcome of a reset; a check cannot give it"
                scope.report(entry.place("gives", i), text, "kind")
    for indication in scope.indications.values():
        if indication.id in given:
            continue
        check = _implied(indication, scope.questions.get(indication.id, indication.title))
        if check.id in written:
            text = f"{shown(check.id)} is the name of the look at {shown(indication.id)}; choose another"
            scope.report(written[check.id].key_place(), text, "clash")
        found[check.id] = check
    return found


def _check(scope: Scope, entry: Entry[CheckSource], zones: Collection[str]) -> Check:
    source = entry.source
    gives: list[str] = []
    for i, name in enumerate(source.gives):
        gives.extend(scope.expand(entry.place("gives", i), name))
    ids = tuple(dict.fromkeys(gives))
    indications = [scope.indications[id] for id in ids]
    return Check(
        id=entry.id,
        title=source.title or _title(indications),
        gives=ids,
        do=source.do,
        minutes=source.minutes,
        access=source.access,
        who=who_may(source.access, source.who),
        tool=source.with_,
        where=source.where,
        zone=zone_for(scope, entry, source.access, source.zone, zones),
        needs=dict(scope.when(entry, ["needs"], source.needs)) if source.needs else {},
        caution=source.caution,
        energy=source.energy or _energy(scope, entry, indications),
        changes=source.changes,
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
        scope.report(entry.place("gives"), text, "energy")
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
