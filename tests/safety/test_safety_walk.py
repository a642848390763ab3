"""Every reachable state of every machine's gate: nobody is shown inside work, or may answer it, but past the gate."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import gate_machines
import pytest
from canon import ANN, BOB, key, key_of_one
from ledger import Ledger
from walk import ABLE, KINDS, Walk

from diag.machine.isolation import TakenOff, Zone
from diag.machine.load import read
from diag.machine.model import Machine
from diag.safety import Act, Isolation

ROOT = Path(__file__).parents[2]
KEPT = ("knowledge", "tests/machines", "tests/modules")
FOLDERS = [f.parent for kept in KEPT for f in sorted((ROOT / kept).glob("*/machine.yaml"))]
RECORD = Callable[[str, object], None]
SMALL = 4
"""Zones with more points, energies and test points than this are marked as slow."""
LARGE = 9
"""Zones with more than this are walked with one person; two of them roam through these (`test_safety_roam.py`)."""

UNDO = frozenset({Act.RETRACT})
WITHIN = frozenset({Act.TEST_POWER, Act.LIVE, Act.METER_FAILED})
"""Acts whose doing stays within one zone, or within one person, and that the other walks try."""


def told(record: RECORD, what: str, *walks: Walk) -> None:
    states, acts = sum(w.visited for w in walks), sum(w.edges for w in walks)
    record("figure", f"gate of {what}: {states:,} states visited, {acts:,} acts taken, rule and ledger agree at each")


@pytest.mark.parametrize("name", sorted(gate_machines.SINGLES.keys() - {"three"}))
def test_one_zone_two_persons(name: str, record_property: RECORD) -> None:
    """All of it, with nothing left out; on the two smallest benches with all twelve kinds of person."""
    kinds = KINDS if name in ("plain", "mechanical") else Walk.kinds
    walk = Walk(gate_machines.SINGLES[name](), kinds=kinds).run()
    told(record_property, f"bench {name}, two persons", walk)


THINGS = (TakenOff(what="plug X14", phases=True), TakenOff(what="earth at U1", earth=True))


@pytest.mark.source(
    "29 CFR 1910.333(b)(2)(v); 1910.147(e), (f)(1), App. A: what is out, shut, seen and said before power",
    found="read in public text",
)
def test_holds_and_what_was_taken_off_one_person(record_property: RECORD) -> None:
    """Holds inside, outside and under power, with things taken off and earths put on, nothing left out."""
    walk = Walk(gate_machines.pinned(), names=("Ann",), things={"drum": THINGS}).run()
    told(record_property, "bench pinned, one person, things taken off", walk)


@pytest.mark.slow
def test_holds_two_persons(record_property: RECORD) -> None:
    walk = Walk(gate_machines.pinned(), kinds=(ABLE,), things={"drum": THINGS[:1]}).run()
    told(record_property, "bench pinned, two persons, things taken off", walk)


@pytest.mark.parametrize("name", sorted(gate_machines.HELD))
def test_a_hold_of_two_zones(name: str, record_property: RECORD) -> None:
    """Two zones that share what is held in, one person; without what the walks above take back."""
    without = UNDO | WITHIN | {Act.VOLTAGE_FOUND, Act.MOVED}
    machine = gate_machines.HELD[name]()
    walk = Walk(machine, kinds=(ABLE,), names=("Ann",), at_once=True, gaps=False, without=without).run()
    told(record_property, f"bench {name}, one person, a hold of two zones", walk)


def shape(machine: Machine, zone: Zone) -> tuple[object, ...]:
    """What the gate reads of a zone besides names and texts; zones that have it in common have one walk."""
    at = {s: n for n, s in enumerate(zone.stored)}
    stored = []
    for s in (machine.stored[id] for id in zone.stored):
        back = s.put_back
        held = back and (back.inside, back.under_power, tuple(at.get(a) for a in back.after))
        stored.append((tuple(at.get(a) for a in s.after), bool(s.counts_when), held))
    points = tuple(machine.points[p].electrical for p in zone.points)
    tests = tuple(machine.test_points[t].below is None for t in zone.test_points)
    return zone.electrical, points, tuple(stored), tests, len(zone.before_off)


def zones() -> Iterator[object]:
    """One zone of each shape that a machine has."""
    alike: dict[object, list[tuple[Machine, str]]] = {}
    for machine in map(read, FOLDERS):
        for zone in machine.zones.values():
            alike.setdefault(shape(machine, zone), []).append((machine, zone.id))
    for (machine, id), *others in alike.values():
        zone = machine.zones[id]
        large = size(zone) > SMALL
        names = ", ".join(f"{m.id} {z}" for m, z in [(machine, id), *others])
        yield pytest.param(machine, id, names, id=f"{machine.id}-{id}", marks=[pytest.mark.slow] if large else [])


def size(zone: Zone) -> int:
    return len((*zone.points, *zone.stored, *zone.test_points, *zone.before_off))


@pytest.mark.parametrize(("machine", "zone", "names"), list(zones()))
def test_every_zone_of_every_machine(machine: Machine, zone: str, names: str, record_property: RECORD) -> None:
    """Each zone by itself, nothing left out; points, energies and tests by their number. Two persons, or in the largest
    zones one, so that all of them are walked to the end in minutes."""
    alone = size(machine.zones[zone]) > LARGE
    only = replace(machine, zones={zone: machine.zones[zone]})
    walk = Walk(only, names=(ANN,) if alone else (ANN, BOB), by_number=True).run()
    told(record_property, f"{names}, {'one person' if alone else 'two persons'}", walk)


class Both(Walk):
    """A walk over all states that also notes what each counts as when points, energies and tests have no names."""

    def key(self, isolation: Isolation, ledger: Ledger) -> object:
        self.__dict__.setdefault("numbers", set()).add(key_of_one(isolation, ledger, self.machine))
        return key(isolation, ledger)


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=[pytest.mark.slow] if n in ("three", "foreign") else []) for n in gate_machines.SINGLES],
)
def test_by_number_nothing_is_left_out(name: str, record_property: RECORD) -> None:
    """The states of the walk by number are those of the whole walk, each as often as it has names. The whole walks also
    find a rule that would read only the first point of a zone, or the last."""
    machine = gate_machines.SINGLES[name]()
    whole, few = Both(machine).run(), Walk(machine, by_number=True).run()
    assert whole.__dict__["numbers"] == few.how.keys()
    assert few.visited < whole.visited or name in ("plain", "mechanical")
    told(record_property, f"bench {name}, two persons, by name and by number", whole, few)


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(n, marks=[pytest.mark.slow] if n == "overlap" else [])
        for n in sorted(gate_machines.PAIRS.keys() - {"twins"})
    ],
)
def test_two_zones_one_person(name: str, record_property: RECORD) -> None:
    """Two zones for every other way in which their points can lie; without taking back, which the next test has."""
    walk = Walk(gate_machines.PAIRS[name](), names=("Ann",), at_once=True, gaps=False, without=UNDO).run()
    told(record_property, f"bench {name}, one person, without taking back", walk)


@pytest.mark.slow
def test_taking_back_in_one_of_two_zones(record_property: RECORD) -> None:
    """Two zones on the same switch, one person, with every confirmation taken back at every moment."""
    walk = Walk(gate_machines.twins(), names=("Ann",), at_once=True, gaps=False).run()
    told(record_property, "bench twins, one person", walk)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["twins", "sharing"])
def test_two_zones_two_persons(name: str, record_property: RECORD) -> None:
    """Locks that two persons put on, share between two zones, and take off in any order; `WITHIN` and undo left out."""
    machine = gate_machines.PAIRS[name]()
    walk = Walk(machine, kinds=(ABLE,), at_once=True, gaps=False, without=UNDO | WITHIN).run()
    told(record_property, f"bench {name}, two persons, without taking back, test power and live work", walk)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda f: f.name)
def test_no_pair_of_zones_lies_otherwise(folder: Path) -> None:
    """The benches of two zones stand for every pair of every machine."""
    benches = {lie(bench()) for bench in gate_machines.PAIRS.values()}
    machine = read(folder)
    zones = list(machine.zones.values())
    for i, one in enumerate(zones):
        for other in zones[i + 1 :]:
            assert lie(replace(machine, zones={z.id: z for z in (one, other)})) in benches


def lie(machine: Machine) -> tuple[bool, bool, bool]:
    """How the points of two zones lie: some shared, and how many of the two have points of their own."""
    one, other = (set(z.points) for z in machine.zones.values())
    own = sorted([bool(one - other), bool(other - one)])
    return bool(one & other), own[0], own[1]
