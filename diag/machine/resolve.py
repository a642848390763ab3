"""A folder's sections to a machine: every name looked up, every default filled in, every problem told."""

from __future__ import annotations

from dataclasses import replace

from diag.machine.gather import HEAD, Folder
from diag.machine.model import Machine, Role
from diag.machine.names_in import NAMED_IN
from diag.machine.place import Place
from diag.machine.resolve_causes import UNLISTED, resolve_causes
from diag.machine.resolve_checks import resolve_checks
from diag.machine.resolve_panel import resolve_face, resolve_indications
from diag.machine.resolve_site import (
    resolve_dangers,
    resolve_notes,
    resolve_points,
    resolve_resets,
    resolve_stored,
    resolve_test_points,
    resolve_zones,
)
from diag.machine.resolve_standing import resolve_standing
from diag.machine.resolve_trees import resolve_examples, resolve_trees
from diag.machine.scope import Scope
from diag.machine.site import Minutes
from diag.machine.source import HeadSource
from diag.machine.validate import Entry, validate


def resolve(found: Folder, id: str) -> tuple[Machine | None, Scope]:
    """The machine, or None when its header is broken; and what was learned on the way, its problems among it.

    With problems of level error in the scope the machine is not whole: it serves only for further problems.
    """
    lost = frozenset(NAMED_IN[section] for section in found.lost if section in NAMED_IN)
    scope = Scope(lost=lost, unmade=tuple(found.unmade), told=frozenset(found.told))
    maps, lists = found.maps, found.lists
    points = resolve_points(scope, maps["points"])
    stored = resolve_stored(scope, maps["stored"])
    test_points = resolve_test_points(scope, maps["test-points"])
    zones = resolve_zones(scope, maps)
    resets = resolve_resets(scope, maps["resets"])
    resolve_indications(scope, maps["indications"], resets, maps["groups"])
    notes = {name: resolve_notes(scope, entry) for name, (entry, _) in resets.items()}
    dangers = resolve_dangers(scope, lists["dangers"])
    face = resolve_face(scope, maps["face"])
    causes, remedies = resolve_causes(scope, maps["causes"], maps["remedies"], maps["zones"])
    checks = resolve_checks(scope, maps["checks"], maps["zones"], resets)
    trees = resolve_trees(scope, lists["trees"], maps["causes"])
    examples = resolve_examples(scope, lists["examples"], {**maps["causes"], UNLISTED: None}, causes)
    entry = _head(found, scope)
    if entry is None:
        return None, scope
    _whole(found, scope)
    start = _start(found, scope, entry)
    standing = resolve_standing(scope, found)
    head = entry.source
    minutes = head.minutes
    machine = Machine(
        id=id,
        title=head.title,
        place=head.place,
        revision=head.revision,
        standing=standing,
        hazards=head.hazards,
        neighbours=head.neighbours,
        minutes=Minutes(minutes.lock, minutes.restore, minutes.live, minutes.call),
        reset_limit=head.reset_limit,
        call={role: getattr(head.call, role.value) for role in Role},
        points=points,
        stored=stored,
        test_points=test_points,
        zones=zones,
        dangers=dangers,
        resets={name: replace(reset, note_first=notes[name]) for name, (_, reset) in resets.items()},
        groups=scope.groups,
        indications=scope.indications,
        face=face,
        causes=causes,
        remedies=remedies,
        checks=checks,
        trees=trees,
        start=start,
        examples=examples,
    )
    return machine, scope


def _head(found: Folder, scope: Scope) -> Entry[HeadSource] | None:
    """The header fields of machine.yaml; its sections were looked at before."""
    if found.head is None:
        return None
    return validate(HeadSource, found.head, scope.problems, without=[key for key in found.head.keys if key not in HEAD])


def _whole(found: Folder, scope: Scope) -> None:
    """Without indications or without causes there is nothing to tell."""
    assert found.head is not None
    for section in ("indications", "causes"):
        if not found.maps[section] and section not in found.lost:
            scope.report(Place(found.head.file, 1, 1), f"{section!r} is missing", "missing")


def _start(found: Folder, scope: Scope, head: Entry[HeadSource]) -> str:
    """The tree to start with: the one named, else the first."""
    names = [item.id for item in found.lists["trees"] if item.id]
    if head.source.start is None:
        return names[0] if names else ""
    return scope.one_of(head.place("start"), "tree", head.source.start, names) or ""
