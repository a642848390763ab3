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
    tag: str = ""
    """What it is called on the whole site; a lock there shows wherever the same tag is named. Empty: it has none."""
    lost_with: tuple[str, ...] = ()
    """What is gone once it is off (light, a bell, pumps), said before it is switched off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PutBack:
    """How the hold of a stored energy (a pin, a prop, an open drain) comes out again on the way back."""

    do: str
    inside: bool = False
    """It lies inside, so it comes out before the covers are on."""
    under_power: bool = False
    """It comes out only once the power is back: a load that must be lifted off its prop."""
    where: str = ""
    """From where it is taken out, which matters under power."""
    after: tuple[str, ...] = ()
    """Stored energies whose holds come out first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOff:
    """Something that a check or a remedy takes off, lifts, bridges, earths or changes; it goes back by its name."""

    what: str
    earth: bool = False
    """An earth or a short: it comes out as the last act inside."""
    phases: bool = False
    """Phases are disconnected, so the direction of rotation is looked at before the first run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TryOut:
    """With what a start is tried once everything is locked."""

    control: str
    works_when: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Indications and the states in which the start could work at all; else the try proves nothing."""
    back_to: str = ""
    """How the control is left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEnergy:
    id: str
    title: str
    release: str
    """How it is released, in words."""
    wait: float = 0.0
    """Minutes on the device's own label. A countdown informs; it never permits."""
    counts_from: str = ""
    """The isolation point that starts the wait when it is switched off. Empty: the last point of the zone."""
    counts_when: str = ""
    """What starts the wait, in words, where that is no isolation point; somebody says when it is so."""
    after: tuple[str, ...] = ()
    """Stored energies that are released first."""
    put_back: PutBack | None = None
    """What holds or drains it and must come out again; None where nothing stays in."""
    test_points: tuple[str, ...] = ()
    """Electrical energy: the test points at any of which a meter shows that it is gone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestPoint:
    __test__ = False
    id: str
    title: str
    expects: str
    """What a dead point reads, in words."""
    electrical: bool = True
    """It is proved with a meter; false for a gauge or a pointer."""
    pairs: tuple[str, ...] = ()
    """Every pair that is measured there, by name."""
    below: float | None = None
    """Volts. Each pair reads less than this when the point is dead; at or above it is voltage found. None: the file
    does not say, and no value is asked for."""


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
    before_off: tuple[str, ...] = ()
    """What must be done by the controls alone, while the power is still on."""
    lock: float | None = None
    """Minutes to lock out and prove dead, where this zone takes longer or shorter than the machine as a whole."""
    try_out: TryOut | None = None


@dataclass(frozen=True, slots=True)
class Minutes:
    """The machine's own set-up times."""

    lock: float
    restore: float
    live: float
    call: float
