"""Indications, groups and the face: from what `panel.yaml` says to the model's types."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from diag.machine.circles import circle, round_trip
from diag.machine.language import forms
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.field_types import kind_of
from diag.machine.language.fields.machine_fields import ResetSource
from diag.machine.language.fields.panel_fields import (
    KINDS,
    POWER,
    ContactSource,
    DisplaySource,
    FollowSource,
    IndicationSource,
    LampSource,
)
from diag.machine.language.fields.sections import Sections
from diag.machine.language.names_in import FREE
from diag.machine.language.validate import Entry, Written, validate
from diag.machine.model import RESET_OUTCOMES, Energy, FaceRow, Follow, Indication, Kind, State
from diag.machine.names import Named
from diag.machine.place import Place
from diag.machine.problem import Broken, shown
from diag.machine.resolve.resolve_kinds import made_of
from diag.machine.resolve.scope import Scope

_OF_ALL, _FOLLOW, _RESET = names(IndicationSource), names(FollowSource), names(ResetSource)
_LAMP, _CONTACT, _SECTION = names(LampSource), names(ContactSource), names(Sections)

MOST_STATES: Final = 60


def resolve_indications(scope: Scope, resets: Mapping[str, Entry[ResetSource]]) -> None:
    """Fills `scope.indications`, those of the panel first, then one for each reset; then `scope.groups`."""
    written = scope.found.maps[_SECTION.indications]
    entries: list[Entry[IndicationSource]] = []
    scope.broken.update(id for id in scope.found.maps[_SECTION.resets] if id not in resets)
    for id, item in written.items():
        entry = _read(scope, item)
        made = _indication(scope, entry) if entry is not None else None
        if entry is None or made is None:
            scope.broken.add(id)
        else:
            entries.append(entry)
            scope.indications[id] = made
    for id, reset in resets.items():
        if id in written:
            text = f"{shown(id)} is an indication too; a reset's outcome is an indication with the reset's name"
            scope.report(reset.key_place(), text, Broken.CLASH)
        else:
            scope.indications[id] = _outcome(scope, reset)
    _groups(scope)
    for entry in entries:
        for state, what in entry.source.latched.items():
            scope.all_of(entry, [_OF_ALL.latched, state], Named.RESET, what, (*resets, POWER))
        _joined(scope, entry)
    _no_circles(scope, {entry.id: entry for entry in entries})


def _read(scope: Scope, item: Written) -> Entry[IndicationSource] | None:
    value = item.node.value
    if not isinstance(value, dict):
        form = forms.entry(item.id, (next(iter(KINDS)), _OF_ALL.normal), item.node.plain())
        scope.report(item.place(), form, Broken.KIND)
        return None
    if item.id in FREE:
        scope.report(item.key_place(), f"{shown(item.id)} is a reserved word; choose another name", Broken.NAME)
        return None
    kinds = [kind for kind in KINDS if kind in value]
    if len(kinds) > 1:
        text = f"{shown(item.id)} is a {kinds[0]} and a {kinds[1]}; it can be one of them"
        scope.report(item.key_place(kinds[1]), text, Broken.KIND)
        return None
    if not kinds:
        text = f"{shown(item.id)} does not say what it is: one of {', '.join(KINDS)}"
        scope.report(item.key_place(), text, Broken.MISSING)
        validate(IndicationSource, item, scope.problems)
        return None
    return validate(KINDS[kinds[0]], item, scope.problems)


def _indication(scope: Scope, entry: Entry[IndicationSource]) -> Indication | None:
    source = entry.source
    made = made_of(scope, entry)
    if made is None:
        return None
    ids = made.state_ids
    if len(ids) < 2 or len(ids) > MOST_STATES:
        text = f"{shown(entry.id)} has {len(ids)} state{'s' * (len(ids) != 1)}; 2 to {MOST_STATES} are possible"
        scope.report(entry.key_place(), text, Broken.STATES)
        return None
    normal = source.normal or made.normal or ids[0]
    if source.normal is None and not made.normal and _OF_ALL.normal not in entry.keys:
        scope.report(entry.key_place(), f"{shown(_OF_ALL.normal)} is missing", Broken.MISSING)
    elif normal not in ids:
        scope.unknown(entry.place(_OF_ALL.normal), Named.STATE, normal, ids, of=entry.id)
        normal = ids[0]
    protective = scope.all_of(entry, [_OF_ALL.protective], Named.STATE, source.protective, ids, of=entry.id)
    for state in source.latched:
        scope.one_of(entry.key_place(_OF_ALL.latched, state), Named.STATE, state, ids, of=entry.id)
    states = (
        replace(state, protective=state.id in protective, cleared_by=source.latched.get(state.id, ()))
        for state in made.states
    )
    return replace(made, states=tuple(states), normal=normal)


def _outcome(scope: Scope, entry: Entry[ResetSource]) -> Indication:
    """A reset's own indication: the question what came of it."""
    weights = dict(zip(RESET_OUTCOMES, (0.9, 0.05, 0.05), strict=True))
    usual = entry.source.usual
    if usual is not None:
        for state in usual:
            scope.one_of(entry.key_place(_RESET.usual, state), "outcome", state, RESET_OUTCOMES, of=entry.id)
        given = {state: usual.get(state, 0.0) for state in RESET_OUTCOMES}
        if sum(given.values()) > 0.0:
            weights = given
        elif set(usual) <= set(RESET_OUTCOMES):
            scope.report(entry.place(_RESET.usual), "'usual' adds up to nothing", Broken.USUAL)
    total = sum(weights.values())
    return Indication(
        id=entry.id,
        kind=Kind.QUESTION,
        title=f"{entry.source.title}: what happened after it?",
        states=tuple(State(id) for id in RESET_OUTCOMES),
        normal=RESET_OUTCOMES[0],
        usual=tuple(weights[id] / total for id in RESET_OUTCOMES),
        energy=Energy.ANY,
        place=entry.key_place(),
    )


