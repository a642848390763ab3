"""Small machines for the reasoning tests, made in code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diag.machine.approval.approval import Approval
from diag.machine.isolation import Minutes
from diag.machine.model import Access, Cause, Check, Energy, Follow, Indication, Kind, Machine, Remedy, Role, State

EVERYONE = tuple(Role)
USUAL_MINUTES = Minutes(lock=10.0, restore=5.0, live=3.0, call=90.0)


def lamp(
    id: str, states: Sequence[str] = ("lit", "dark"), normal: str | None = None, follows: Sequence[Follow] = ()
) -> Indication:
    return Indication(
        id=id,
        kind=Kind.LAMP,
        title=id,
        states=tuple(State(s) for s in states),
        normal=normal or states[0],
        follows=tuple(follows),
    )


def remedy(id: str, minutes: float, access: Access = Access.OUTSIDE, zone: str = "", chance: float = 0.95) -> Remedy:
    return Remedy(id=id, do="", minutes=minutes, access=access, who=EVERYONE, zone=zone, chance=chance)


def cause(
    id: str,
    rate: float = 1.0,
    shows: Mapping[str, Mapping[str, float]] | None = None,
    remedy: Remedy | None = None,
    rest_probability: float = 0.0,
) -> Cause:
    return Cause(
        id=id, title=id, part="", rate=rate, shows=shows or {}, remedy=remedy, rest_probability=rest_probability
    )


def check(
    id: str,
    gives: Sequence[str],
    minutes: float = 1.0,
    access: Access = Access.OUTSIDE,
    zone: str = "",
    who: Sequence[Role] = EVERYONE,
    energy: Energy = Energy.ANY,
) -> Check:
    return Check(
        id=id,
        title=id,
        gives=tuple(gives),
        do="",
        minutes=minutes,
        access=access,
        who=tuple(who),
        zone=zone,
        energy=energy,
    )


def machine(
    indications: Sequence[Indication],
    causes: Sequence[Cause],
    checks: Sequence[Check] | None = None,
    minutes: Minutes = USUAL_MINUTES,
) -> Machine:
    """A machine of these parts; without `checks` each indication is seen at a glance."""
    if checks is None:
        checks = [check(f"see-{i.id}", [i.id]) for i in indications]
    remedies = {c.remedy.id: c.remedy for c in causes if c.remedy}
    return Machine(
        id="bench",
        title="Bench",
        place="",
        revision="1",
        approval=Approval(),
        hazards=(),
        neighbours=(),
        minutes=minutes,
        reset_limit=2,
        call={},
        points={},
        stored={},
        test_points={},
        zones={},
        dangers=(),
        resets={},
        groups={},
        indications={i.id: i for i in indications},
        face=(),
        causes={c.id: c for c in causes},
        remedies=remedies,
        checks={c.id: c for c in checks},
        trees={},
        start="",
        examples=(),
    )
