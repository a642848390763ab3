"""Names that hold beyond one file: its assets, and the tags of isolation points."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diag.machine.assets import folded, recorded_as
from diag.machine.isolation import IsolationPoint
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.field_types import SHORT
from diag.machine.language.fields.machine_fields import HeadSource, PointSource
from diag.machine.language.fields.sections import Sections
from diag.machine.language.validate import Entry
from diag.machine.place import Place
from diag.machine.problem import Broken, shown
from diag.machine.resolve.scope import Scope


def resolve_assets(scope: Scope, head: Entry[HeadSource], id: str) -> tuple[str, ...]:
    """The assets that the file serves, each once; reports two that the record would take for one."""
    field = names(HeadSource).assets
    assets = head.source.assets
    _once(scope, "asset", ((asset, head.place(field, n)) for n, asset in enumerate(assets)))
    for n, asset in enumerate(assets):
        if len(recorded_as(id, asset)) > SHORT:
            text = f"{shown(asset)} and the folder's name have over {SHORT} characters; a case could not record them"
            scope.report(head.place(field, n), text, Broken.NAME)
    return assets


def check_tags(scope: Scope, points: Mapping[str, IsolationPoint]) -> None:
    """Reports two isolation points of one machine with one tag: a tag stands for one thing on the wall."""
    field, written = names(PointSource).tag, scope.found.maps[names(Sections).points]
    _once(scope, field, ((point.tag, written[id].place(field)) for id, point in points.items() if point.tag))


def _once(scope: Scope, what: str, named: Iterable[tuple[str, Place]]) -> None:
    seen: dict[str, str] = {}
    for name, place in named:
        first = seen.get(folded(name))
        if first is None:
            seen[folded(name)] = name
        else:
            same = "" if first == name else f", as {shown(first)}: capitals and spaces make no difference"
            scope.report(place, f"the {what} {shown(name)} is named twice{same}", Broken.CLASH)
