"""What a lockout is about: isolation points, stored energy, test points, zones, and the minutes that it all takes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationPoint:
    id: str
    title: str
    where: str
    electrical: bool = True
    """Switching it off takes the energy away that lamps, displays and voltages need."""
    foreign: bool = False
    """It feeds a circuit from outside this machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEnergy:
    id: str
    title: str
    release: str
    """How it is released, in words."""
    wait: float = 0.0
    """Minutes on the device's own label. A countdown informs; it never permits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestPoint:
    __test__ = False
    id: str
    title: str
    expects: str
    """What a dead point reads, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A place behind an enclosure or a guard, and what must be off before anyone works in it."""

    id: str
    title: str
    points: tuple[str, ...]
    stored: tuple[str, ...] = ()
    test_points: tuple[str, ...] = ()
    electrical: bool = True
    """It must be proved dead with a meter; a purely mechanical zone is proved by its own test points alone."""


@dataclass(frozen=True, slots=True)
class Minutes:
    """The machine's own set-up times."""

    lock: float
    restore: float
    live: float
    call: float
