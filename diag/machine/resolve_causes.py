"""Causes and remedies: from what `causes.yaml` says to the model's types."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Final

from diag.machine import forms
from diag.machine.model import Access, Cause, Kind, Remedy, Role
from diag.machine.problem import shown
from diag.machine.resolve_site import entries_of, entry_of
from diag.machine.scope import Scope
from diag.machine.source import CauseSource, RemedySource
from diag.machine.validate import Entry, Written
from diag.machine.words import SURELY, is_name

UNLISTED: Final = "unlisted"
"""The cause that is always there without being written: something that is not in this file."""
EVERYONE: Final = tuple(Role)
SKILLED: Final = (Role.ELECTRICIAN, Role.ENGINEER)
INTERMITTENT: Final = 0.5
"""The chance per round that a cause shows nothing, when its file says only that it comes and goes."""
ALMOST: Final = 1e-9


def who_may(access: Access, who: tuple[Role, ...] | None) -> tuple[Role, ...]:
    """The roles for an action: as written, else everyone outside and the skilled inside."""
    if who is None:
        return EVERYONE if access is Access.OUTSIDE else SKILLED
    return tuple(dict.fromkeys(who))


def zone_for(scope: Scope, entry: Written, access: Access, zone: str | None, zones: Collection[str]) -> str:
    """The zone of an action. Work inside needs one: it says what must be locked."""
    if zone is None:
        if access is not Access.OUTSIDE:
            text = f"'zone' is missing; access {access} needs one, which says what must be locked"
            scope.report(entry.place("access"), text, "zone")
        return ""
    return scope.one_of(entry.place("zone"), "zone", zone, zones) or ""


def _remedy(scope: Scope, entry: Entry[RemedySource], zones: Collection[str]) -> Remedy:
    source = entry.source
    return Remedy(
        id=entry.id,
        do=source.do,
        minutes=source.minutes,
        access=source.access,
        who=who_may(source.access, source.who),
        zone=zone_for(scope, entry, source.access, source.zone, zones),
        parts=source.parts,
        tool=source.tool,
        caution=source.caution,
        chance=source.chance,
        place=entry.key_place(),
    )


def resolve_causes(
    scope: Scope, causes: Mapping[str, Written], remedies: Mapping[str, Written], zones: Collection[str]
) -> tuple[dict[str, Cause], dict[str, Remedy]]:
    """All causes, and all remedies: the shared ones first, then those written inside a cause under its name."""
    cures = {id: _remedy(scope, entry, zones) for id, entry in entries_of(scope, RemedySource, remedies).items()}
    found = {}
    for id, entry in entries_of(scope, CauseSource, causes).items():
        if id == UNLISTED:
            text = f"{shown(id)} is always there without being written; choose another name"
            scope.report(entry.key_place(), text, "name")
            continue
        cure = _cure(scope, entry, cures, remedies, zones)
        if cure is not None:
            cures.setdefault(cure.id, cure)
        shows = _shows(scope, entry)
        source = entry.source
        quiet = source.intermittent if source.intermittent is not None else INTERMITTENT if source.comes else 0.0
        if quiet >= 1.0:
            scope.report(entry.place("intermittent"), "'intermittent' of 1 would never show anything", "chance")
        found[id] = Cause(
            id=id,
            title=source.title,
            part=source.part,
            rate=source.often,
            shows=shows,
            remedy=cure,
            proof=_proof(scope, entry, shows),
            quiet=quiet,
            by_design=source.by_design,
            note=source.note,
            place=entry.key_place(),
        )
    return found, cures


def _cure(
    scope: Scope,
    entry: Entry[CauseSource],
    cures: Mapping[str, Remedy],
    shared: Mapping[str, Written],
    zones: Collection[str],
) -> Remedy | None:
    written = entry.source.remedy
    if written is None:
        return None
    if isinstance(written, str) and written:
        if not is_name(written):
            form = forms.FORMS["remedy"]
            text = f"'remedy' is a text; write {form}, or the name of one from 'remedies:'"
            scope.report(entry.place("remedy"), text, "unknown")
            return None
        if scope.one_of(entry.place("remedy"), "remedy", written, shared) is None:
            return None
        return cures.get(written)
    if not isinstance(written, dict):
        text = f"{forms.instead(shown('remedy'), 'remedy', written, many=False)}; or it names one from 'remedies:'"
        scope.report(entry.place("remedy"), text, "kind")
        return None
    if entry.id in shared:
        text = f"{shown(entry.id)} is a shared remedy too; name it, or give one of them another name"
        scope.report(entry.key_place("remedy"), text, "clash")
        return None
    inner = entry_of(scope, RemedySource, Written(entry.id, entry.file, entry.node.find(["remedy"])))
    return None if inner is None else _remedy(scope, inner, zones)


def _shows(scope: Scope, entry: Entry[CauseSource]) -> dict[str, dict[str, float]]:
    """Indication to state to probability. What a cause says of one indication goes before what it says of a group."""
    named: dict[str, dict[str, float]] = {}
    by_group: dict[str, str] = {}
    shows = entry.source.shows
    for name, states in shows.items():
        if not states:
            scope.report(entry.place("shows", name), f"{shown(name)} names no state", "kind")
        for id in scope.expand(entry.key_place("shows", name), name):
            if name in scope.groups:
                if id in shows:
                    continue
                if id in by_group:
                    text = f"{shown(id)} is in {shown(by_group[id])} and in {shown(name)}; name it by itself"
                    scope.report(entry.key_place("shows", name), text, "twice")
                    continue
                by_group[id] = name
            row: dict[str, float] = {}
            for word, chance in states.items():
                place = entry.key_place("shows", name, word)
                if isinstance(entry.node.find(["shows", name]).value, str):
                    place = entry.place("shows", name)
                    if word in SURELY and word not in scope.indications[id].state_ids:
                        text = f"{shown(word)} says how surely, and not what; write {{STATE: {word}}}"
                        scope.report(place, text, "unknown")
                        continue
                what, _, surely = word.partition(" ")
                if surely in SURELY and what in scope.indications[id].state_ids:
                    scope.report(place, f"how surely stands in braces: write {{{what}: {surely}}}", "unknown")
                    continue
                state = scope.state(place, id, word)
                if state is not None:
                    row[state] = min(1.0, row.get(state, 0.0) + chance)
            if row:
                named[id] = row
    return named


def _proof(
    scope: Scope, entry: Entry[CauseSource], shows: Mapping[str, Mapping[str, float]]
) -> dict[str, tuple[str, ...]]:
    """As written; else the normal state of what the cause usually turns off normal, questions left out."""
    written = entry.source.proof
    if written is not None:
        return dict(scope.when(entry, ["proof"], written))
    found: dict[str, tuple[str, ...]] = {}
    for id, row in shows.items():
        indication = scope.indications[id]
        off = sum(chance for state, chance in row.items() if state != indication.normal)
        if indication.kind is not Kind.QUESTION and off >= SURELY["usually"] - ALMOST:
            found[id] = (indication.normal,)
    return found
