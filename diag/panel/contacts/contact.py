"""Contacts: what they should be, what a meter says they are, and what it means when a lamp disagrees.

Limits. Only "closed under 1 ohm with the power off" is common practice; the 0.85 of the supply comes from the lower
limit of a 24 V d.c. supply (IEC 61131-2, -15 %); the rest are ours, wide on purpose, with *cannot say* in between.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from diag.panel.meter.meter import Measured

CLOSED_OHM: Final = 1.0
"""At most this: closed (common practice, power off, leads subtracted)."""
HIGH_OHM: Final = 100.0
"""Up to this: a contact that closes badly. Above it a path in parallel is as likely."""
OPEN_OHM: Final = 1e6
"""From this, or OL: open. Below it something in parallel may be what was measured."""
CLOSED_SHARE: Final = 0.02
"""Of the supply across the contact: closed up to this."""
OPEN_SHARE: Final = 0.85
"""Of the supply across the contact, or behind it to common: from this on it is the whole supply."""
GONE_SHARE: Final = 0.2
"""Of the supply behind the contact, to common: up to this, nothing comes through (5 V of 24 V, IEC 61131-2 off)."""

WETTING: Final = (
    "A meter drives very little current. A power contact can read some ohms on a meter and be good under load: "
    "judge it by the voltage lost across it while it carries its current."
)
GHOST: Final = (
    "An open wire beside a live one can read tens of volts a.c. on a sensitive meter. "
    "Use the low-impedance range before you believe it."
)
POWER_OFF: Final = (
    "Measure ohms only with the circuit isolated, and with one side of the contact taken off where it can be."
)


class Form(StrEnum):
    """How a contact is built: make (normally open), break (normally closed), changeover (both, one common)."""

    MAKE = "make"
    BREAK = "break"
    CHANGEOVER = "changeover"


class Is(StrEnum):
    """What a measurement says of a contact."""

    OPEN = "open"
    CLOSED = "closed"
    HIGH = "high resistance"
    UNSURE = "cannot say"


@dataclass(frozen=True, slots=True)
class Judged:
    """The state found, why, and what to keep in mind."""

    state: Is
    why: str
    caution: str = ""

    def likelihood(self, states: Sequence[str]) -> dict[str, float]:
        """P(this measurement | the contact is in that state), up to a factor, for an indication's own `states`.

        States named `open`, `closed` and `high-resistance` (or `high resistance`) are known; without one for high
        resistance, a high reading speaks twice as much for closed as for open. A misread contact keeps 1 %. States
        of other names weigh the same under everything.
        """
        table = {
            Is.OPEN: {"open": 1.0, "closed": 0.01, "high": 0.02},
            Is.CLOSED: {"open": 0.01, "closed": 1.0, "high": 0.05},
            Is.HIGH: {"open": 0.05, "closed": 0.1, "high": 1.0},
            Is.UNSURE: {"open": 1.0, "closed": 1.0, "high": 1.0},
        }[self.state]
        found = {s: table.get("high" if s.startswith("high") else s, 1.0) for s in states}
        best = max(found.values(), default=1.0)
        return {s: w / best for s, w in found.items()}


def expected(form: Form, energised: bool, side: str = "make") -> Is:
    """What the contact should be with its coil (or its actuator) in that state.

    `side` says which half of a changeover: `make` or `break`.
    """
    makes = form is Form.MAKE or (form is Form.CHANGEOVER and side == "make")
    return Is.CLOSED if makes == energised else Is.OPEN


def coil_from(form: Form, state: Is, side: str = "make") -> bool | None:
    """Whether the coil must be energised if the contact works; None when the contact says neither."""
    if state not in (Is.OPEN, Is.CLOSED):
        return None
    return expected(form, True, side) is state


def by_ohms(measured: Measured, lead: float = 0.0) -> Judged:
    """A contact by its resistance, circuit isolated. `measured` in ohm; `lead` is the leads' own, taken off.

    Raises ValueError on a negative resistance.
    """
    if measured.value < 0 or lead < 0:
        raise ValueError("A resistance cannot be negative.")
    if measured.overload and measured.value < OPEN_OHM:
        return Judged(Is.UNSURE, f"More than {measured.value:g} ohm: use a higher range.", POWER_OFF)
    value = max(measured.value - lead, 0.0)
    if value <= CLOSED_OHM:
        return Judged(Is.CLOSED, f"{value:g} ohm; closed is at most {CLOSED_OHM:g} ohm.")
    if value >= OPEN_OHM:
        return Judged(Is.OPEN, "No path: at least 1 Mohm.")
    if value <= HIGH_OHM:
        return Judged(Is.HIGH, f"{value:g} ohm; a closed contact has at most {CLOSED_OHM:g} ohm.", WETTING)
    return Judged(
        Is.UNSURE, f"{value:g} ohm may be a path in parallel; take one side off and measure again.", POWER_OFF
    )


def by_volts_across(volts: float, supply: float, fed: bool | None = None) -> Judged:
    """A live contact by the voltage across it. `supply` in volts; `fed`: the supply was found before the contact and
    the rest of its loop is known to be whole (None: not looked at).

    The whole supply across it shows it open. Little across it shows it closed only if the loop is fed and carries
    current; an opening elsewhere leaves nothing across it either. Raises ValueError unless the supply is positive.
    """
    share = _share(volts, supply)
    if share >= OPEN_SHARE:
        return Judged(Is.OPEN, f"{volts:g} V across it is the whole supply of {supply:g} V.")
    if not fed:
        return Judged(
            Is.UNSURE, "Little across it: closed, or the loop is open elsewhere. Check its feed to common.", GHOST
        )
    if share <= CLOSED_SHARE:
        return Judged(Is.CLOSED, f"{volts:g} V across it; closed is at most {100 * CLOSED_SHARE:g} % of the supply.")
    if share <= 0.5:
        return Judged(Is.HIGH, f"{volts:g} V is lost across it under load.")
    return Judged(Is.UNSURE, f"{volts:g} V across it is neither closed nor the whole supply.", GHOST)


def by_volts_to_common(before: float, behind: float, supply: float) -> Judged:
    """A live contact by the voltage to common before and behind it, in volts.

    Without voltage before it nothing can be said. Raises ValueError unless the supply is positive.
    """
    if _share(before, supply) < OPEN_SHARE:
        return Judged(Is.UNSURE, f"Only {before:g} V arrives before it; look towards the supply first.")
    if _share(behind, supply) <= GONE_SHARE:
        return Judged(Is.OPEN, f"{before:g} V before it, {behind:g} V behind it.")
    lost = _share(before - behind, supply)
    if lost <= CLOSED_SHARE:
        return Judged(
            Is.CLOSED, f"{before:g} V before it, {behind:g} V behind it.", "A load fed from elsewhere reads the same."
        )
    if lost <= 0.5:
        return Judged(Is.HIGH, f"{before - behind:g} V is lost across it.")
    return Judged(Is.UNSURE, f"{behind:g} V behind it is neither through nor gone.", GHOST)


def _share(volts: float, supply: float) -> float:
    if not supply > 0:
        raise ValueError("The supply must be a positive voltage.")
    return abs(volts) / supply


# ---------------------------------------------------------------- a contact against its lamp


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A lamp and a contact that report the same thing, and do not agree. `causes` in words, likeliest first."""

    name: str
    causes: tuple[str, ...]


def contradiction(lamp_says: bool, contact_says: bool) -> Contradiction | None:
    """How the lamp and the contact of one signal disagree about the fault; None when they agree."""
    if lamp_says == contact_says:
        return None
    if lamp_says:
        return Contradiction(
            "lamp says fault, contact says none",
            (
                "the contact is welded or stuck, or its relay did not drop",
                "the contact is bridged, or its wire has a path round it",
                "the lamp shows an older fault that is latched; the contact follows the present state",
                "the contact was measured at the wrong terminals, or is of the other form",
            ),
        )
    return Contradiction(
        "contact says fault, lamp says none",
        (
            "the contact or its wire is open, or its relay has lost its supply",
            "the lamp is dead; do the lamp test",
            "the contact also opens for something that the lamp does not show",
            "the contact was measured at the wrong terminals, or is of the other form",
        ),
    )
