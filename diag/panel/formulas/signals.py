"""Signals and networks: a resistance thermometer, a current loop, the ends of a bus, the cycle of a line."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final, Literal

# ---------------------------------------------------------------- Pt100

A: Final = 3.9083e-3
B: Final = -5.775e-7
C: Final = -4.183e-12
"""Of the Callendar and Van Dusen equation, per degC, degC^2, degC^4 (IEC 60751). C counts below 0 degC only."""
LOWEST: Final = -200.0
HIGHEST: Final = 850.0
"""degC, the range of the standard."""


def pt100_ohms(celsius: float) -> float:
    """Resistance in ohm at that temperature (IEC 60751). Raises ValueError outside -200 to 850 degC."""
    if not LOWEST <= celsius <= HIGHEST:
        raise ValueError("A Pt100 is defined from -200 to 850 degC.")
    c = C if celsius < 0 else 0.0
    return 100 * (1 + A * celsius + B * celsius**2 + c * (celsius - 100) * celsius**3)


def pt100_celsius(ohm: float) -> float:
    """Temperature in degC at that resistance (IEC 60751). Raises ValueError outside 18.52 to 390.48 ohm.

    Below 18.52 ohm a sensor is shorted, above 390.48 ohm it is open, or it is no Pt100.
    """
    low, high = pt100_ohms(LOWEST), pt100_ohms(HIGHEST)
    if not low <= ohm <= high:
        raise ValueError(f"{ohm:g} ohm is outside a Pt100's range of {low:.2f} to {high:.2f} ohm: shorted or open.")
    found = (-A + math.sqrt(A * A - 4 * B * (1 - ohm / 100))) / (2 * B)
    if ohm >= 100:
        return found + 0.0  # no negative zero
    found = max(found, LOWEST)
    for _ in range(20):  # Newton; the quadratic is at most 2.5 degC off, so a few steps do
        slope = 100 * (A + 2 * B * found + C * (4 * found**3 - 300 * found**2))
        before, found = found, max(found - (pt100_ohms(found) - ohm) / slope, LOWEST)
        if abs(found - before) < 1e-10:
            break
    return found


# ---------------------------------------------------------------- a 4 to 20 mA loop

FAILED_LOW: Final = 3.6
VALID_LOW: Final = 3.8
VALID_HIGH: Final = 20.5
FAILED_HIGH: Final = 21.0
"""mA. Valid from 3.8 to 20.5, failed at 3.6 and below or at 21 and above (NAMUR NE 43); between them neither."""


Loop = Literal["failed, low", "neither, low", "valid", "neither, high", "failed, high"]


def loop_band(milliamps: float) -> Loop:
    """The NE 43 band of a loop current in mA. Raises ValueError when it is not a number."""
    if math.isnan(milliamps):
        raise ValueError("The loop current must be a number.")
    if milliamps < VALID_LOW:
        return "failed, low" if milliamps <= FAILED_LOW else "neither, low"
    if milliamps > VALID_HIGH:
        return "failed, high" if milliamps >= FAILED_HIGH else "neither, high"
    return "valid"


def loop_percent(milliamps: float) -> float:
    """Percent of span that a valid current stands for: 4 mA is 0, 20 mA is 100. Raises ValueError on a current that
    NE 43 does not call valid, because it stands for nothing then.
    """
    found = loop_band(milliamps)
    if found != "valid":
        raise ValueError(f"{milliamps:g} mA is no value: {found} (NAMUR NE 43).")
    return (milliamps - 4) / 16 * 100


# ---------------------------------------------------------------- terminators of a two-wire bus

EACH: Final = 120.0
"""Ohm of one terminator (ISO 11898-2, TIA-485)."""
SPREAD: Final = 0.15
"""How far from the exact value a reading may lie: terminators of 5 %, the cable and the stations in parallel. Ours."""
SHORT: Final = 10.0
"""Ohm. Under this the wires touch. Ours."""


Bus = Literal[
    "wires shorted",
    "a terminator too many",
    "two terminators",
    "one terminator missing",
    "no terminator, or the wire is open",
    "cannot say",
]
_WHOLE: Final[Mapping[int, Bus]] = {3: "a terminator too many", 2: "two terminators", 1: "one terminator missing"}


def terminators(ohms: float) -> float:
    """How many terminators of 120 ohm in parallel have that resistance; infinite for a dead short.

    Raises ValueError when negative or not a number.
    """
    if not ohms >= 0:
        raise ValueError("The resistance cannot be negative.")
    return EACH / ohms if ohms else math.inf


def bus_state(count: float) -> Bus:
    """What the bus is like when it reads, with the power off, as so many terminators in parallel."""
    if count > EACH / SHORT:
        return "wires shorted"
    for whole, found in _WHOLE.items():
        if count and abs(whole / count - 1) <= SPREAD:
            return found
    return "no terminator, or the wire is open" if count < EACH / 1000 else "cannot say"


# ---------------------------------------------------------------- the cycle of a line network

MEGABITS: Final = 100.0
OVERHEAD: Final = 38
"""Bytes around every payload: preamble 8, header 14, check sum 4, gap 12 (IEEE 802.3)."""
LEAST_PAYLOAD: Final = 46
MOST_PAYLOAD: Final = 1500
"""Bytes of payload in one frame (IEEE 802.3)."""
PASS_ON: Final = 1.0
"""Microseconds that a station takes to pass a telegram on, each way. Of the order of cut-through hardware; ours."""
USABLE: Final = 0.8
"""The share of the cycle that telegrams may take; the rest is for the application and for jitter. Ours."""


def cycle_percent(stations: float, bytes_each: float, retries: float, cycle_ms: float) -> float:
    """Percent of the cycle that telegrams take on a line of stations that each pass them on, every retry made.

    One exchange is a telegram out through every station and back, on 100 Mbit/s Ethernet. This is what such networks
    have in common; the controller's own figures go first. Data that does not fit one frame goes in several. Raises
    ValueError unless there is at least one station, no negative number, and a positive cycle time in milliseconds.
    """
    if stations < 1 or bytes_each < 0 or retries < 0:
        raise ValueError("There must be at least one station, and bytes and retries cannot be negative.")
    if not (math.isfinite(cycle_ms) and cycle_ms > 0):
        raise ValueError("The cycle time must be a positive number of milliseconds.")
    once = wire_bytes(int(stations) * int(bytes_each)) * 8 / MEGABITS + 2 * int(stations) * PASS_ON
    return 100 * once * (1 + int(retries)) / (cycle_ms * 1000)


def wire_bytes(payload: int) -> int:
    """Bytes on the wire of the frames that carry so much payload, with everything around each of them."""
    full, rest = divmod(payload, MOST_PAYLOAD)
    last = max(rest, LEAST_PAYLOAD) + OVERHEAD if rest or not full else 0
    return full * (MOST_PAYLOAD + OVERHEAD) + last
