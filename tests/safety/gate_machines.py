"""Small machines for the gate's tests, built in code: only what the gate reads."""

from __future__ import annotations

from diag.machine.approval.approval import Approval
from diag.machine.isolation import IsolationPoint, Minutes, PutBack, StoredEnergy, TestPoint, Zone
from diag.machine.model import Danger, Machine, Reset, Role

ROLES = tuple(Role)


def zone(id: str, points: str, stored: str = "", tests: str = "", electrical: bool = True) -> Zone:
    """A zone from words: its points, stored energies and test points, each as names with blanks between."""
    return Zone(
        id=id,
        title=f"Zone {id}",
        points=tuple(points.split()),
        stored=tuple(stored.split()),
        test_points=tuple(tests.split()),
        electrical=electrical,
    )


def machine(
    *zones: Zone, foreign: str = "", mechanical: str = "", holds: str = "", dangers: tuple[Danger, ...] = ()
) -> Machine:
    """A machine with these zones. `foreign` and `mechanical` name isolation points, with blanks between. `holds` names
    stored energies and how each hold comes out: `pin:inside`, `valve:outside`, `prop:under`."""
    held = dict(hold.split(":") for hold in holds.split())
    points = {p: None for z in zones for p in z.points}
    stored = {s: None for z in zones for s in z.stored}
    tests = {t: None for z in zones for t in z.test_points}
    return Machine(
        id="bench",
        title="Bench",
        place="Test bench",
        revision="1",
        approval=Approval(),
        hazards=(),
        neighbours=(),
        minutes=Minutes(lock=12, restore=6, live=4, call=90),
        reset_limit=2,
        call={role: f"The {role}" for role in ROLES},
        points={
            p: IsolationPoint(
                id=p,
                title=f"Switch {p}",
                where="front",
                foreign=p in foreign.split(),
                electrical=p not in mechanical.split(),
            )
            for p in points
        },
        stored={
            s: StoredEnergy(id=s, title=f"Energy {s}", release="Let it go", wait=5, put_back=_put_back(held.get(s, "")))
            for s in stored
        },
        test_points={t: TestPoint(id=t, title=f"Terminals {t}", expects="0 V") for t in tests},
        zones={z.id: z for z in zones},
        dangers=dangers,
        resets={"clear": Reset(id="clear", title="Clear", do="Hold the key", who=ROLES)},
        groups={},
        indications={},
        face=(),
        causes={},
        remedies={},
        checks={},
        trees={},
        start="",
        examples=(),
    )


def _put_back(how: str) -> PutBack | None:
    return PutBack(do="Take it out", inside=how == "inside", under_power=how == "under") if how else None


def pinned() -> Machine:
    """A hold inside, one outside, and one that comes out under power."""
    return machine(zone("drum", "q1", "pin valve prop", "out"), holds="pin:inside valve:outside prop:under")


def plain() -> Machine:
    """One cabinet, one switch, one test point."""
    return machine(zone("cabinet", "q1", tests="out"))


def foreign() -> Machine:
    """The main switch and a circuit that feeds in from outside, two test points."""
    return machine(zone("cabinet", "q1 feed", tests="out in"), foreign="feed")


def three() -> Machine:
    """The main switch and two circuits that feed in from outside."""
    return machine(zone("cabinet", "q1 feed signals", tests="out"), foreign="feed signals")


def stored() -> Machine:
    """Two stored energies."""
    return machine(zone("drive", "q1", "bus lift", "bars"))


def mechanical() -> Machine:
    """A guarded area without electricity, with an air valve and two gauges."""
    return machine(zone("frame", "air", "receiver", "gauge lever", electrical=False), mechanical="air")


def sharing() -> Machine:
    """A cabinet and a guarded area that stand on the same main switch; the area has an air valve of its own."""
    return machine(
        zone("cabinet", "q1", tests="out"), zone("frame", "q1 air", tests="gauge", electrical=False), mechanical="air"
    )


def twins() -> Machine:
    """Two zones that stand on the very same switch."""
    return machine(zone("left", "q1", tests="l"), zone("right", "q1", tests="r"))


def overlap() -> Machine:
    """Two zones that share the main switch, each with a point of its own."""
    return machine(
        zone("cabinet", "q1 feed", tests="out"),
        zone("frame", "q1 air", tests="gauge", electrical=False),
        foreign="feed",
        mechanical="air",
    )


def hall() -> Machine:
    """Four zones on one main switch, with foreign points, air, stored energies and several test points."""
    return machine(
        zone("cabinet", "q1 feed", "bus", "out in"),
        zone("drives", "q1 feed", "bus", "bars"),
        zone("frame", "q1 air", "lift receiver", "gauge", electrical=False),
        zone("boxes", "q1 air", "bus lift", "motor gauge"),
        foreign="feed",
        mechanical="air",
    )


def drums() -> Machine:
    """Two zones with one pin between them; the second has a point of its own."""
    return machine(
        zone("left", "q1", "pin", "l", electrical=False),
        zone("right", "q1 q2", "pin", "r", electrical=False),
        holds="pin:inside",
    )


def props() -> Machine:
    """Two zones on one switch with one prop between them that comes out under power."""
    left, right = zone("left", "q1", "prop", "l", electrical=False), zone("right", "q1", "prop", "r", electrical=False)
    return machine(left, right, holds="prop:under")


def valves() -> Machine:
    """Two zones that share a drain outside, and no switch."""
    return machine(
        zone("left", "q1", "drain", "l", electrical=False),
        zone("right", "q2", "drain", "r", electrical=False),
        holds="drain:outside",
    )


def apart() -> Machine:
    """Two zones that share nothing."""
    return machine(zone("left", "q1", tests="l"), zone("right", "q2", tests="r"))


HELD = {f.__name__: f for f in (drums, props, valves)}
"""Two zones that share a hold: inside, under power, outside."""
SINGLES = {f.__name__: f for f in (plain, foreign, three, stored, mechanical)}
PAIRS = {f.__name__: f for f in (twins, sharing, overlap, apart)}
"""Every way in which the points of two zones can lie: the same, one's within the other's, overlapping, apart."""
