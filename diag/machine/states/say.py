"""What a person says of an indication, turned into its state: a state's name, a display's code, a reading."""

from __future__ import annotations

import re

from diag.machine.model import Indication, Kind
from diag.machine.names import Named, nearest, unknown
from diag.machine.problem import shown
from diag.machine.states import bands
from diag.machine.states.codes import MOST_STEPS, decode, decode_exact, width
from diag.panel.contacts import contact as contacts
from diag.panel.lamps import flash
from diag.panel.meter.meter import BadReading, parse
from diag.text import clean

__all__ = ["CannotRead", "band", "decode", "state_of"]


class CannotRead(ValueError):
    """What was said is no state of the indication. The message is one line; `nearest` the nearest right word."""

    def __init__(self, text: str, nearest: str = "") -> None:
        super().__init__(text)
        self.nearest = nearest


def band(indication: Indication, value: float) -> str:
    """The state that a reading's value lies in.

    A value on the limit between two bands belongs to the normal band, else to the one nearer the normal band. `value`
    is in the indication's unit and may be infinite (a meter's overload); NaN raises CannotRead.
    """
    if value != value:
        raise CannotRead("that is not a number")
    return bands.place(indication.bands, indication.normal, value)


def state_of(indication: Indication, text: str) -> str:
    """The state that `text` says the indication is in. Raises CannotRead with the nearest right words.

    Taken are, in this order: a state's name; a display's code; how a lamp looks (`off`, `blink 1 Hz`); a reading with
    or without its unit (`23,9 V`, `1k2`, `OL`); the ohms of a contact that is measured by continuity. Names of states
    are taken in any case, and with spaces for hyphens; codes as `diag.machine.states.codes` says. A text that fits on a
    display (or in the steps of one that scrolls) and is no code of the file is the state `other`. Of an alarm list all
    alarms may be said, the one that came first in front: that one is its state.
    """
    said = text.strip()
    states = indication.state_ids
    if said in states:
        return said
    if indication.kind is Kind.DISPLAY:
        state = decode_exact(indication, text)
        if state is not None:
            return state
    same = [id for id in states if id.casefold() == "-".join(said.casefold().split())]
    if len(same) == 1:
        return same[0]
    if indication.kind in (Kind.DISPLAY, Kind.HISTORY):
        return _decoded(indication, said)
    if indication.kind is Kind.LAMP:
        return _seen(indication, said)
    if indication.kind is Kind.READING:
        return _measured(indication, said)
    if indication.measured == "continuity":
        return _judged(indication, said)
    raise _unknown(indication, said)


def _decoded(indication: Indication, said: str) -> str:
    """The state of a code that a display may show, or of the alarm that came first."""
    if "\n" not in said and clean(said) == said:
        if indication.kind is Kind.HISTORY:
            code = re.split(r"[\s,;]+", said.strip(" ,;"))[0]
        else:
            most = MOST_STEPS if indication.scrolls else indication.characters
            code = said if width(said) <= most else ""
        if code:
            return decode(indication, code)
    raise _unknown(indication, said)


def _seen(indication: Indication, said: str) -> str:
    """The one state of a lamp that looks as `said`: `off`, `blink 1 Hz`, `red steady`."""
    try:
        look = flash.parse(said)
    except flash.BadPattern:
        raise _unknown(indication, said) from None
    own = (look.colour or indication.colour, look.phases)
    same = []
    for state in indication.states:
        pattern = flash.parse(state.pattern)
        if (state.colour or indication.colour, pattern.phases) == own or pattern == look == flash.OFF:
            same.append(state.id)
    if len(same) != 1:
        raise _unknown(indication, said)
    return same[0]


def _measured(indication: Indication, said: str) -> str:
    try:
        measured = parse(said, indication.unit)
    except BadReading as error:
        if said[:1].isalpha() and nearest(said, indication.state_ids):
            raise _unknown(indication, said) from None
        raise CannotRead(str(error)) from None
    state = band(indication, measured.value)
    if measured.overload and state != band(indication, float("inf") if measured.value > 0 else float("-inf")):
        raise CannotRead(f"{shown(said)} does not say which of {', '.join(indication.state_ids)} it is; name one")
    return state


def _judged(indication: Indication, said: str) -> str:
    """The state of a contact by its ohms, where they settle it."""
    try:
        judged = contacts.by_ohms(parse(said, "ohm"))
    except (BadReading, ValueError):
        raise _unknown(indication, said) from None
    word = judged.state.value.replace(" ", "-")
    if word not in indication.state_ids:
        raise CannotRead(f"{judged.why} Name one of {', '.join(indication.state_ids)}")
    return word


def _unknown(indication: Indication, said: str) -> CannotRead:
    right = [*indication.state_ids, *(code.pattern for code in indication.codes if code.pattern.strip())]
    text, near = unknown(Named.STATE, said, right)
    return CannotRead(text, near)
