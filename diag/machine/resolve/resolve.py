"""A folder's sections to a machine: every name looked up, every default filled in, every problem reported."""

from __future__ import annotations

from diag.machine.isolation import IsolationPoint, Minutes
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.machine_fields import (
    HeadSource,
    PointSource,
    ResetSource,
)
from diag.machine.language.fields.sections import HEAD, Sections
from diag.machine.language.validate import Entry, validate
from diag.machine.model import Machine, Role
from diag.machine.names import Named
from diag.machine.place import Place
from diag.machine.problem import Broken
from diag.machine.reader.gather import Folder
from diag.machine.resolve.resolve_approval import resolve_approval
from diag.machine.resolve.resolve_assets import check_tags, resolve_assets
from diag.machine.resolve.resolve_causes import resolve_causes
from diag.machine.resolve.resolve_checks import resolve_checks
from diag.machine.resolve.resolve_lockout import resolve_dangers, resolve_resets, resolve_try_outs, resolve_zones
from diag.machine.resolve.resolve_panel import resolve_face, resolve_indications
from diag.machine.resolve.resolve_stored import resolve_stored, resolve_test_points
from diag.machine.resolve.resolve_trees import resolve_examples, resolve_trees
from diag.machine.resolve.scope import Scope

_SECTION = names(Sections)


def resolve(found: Folder, id: str) -> tuple[Machine | None, Scope]:
    """The machine, or None when its header is broken; and what was learned on the way, its problems among it.

    With an error in the scope the machine is not whole, and serves only to find further problems.
    """
    scope = Scope(found)
    points = scope.made(IsolationPoint, PointSource, _SECTION.points)
    stored = resolve_stored(scope)
    test_points = resolve_test_points(scope)
    in_zones = resolve_zones(scope)
    reset_entries = {entry.id: entry for entry in scope.entries(ResetSource, _SECTION.resets)}
    resolve_indications(scope, reset_entries)
    zones = resolve_try_outs(scope, in_zones)
    resets = resolve_resets(scope, reset_entries.values())
    dangers = resolve_dangers(scope)
    face = resolve_face(scope)
    causes, remedies = resolve_causes(scope)
    checks = resolve_checks(scope, resets)
    trees = resolve_trees(scope)
    examples = resolve_examples(scope, causes)
    check_tags(scope, points)
    entry = _head(scope)
    if entry is None:
        return None, scope
    head = entry.source
    machine = Machine(
        id=id,
        title=head.title,
        place=head.place,
        revision=head.revision,
        approval=resolve_approval(scope),
        hazards=head.hazards,
        neighbours=head.neighbours,
        minutes=Minutes(**dict(head.minutes)),
        proof_holds=head.proof_holds,
        reset_limit=head.reset_limit,
        call={role: getattr(head.call, role.value) for role in Role},
        points=points,
        stored=stored,
        test_points=test_points,
        zones=zones,
        dangers=dangers,
        resets=resets,
        groups=scope.groups,
        indications=scope.indications,
        face=face,
        causes=causes,
        remedies=remedies,
        checks=checks,
        trees=trees,
        start=_start(scope, entry),
        examples=examples,
        assets=resolve_assets(scope, entry, id),
    )
    return machine, scope


def _head(scope: Scope) -> Entry[HeadSource] | None:
    """The header fields of machine.yaml; its sections were looked at before. A machine needs indications and causes."""
    found, written = scope.found, scope.found.head
    if written is None:
        return None
    head = validate(HeadSource, written, scope.problems, without=[key for key in written.keys if key not in HEAD])
    for section in (_SECTION.indications, _SECTION.causes):
        if head is not None and not found.maps[section] and section not in found.lost:
            scope.report(Place(written.file, 1, 1), f"{section!r} is missing", Broken.MISSING)
    return head


def _start(scope: Scope, head: Entry[HeadSource]) -> str:
    """The tree to start with: the one named, else the first."""
    trees = [item.id for item in scope.found.lists[_SECTION.trees] if item.id]
    if head.source.start is None:
        return trees[0] if trees else ""
    return scope.one_of(head.place(names(HeadSource).start), Named.TREE, head.source.start, trees) or ""
