"""Indications, groups and the face: from what `panel.yaml` says to the model's types."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from diag.machine import forms
from diag.machine.model import RESET_OUTCOMES, Energy, FaceRow, Follow, Indication, Kind, Reset, State
from diag.machine.place import Place
from diag.machine.problem import shown
from diag.machine.resolve_kinds import OF_KIND
from diag.machine.scope import Scope, circle, round_trip
from diag.machine.source import (
    KINDS,
    ContactSource,
    DisplaySource,
    IndicationSource,
    LampSource,
    ResetSource,
)
from diag.machine.validate import Entry, Written, validate
from diag.machine.words import kind_of

RESERVED: Final = frozenset({"all", "power", "unlisted"})
"""Words that mean something where an indication's name could stand."""
MOST_STATES: Final = 60


def resolve_indications(
    scope: Scope,
    written: Mapping[str, Written],
    resets: Mapping[str, tuple[Entry[ResetSource], Reset]],
    groups: Mapping[str, Written],
) -> None:
    """Fills `scope.indications`, those of the panel first, then one for each reset; then `scope.groups`."""
    entries: list[Entry[IndicationSource]] = []
    for id, item in written.items():
        entry = _read(scope, item)
        made = _indication(scope, entry) if entry is not None else None
        if made is None:
            scope.broken.add(id)
        elif entry is not None:
            entries.append(entry)
            scope.indications[id] = made
    for id, (reset_entry, reset) in resets.items():
        if id in written:
            text = f"{shown(id)} is an indication too; a reset's outcome is an indication with the reset's name"
            scope.report(reset_entry.key_place(), text, "clash")
        else:
            scope.indications[id] = _outcome(scope, reset_entry, reset)
    _groups(scope, groups)
    for entry in entries:
        if entry.source.follows:
            rules = _follows(scope, entry)
            scope.indications[entry.id] = replace(scope.indications[entry.id], follows=rules)
        _latches(scope, entry, tuple(resets))
        _joined(scope, entry)
    _no_circles(scope, {entry.id: entry for entry in entries})


def _read(scope: Scope, item: Written) -> Entry[IndicationSource] | None:
    value = item.node.value
    if not isinstance(value, dict):
        scope.report(item.place(), forms.entry(item.id, (next(iter(KINDS)), "normal"), item.node.plain()), "kind")
        return None
    if item.id in RESERVED:
        scope.report(item.key_place(), f"{shown(item.id)} is a reserved word; choose another name", "name")
        return None
    kinds = [kind for kind in KINDS if kind in value]
    if len(kinds) > 1:
        text = f"{shown(item.id)} is a {kinds[0]} and a {kinds[1]}; it can be one of them"
        scope.report(item.key_place(kinds[1]), text, "kind")
        return None
    if not kinds:
        text = f"{shown(item.id)} says none of {', '.join(KINDS)}"
        scope.report(item.key_place(), text, "missing")
        validate(IndicationSource, item, scope.problems)
        return None
    return validate(KINDS[kinds[0]], item, scope.problems)


def _indication(scope: Scope, entry: Entry[IndicationSource]) -> Indication | None:
    source = entry.source
    own = OF_KIND[type(source)](scope, entry, source)
    if own is None:
        return None
    states: tuple[State, ...] = own.pop("states")
    ids = [state.id for state in states]
    if len(ids) < 2 or len(ids) > MOST_STATES:
        text = f"{shown(entry.id)} has {len(ids)} state{'s' * (len(ids) != 1)}; 2 to {MOST_STATES} are possible"
        scope.report(entry.key_place(), text, "states")
        return None
    default = own.pop("default", None)
    normal = source.normal or default or ids[0]
    if source.normal is None and default is None and "normal" not in entry.keys:
        scope.report(entry.key_place(), "'normal' is missing", "missing")
    elif normal not in ids:
        scope.unknown(entry.place("normal"), "state", normal, ids, of=entry.id)
        normal = ids[0]
    protective = scope.all_of(entry, ["protective"], "state", source.protective, ids, of=entry.id)
    clears: dict[str, tuple[str, ...]] = {}
    for state, what in source.latched.items():
        if scope.one_of(entry.key_place("latched", state), "state", state, ids, of=entry.id) is not None:
            clears[state] = what
    return Indication(
        id=entry.id,
        states=tuple(
            replace(state, protective=state.id in protective, cleared_by=clears.get(state.id, ())) for state in states
        ),
        normal=normal,
        where=source.where,
        source=source.source or "",
        energy=source.energy or own.pop("energy"),
        place=entry.key_place(),
        **{key: value for key, value in own.items() if key != "energy"},
    )


def _outcome(scope: Scope, entry: Entry[ResetSource], reset: Reset) -> Indication:
    """A reset's own indication: the question what came of it."""
    weights = dict(zip(RESET_OUTCOMES, (0.9, 0.05, 0.05), strict=True))
    if entry.source.usual is not None:
        for state in entry.source.usual:
            scope.one_of(entry.key_place("usual", state), "outcome", state, RESET_OUTCOMES, of=reset.id)
        given = {state: entry.source.usual.get(state, 0.0) for state in RESET_OUTCOMES}
        if sum(given.values()) > 0.0:
            weights = given
        elif set(entry.source.usual) <= set(RESET_OUTCOMES):
            scope.report(entry.place("usual"), "'usual' adds up to nothing", "usual")
    total = sum(weights.values())
    return Indication(
        id=reset.id,
        kind=Kind.QUESTION,
        title=f"{reset.title}: what happened after it?",
        states=tuple(State(id) for id in RESET_OUTCOMES),
        normal=RESET_OUTCOMES[0],
        usual=tuple(weights[id] / total for id in RESET_OUTCOMES),
        energy=Energy.ANY,
        place=entry.key_place(),
    )


