"""Stored energies with what holds them, and test points with what a meter must read there."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Final

from diag.machine.circles import circle
from diag.machine.isolation import PutBack, StoredEnergy, TestPoint
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.machine_fields import PutBackSource, StoredSource, TestPointSource
from diag.machine.language.fields.sections import Sections
from diag.machine.language.validate import Entry
from diag.machine.names import Named
from diag.machine.problem import Broken, shown
from diag.machine.resolve.scope import Scope

_STORED, _BACK, _TEST = names(StoredSource), names(PutBackSource), names(TestPointSource)
_SECTION = names(Sections)
MOST_TERMINALS: Final = 30
"""At one test point. Their pairs grow with the square, and nobody measures 435 of them."""


def resolve_stored(scope: Scope) -> dict[str, StoredEnergy]:
    """Stored energies; what they name is looked up among what is written, broken or not."""
    found: dict[str, StoredEnergy] = {}
    points, stored = scope.found.maps[_SECTION.points], scope.found.maps[_SECTION.stored]
    for entry in scope.entries(StoredSource, _SECTION.stored):
        source = entry.source
        if source.counts_from is not None:
            scope.one_of(entry.place(_STORED.counts_from), Named.POINT, source.counts_from, points)
        if source.counts_from and source.counts_when:
            text = f"{shown(_STORED.counts_from)} and {shown(_STORED.counts_when)} both say what starts the wait"
            scope.report(entry.key_place(_STORED.counts_when), text, Broken.TWICE)
        fields = scope.looked_up(entry)
        fields.update(
            counts_from=source.counts_from or "", after=fields.pop("waits_for"), put_back=_put_back(scope, entry)
        )
        found[entry.id] = StoredEnergy(id=entry.id, **fields)

    def waits_for(id: str) -> tuple[str, ...]:
        return found[id].after if id in found else ()

    def comes_out_after(id: str) -> tuple[str, ...]:
        put_back = found[id].put_back if id in found else None
        return put_back.after if put_back is not None else ()

    for field, after in ((_STORED.waits_for, waits_for), (_STORED.put_back, comes_out_after)):
        for id, *_ in circle(found, after):
            text = f"{shown(id)} comes after itself, by way of {shown(field)}"
            scope.report(stored[id].key_place(), text, Broken.CIRCLE)
            found[id] = replace(found[id], after=(), put_back=None)
    return found


def resolve_test_points(scope: Scope) -> dict[str, TestPoint]:
    """Test points; where no pairs are named, each terminal is measured to each other."""
    found = {}
    for entry in scope.entries(TestPointSource, _SECTION.test_points):
        source = entry.source
        if len(source.terminals) > MOST_TERMINALS:
            text = f"{shown(entry.id)} has {len(source.terminals)} terminals; {MOST_TERMINALS} at most"
            scope.report(entry.place(_TEST.terminals), text, Broken.SIZE)
            continue
        found[entry.id] = TestPoint(
            id=entry.id,
            title=source.title,
            expects=source.expects,
            electrical=source.electrical,
            pairs=source.pairs or tuple("-".join(pair) for pair in combinations(source.terminals, 2)),
            below=source.below if source.electrical else None,
        )
    return found


def _put_back(scope: Scope, entry: Entry[StoredSource]) -> PutBack | None:
    source = entry.source.put_back
    if source is None:
        return None
    if source.inside and source.under_power:
        text = "a hold that lies inside cannot come out under power; say one of them"
        scope.report(entry.key_place(_STORED.put_back, _BACK.under_power), text, Broken.ZONE)
    stored = scope.found.maps[_SECTION.stored]
    after = scope.all_of(entry, [_STORED.put_back, _BACK.waits_for], Named.STORED, source.waits_for, stored)
    return PutBack(do=source.do, inside=source.inside, under_power=source.under_power, where=source.where, after=after)
