"""What one state of an indication looks like: a sign whose shape tells the state, and the name of its style.

Round for lamps, square for contacts, triangles for readings and questions; filled, hollow and dotted tell on, off
and not looked at, so that nothing hangs on colour. A flashing lamp shows how many flashes it counts beside its sign.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from diag.machine.model import Indication, Kind

UNSEEN = dict.fromkeys(Kind, "▹") | {Kind.LAMP: "◌", Kind.CONTACT: "▫"}
SEEN = "▸"
LIT, DARK, FLASH_ON, FLASH_OFF = "●", "○", "◉", "◎"
CLOSED, OPEN, TRIPPED, HIGH = "■", "□", "◪", "◧"
CANNOT_TELL = "?"

COLOURS = ("red", "amber", "orange", "yellow", "green", "blue", "white")
"""Lamp colours that the style sheet knows; amber and orange are drawn alike."""

_COUNT = re.compile(r"(\d+) flash")


@dataclass(frozen=True, slots=True)
class Sign:
    """One character, a mark beside it (a flash count, `~` for flicker, `/` for two colours in turn, or a space), and a
    style's name."""

    shape: str
    mark: str = " "
    style: str = ""


def lamp_style(colour: str) -> str:
    """`.lamp-green` for any text that names a colour of the style sheet; `.lamp-white` for any other."""
    words = colour.lower().split()
    found = next((c for c in COLOURS if c in words), "white")
    return ".lamp-" + ("amber" if found == "orange" else found)


def flashes(pattern: str) -> bool:
    """The pattern is neither steady nor off."""
    words = pattern.split()
    return bool(words) and words[-1] not in ("steady", "off")


def pattern_of(indication: Indication, state: str) -> str:
    """The pattern of a lamp in a state, where its file says none the plain one."""
    return indication.state(state).pattern or ("off" if state == "dark" else "steady")


def sign(indication: Indication, state: str, on: bool = True, colour: str = "") -> Sign:
    """The sign of a state; `on` and `colour`: the phase of a flashing lamp. An empty state is one that nobody has
    looked at."""
    kind = indication.kind
    if not state:
        return Sign(UNSEEN[kind], style=".quiet")
    if kind not in (Kind.LAMP, Kind.CONTACT):
        return Sign(SEEN, style=".value")
    if state not in indication.state_ids:
        return Sign(CANNOT_TELL, style=".quiet")
    return _lamp(indication, state, on, colour) if kind is Kind.LAMP else _contact(indication, state)


def _lamp(indication: Indication, state: str, on: bool, colour: str) -> Sign:
    style = lamp_style(colour or indication.state(state).colour or indication.colour)
    pattern = pattern_of(indication, state)
    if not flashes(pattern):
        return Sign(DARK, style=".value") if pattern.endswith("off") else Sign(LIT, style=style)
    count = _COUNT.search(pattern)
    mark = count[1] if count else "~" if "flicker" in pattern else "/" if "alternating" in pattern else " "
    return Sign(FLASH_ON if on else FLASH_OFF, mark, style)


def _contact(indication: Indication, state: str) -> Sign:
    if state.startswith("high"):
        return Sign(HIGH, style=".value")
    if state not in ("closed", "open") and indication.state(state).protective:
        return Sign(TRIPPED, style=".warn")
    # One that has states of its own, such as a fuse, is drawn as closed while all is well.
    whole = "closed" if state in ("closed", "open") else indication.normal
    return Sign(CLOSED if state == whole else OPEN, style=".value")


def pattern_words(indication: Indication, state: str) -> str:
    """How a lamp looks in a state, where its name does not say it: `red, 2 flashes`; empty for steady and off."""
    if indication.kind is not Kind.LAMP:
        return ""
    shown = indication.state(state)
    words = [shown.colour] if shown.colour and shown.colour != indication.colour else []
    if flashes(shown.pattern):
        words.append(shown.pattern.removeprefix(shown.colour).strip())
    return " ".join(words)