def _follows(scope: Scope, entry: Entry[IndicationSource]) -> tuple[Follow, ...]:
    found = []
    for i, rule in enumerate(entry.source.follows):
        when = scope.when(entry, ["follows", i, "when"], rule.when)
        shows = scope.state(entry.place("follows", i, "shows"), entry.id, rule.shows)
        if when and shows is not None:
            found.append(Follow(when, shows))
    return tuple(found)


def _latches(scope: Scope, entry: Entry[IndicationSource], resets: tuple[str, ...]) -> None:
    for state, what in entry.source.latched.items():
        scope.all_of(entry, ["latched", state], "reset", what, (*resets, "power"))


def _joined(scope: Scope, entry: Entry[IndicationSource]) -> None:
    """What an indication says of others: the lamp test that shows it, the lamp that a contact agrees with."""
    source, id = entry.source, entry.id
    if isinstance(source, LampSource | DisplaySource) and source.lamp_test:
        tests = []
        for test, failed in source.lamp_test.items():
            known = scope.indication(entry.key_place("lamp-test", test), test)
            if known is not None:
                ids = scope.indications[known].state_ids
                tests.append((known, scope.all_of(entry, ["lamp-test", test], "state", failed, ids, of=known)))
        scope.indications[id] = replace(scope.indications[id], lamp_test=tuple(tests))
    if isinstance(source, ContactSource) and source.agrees:
        scope.indications[id] = replace(scope.indications[id], agrees=_agrees(scope, entry, source))


def _agrees(
    scope: Scope, entry: Entry[IndicationSource], source: ContactSource
) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    own = scope.indications[entry.id].state_ids
    found = []
    for lamp, pairs in source.agrees.items():
        known = scope.indication(entry.key_place("agrees", lamp), lamp)
        if known is None:
            continue
        ids = scope.indications[known].state_ids
        agreed = []
        for theirs, ours in pairs.items():
            there = scope.one_of(entry.key_place("agrees", lamp, theirs), "state", theirs, ids, of=known)
            here = scope.one_of(entry.place("agrees", lamp, theirs), "state", ours, own, of=entry.id)
            if there is not None and here is not None:
                agreed.append((there, here))
        found.append((known, tuple(agreed)))
    return tuple(found)


def _no_circles(scope: Scope, entries: Mapping[str, Entry[IndicationSource]]) -> None:
    def drivers(id: str) -> list[str]:
        return [on for rule in scope.indications[id].follows for on, _ in rule.when if on in scope.indications]

    for names in circle(list(entries), drivers):
        place: Place = entries[names[0]].key_place("follows")
        scope.report(place, f"what follows what goes in a circle: {round_trip(names)}", "circle")


def _groups(scope: Scope, written: Mapping[str, Written]) -> None:
    """Groups hold indications, not groups."""
    for id, item in written.items():
        value = item.node.value
        if id in scope.indications or id in scope.broken:
            scope.report(item.key_place(), f"{shown(id)} is an indication too; choose another name", "clash")
            continue
        if id in RESERVED:
            scope.report(item.key_place(), f"{shown(id)} is a reserved word; choose another name", "name")
            scope.broken.add(id)
            continue
        if not isinstance(value, list) or not value:
            text = f"{shown(id)} is written [supply-lamp, run-lamp], and this is {kind_of(item.node.plain())}"
            scope.report(item.place(), text, "kind")
            scope.broken.add(id)
            continue
        members = []
        for child in value:
            if not isinstance(child.value, str):
                text = f"{shown(id)} holds names, as in [supply-lamp, run-lamp], and this is {kind_of(child.plain())}"
                scope.report(child.place(item.file), text, "kind")
            elif child.value in scope.indications:
                members.append(child.value)
            elif child.value not in scope.broken:
                scope.unknown(child.place(item.file), "indication", child.value, [*scope.indications, *scope.broken])
        scope.groups[id] = tuple(dict.fromkeys(members))


def resolve_face(scope: Scope, written: Mapping[str, Written]) -> tuple[FaceRow, ...]:
    """The front, block by block. An indication has one place on it."""
    seen: dict[str, Place] = {}
    found = []
    for title, item in written.items():
        rows = item.node.value
        if not isinstance(rows, list) or not all(isinstance(row.value, list) for row in rows):
            text = f"{shown(title)} is written as rows, each in brackets: [[a, b], [c]]"
            scope.report(item.place(), text, "kind")
            continue
        made = []
        for row in rows:
            made.append(_row(scope, item, row.value, seen))
        found.append(FaceRow(title, tuple(row for row in made if row)))
    return tuple(found)


def _row(scope: Scope, item: Written, row: Any, seen: dict[str, Place]) -> tuple[str, ...]:
    made = []
    for child in row:
        place = child.place(item.file)
        if not isinstance(child.value, str):
            scope.report(place, "an indication's name was expected here", "kind")
            continue
        id = scope.indication(place, child.value)
        if id is None:
            continue
        if id in seen:
            scope.report(place, f"{shown(id)} has a place on the face already, in line {seen[id].line}", "twice")
        else:
            seen[id] = place
            made.append(id)
    return tuple(made)
