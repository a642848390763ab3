"""The cycle budget of a line network: how much of its cycle time the telegrams take, and how many retries fit.

A line of stations that each pass the telegram on, on 100 Mbit/s Ethernet (IEEE 802.3). One exchange is a telegram
out through every station and back. Only what such networks have in common; the controller's own figures go first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

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


@dataclass(frozen=True, slots=True)
class Budget:
    """Where the cycle goes."""

    once: float
    """Microseconds of one exchange with all stations."""
    used: float
    """Microseconds with every allowed retry made."""
    share: float
    """`used` over the cycle time."""
    fits: bool
    """Within the usable share of the cycle."""
    most_retries: int
    """As many as fit; -1 when not even one exchange does."""


def budget(stations: int, bytes_each: int, retries: int, cycle_ms: float, pass_on: float = PASS_ON) -> Budget:
    """The budget of `stations` with so many bytes of process data each, at a cycle time in milliseconds.

    Data that does not fit one frame goes in several. Raises ValueError unless there is at least one station, no
    negative number, and a positive cycle time.
    """
    if stations < 1 or bytes_each < 0 or retries < 0 or pass_on < 0:
        raise ValueError("There must be at least one station, and bytes, retries and delays cannot be negative.")
    if not (math.isfinite(cycle_ms) and cycle_ms > 0):
        raise ValueError("The cycle time must be a positive number of milliseconds.")
    once = wire_bytes(stations * bytes_each) * 8 / MEGABITS + 2 * stations * pass_on
    usable = cycle_ms * 1000 * USABLE
    used = once * (1 + retries)
    return Budget(once, used, used / (cycle_ms * 1000), used <= usable, math.floor(usable / once + 1e-9) - 1)


def wire_bytes(payload: int) -> int:
    """Bytes on the wire of the frames that carry so much payload, with everything around each of them."""
    full, rest = divmod(payload, MOST_PAYLOAD)
    last = max(rest, LEAST_PAYLOAD) + OVERHEAD if rest or not full else 0
    return full * (MOST_PAYLOAD + OVERHEAD) + last