def _follows(scope: Scope, entry: Entry[IndicationSource]) -> tuple[Follow, ...]:
    found = []
    for i, rule in enumerate(entry.source.follows):
        when = scope.when(entry, [_OF_ALL.follows, i, _FOLLOW.when], rule.when)
        shows = scope.state(entry.place(_OF_ALL.follows, i, _FOLLOW.shows), entry.id, rule.shows)
        if when and shows is not None:
            found.append(Follow(when, shows))
    return tuple(found)


def _joined(scope: Scope, entry: Entry[IndicationSource]) -> None:
    """What an indication says of others: what it follows, the lamp test that shows it, the lamp that a contact agrees
    with."""
    source, made = entry.source, scope.indications[entry.id]
    made = replace(made, follows=_follows(scope, entry))
    if isinstance(source, LampSource | DisplaySource):
        tests = []
        for test, failed in source.lamp_test.items():
            known = scope.indication(entry.key_place(_LAMP.lamp_test, test), test)
            if known is not None:
                ids = scope.indications[known].state_ids
                tests.append((known, scope.all_of(entry, [_LAMP.lamp_test, test], Named.STATE, failed, ids, of=known)))
        made = replace(made, lamp_test=tuple(tests))
    if isinstance(source, ContactSource):
        made = replace(made, agrees=_agrees(scope, entry, source))
    scope.indications[entry.id] = made


def _agrees(
    scope: Scope, entry: Entry[IndicationSource], source: ContactSource
) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    own = scope.indications[entry.id].state_ids
    found = []
    for lamp, pairs in source.agrees.items():
        known = scope.indication(entry.key_place(_CONTACT.agrees, lamp), lamp)
        if known is None:
            continue
        ids = scope.indications[known].state_ids
        agreed = []
        for theirs, ours in pairs.items():
            there = scope.one_of(entry.key_place(_CONTACT.agrees, lamp, theirs), Named.STATE, theirs, ids, of=known)
            here = scope.one_of(entry.place(_CONTACT.agrees, lamp, theirs), Named.STATE, ours, own, of=entry.id)
            if there is not None and here is not None:
                agreed.append((there, here))
        found.append((known, tuple(agreed)))
    return tuple(found)


def _no_circles(scope: Scope, entries: Mapping[str, Entry[IndicationSource]]) -> None:
    def drivers(id: str) -> list[str]:
        return [on for rule in scope.indications[id].follows for on, _ in rule.when if on in scope.indications]

    for round in circle(list(entries), drivers):
        place: Place = entries[round[0]].key_place(_OF_ALL.follows)
        scope.report(place, f"what follows what goes in a circle: {round_trip(round)}", Broken.CIRCLE)


def _groups(scope: Scope) -> None:
    """Groups hold indications, not groups."""
    for id, item in scope.found.maps[_SECTION.groups].items():
        value = item.node.value
        if id in scope.indications or id in scope.broken:
            scope.report(item.key_place(), f"{shown(id)} is an indication too; choose another name", Broken.CLASH)
            continue
        if id in FREE:
            scope.report(item.key_place(), f"{shown(id)} is a reserved word; choose another name", Broken.NAME)
            scope.broken.add(id)
            continue
        if not isinstance(value, list) or not value:
            text = f"{shown(id)} takes the form [supply-lamp, run-lamp]; this is {kind_of(item.node.plain())}"
            scope.report(item.place(), text, Broken.KIND)
            scope.broken.add(id)
            continue
        members = []
        for child in value:
            if not isinstance(child.value, str):
                text = f"{shown(id)} holds names, as in [supply-lamp, run-lamp], and this is {kind_of(child.plain())}"
                scope.report(child.place(item.file), text, Broken.KIND)
            elif child.value in scope.indications:
                members.append(child.value)
            elif child.value not in scope.broken:
                right = [*scope.indications, *scope.broken]
                scope.unknown(child.place(item.file), Named.INDICATION, child.value, right)
        scope.groups[id] = tuple(dict.fromkeys(members))


def resolve_face(scope: Scope) -> tuple[FaceRow, ...]:
    """The front, block by block. An indication has one place on it."""
    seen: dict[str, Place] = {}
    found = []
    for title, item in scope.found.maps[_SECTION.face].items():
        rows = item.node.value
        if not isinstance(rows, list) or not all(isinstance(row.value, list) for row in rows):
            text = f"{shown(title)} is written as rows, each in brackets: [[a, b], [c]]"
            scope.report(item.place(), text, Broken.KIND)
            continue
        made = [_row(scope, item, row.value, seen) for row in rows]
        found.append(FaceRow(title, tuple(row for row in made if row)))
    return tuple(found)


def _row(scope: Scope, item: Written, row: Any, seen: dict[str, Place]) -> tuple[str, ...]:
    made = []
    for child in row:
        place = child.place(item.file)
        if not isinstance(child.value, str):
            scope.report(place, "an indication's name was expected here", Broken.KIND)
            continue
        id = scope.indication(place, child.value)
        if id is None:
            continue
        if id in seen:
            scope.report(place, f"{shown(id)} has a place on the face already, in line {seen[id].line}", Broken.TWICE)
        else:
            seen[id] = place
            made.append(id)
    return tuple(made)
