"""Causes and remedies: from what `causes.yaml` says to the model's types."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Final

from diag.machine.language import forms
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.cause_fields import CauseSource, ProofStepSource, RemedySource
from diag.machine.language.fields.field_types import SURELY, is_name
from diag.machine.language.fields.sections import Sections
from diag.machine.language.validate import Entry, Written, validate
from diag.machine.model import UNLISTED, Cause, Kind, ProofStep, Remedy, Role
from diag.machine.names import Named
from diag.machine.problem import Broken, shown
from diag.machine.resolve.resolve_checks import taken_off, who_may, zone_of
from diag.machine.resolve.scope import Scope

_CAUSE, _STEP, _SECTION = names(CauseSource), names(ProofStepSource), names(Sections)

INTERMITTENT: Final = 0.5
"""The chance per round that a cause shows nothing, when its file says only that it comes and goes."""
ALMOST: Final = 1e-9


def _remedy(scope: Scope, entry: Entry[RemedySource]) -> Remedy:
    kept = {field.name for field in dataclasses.fields(Remedy)}
    fields = {name: value for name, value in entry.source if name in kept}
    fields.update(who=who_may(entry.source), zone=zone_of(scope, entry), takes_off=taken_off(scope, entry))
    return Remedy(id=entry.id, **fields, place=entry.key_place())


def resolve_causes(scope: Scope) -> tuple[dict[str, Cause], dict[str, Remedy]]:
    """All causes, and all remedies: the shared ones first, then those written inside a cause under its name."""
    cures = {entry.id: _remedy(scope, entry) for entry in scope.entries(RemedySource, _SECTION.remedies)}
    found = {}
    for entry in scope.entries(CauseSource, _SECTION.causes):
        if entry.id == UNLISTED:
            text = f"{shown(entry.id)} is always there without being written; choose another name"
            scope.report(entry.key_place(), text, Broken.NAME)
            continue
        cure = _cure(scope, entry, cures)
        if cure is not None:
            cures.setdefault(cure.id, cure)
        shows = _shows(scope, entry)
        source = entry.source
        tested = _function_test(scope, entry)
        rest_probability = source.intermittent
        if rest_probability is None:
            rest_probability = INTERMITTENT if source.comes else 0.0
        if rest_probability >= 1.0:
            text = "'intermittent' of 1 would never show anything"
            scope.report(entry.place(_CAUSE.intermittent), text, Broken.CHANCE)
        found[entry.id] = Cause(
            id=entry.id,
            title=source.title,
            part=source.part,
            rate=source.often,
            shows=shows,
            remedy=cure,
            proof=_proof(scope, entry, shows) | tested,
            proof_first=_proof_first(scope, entry),
            safety=source.safety,
            function_test=tuple(tested),
            rest_probability=rest_probability,
            by_design=source.by_design,
            note=source.note,
            place=entry.key_place(),
        )
    return found, cures


def _cure(scope: Scope, entry: Entry[CauseSource], cures: Mapping[str, Remedy]) -> Remedy | None:
    written, shared = entry.source.remedy, scope.found.maps[_SECTION.remedies]
    if written is None:
        return None
    place = entry.place(_CAUSE.remedy)
    if isinstance(written, str) and written:
        if is_name(written):
            known = scope.one_of(place, Named.REMEDY, written, shared)
            return cures.get(known) if known is not None else None
        form = forms.example(CauseSource, _CAUSE.remedy)
        text = f"'remedy' is a text; write {form}, or the name of one from 'remedies:'"
        scope.report(place, text, Broken.UNKNOWN)
        return None
    if not isinstance(written, dict):
        form = forms.instead(shown(_CAUSE.remedy), CauseSource.model_fields[_CAUSE.remedy], written, many=False)
        scope.report(place, f"{form}; or it names one from 'remedies:'", Broken.KIND)
        return None
    if entry.id in shared:
        text = f"{shown(entry.id)} is a shared remedy too; name it, or give one of them another name"
        scope.report(entry.key_place(_CAUSE.remedy), text, Broken.CLASH)
        return None
    item = Written(entry.id, entry.file, entry.node.find([_CAUSE.remedy]))
    inner = validate(RemedySource, item, scope.problems)
    return None if inner is None else _remedy(scope, inner)


def _shows(scope: Scope, entry: Entry[CauseSource]) -> dict[str, dict[str, float]]:
    """Indication to state to probability. What a cause says of one indication goes before what it says of a group."""
    named: dict[str, dict[str, float]] = {}
    by_group: dict[str, str] = {}
    shows = entry.source.shows
    for name, states in shows.items():
        if not states:
            scope.report(entry.place(_CAUSE.shows, name), f"{shown(name)} names no state", Broken.KIND)
        for id in scope.expand(entry.key_place(_CAUSE.shows, name), name):
            if name in scope.groups:
                if id in shows:
                    continue
                if id in by_group:
                    text = f"{shown(id)} is in {shown(by_group[id])} and in {shown(name)}; name it by itself"
                    scope.report(entry.key_place(_CAUSE.shows, name), text, Broken.TWICE)
                    continue
                by_group[id] = name
            row: dict[str, float] = {}
            for word, chance in states.items():
                place = entry.key_place(_CAUSE.shows, name, word)
                if isinstance(entry.node.find([_CAUSE.shows, name]).value, str):
                    place = entry.place(_CAUSE.shows, name)
                    if word in SURELY and word not in scope.indications[id].state_ids:
                        text = f"{shown(word)} says how surely, but not what; write {{STATE: {word}}}"
                        scope.report(place, text, Broken.UNKNOWN)
                        continue
                what, _, surely = word.partition(" ")
                if surely in SURELY and what in scope.indications[id].state_ids:
                    scope.report(place, f"how surely goes in braces: write {{{what}: {surely}}}", Broken.UNKNOWN)
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
        return dict(scope.when(entry, [_CAUSE.proof], written))
    found: dict[str, tuple[str, ...]] = {}
    for id, row in shows.items():
        indication = scope.indications[id]
        off = sum(chance for state, chance in row.items() if state != indication.normal)
        if indication.kind is not Kind.QUESTION and off >= SURELY["usually"] - ALMOST:
            found[id] = (indication.normal,)
    return found


def _function_test(scope: Scope, entry: Entry[CauseSource]) -> dict[str, tuple[str, ...]]:
    """What a test of the safety function must show."""
    written = entry.source.function_test
    return {} if written is None else dict(scope.when(entry, [_CAUSE.function_test], written))


def _proof_first(scope: Scope, entry: Entry[CauseSource]) -> tuple[ProofStep, ...]:
    found, resets = [], scope.found.maps[_SECTION.resets]
    for n, step in enumerate(entry.source.proof_first):
        reset = step.reset
        if reset is not None:
            reset = scope.one_of(entry.place(_CAUSE.proof_first, n, _STEP.reset), Named.RESET, reset, resets)
        found.append(ProofStep(step.do, tuple(dict.fromkeys(step.who or Role)), reset or ""))
    return tuple(found)
