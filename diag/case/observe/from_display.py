"""Displays: a code typed, drawn by its segments, or read in steps, as an observation; faults of the display itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from diag.case.observe.observation import Observation, plain, weighed
from diag.case.phrases import listed
from diag.machine.model import OTHER, Indication
from diag.machine.states.codes import decode_exact
from diag.machine.states.say import CannotRead, state_of
from diag.panel.display import decode
from diag.panel.display.segments import NoGlyph, characters, names
from diag.text import clean

Digit = str | int | None
"""One digit as read: a character, toggled segments (bits, see `panel.display.segments`), or None where it cannot be."""


def of_code(indication: Indication, text: str) -> Observation:
    said = clean(text).strip()
    state = state_of(indication, text)
    exact = decode_exact(indication, text) is not None
    if not said or (not exact and state != OTHER):
        return plain(indication, state, said or "blank")
    if indication.scrolls and not exact:
        return of_steps(indication, tuple(text.replace("_", " ")))
    try:
        digits: Sequence[Digit] = decode.parse(said)
        weights = _codes(indication, digits)
    except (NoGlyph, ValueError):
        return plain(indication, state, said)
    if exact:
        # Of codes that look alike it is the one that was typed.
        most = max(weights.values())
        return weighed(indication, {state: most, **{s: w for s, w in weights.items() if s != state}}, said)
    return _told(weighed(indication, weights, said))


def of_digits(indication: Indication, digits: Sequence[Digit], said: str = "") -> Observation:
    """A display by its digits as read or toggled. Raises CannotRead on more digits than it has."""
    try:
        weights = _codes(indication, digits)
    except ValueError as error:
        raise CannotRead(str(error)) from None
    return _told(weighed(indication, weights, said or drawn(digits)), display_fault(indication, digits))


def of_steps(indication: Indication, steps: Sequence[Digit], said: str = "") -> Observation:
    """A display of one digit that shows its code in steps, begun anywhere in the round. Raises CannotRead."""
    if not steps:
        raise CannotRead("no step was entered")
    weights = decode.step_likelihoods(steps, [(c.pattern, c.state) for c in indication.codes])
    return _told(weighed(indication, weights, said or drawn(steps)))


def display_fault(indication: Indication, digits: Sequence[Digit]) -> str:
    """What may be wrong with the display itself, in one line; empty when it is likelier healthy."""
    width = indication.characters
    padded = (*digits, *(" " for _ in range(width - len(digits))))
    shown = [c.pattern.replace(".", "").ljust(width) for c in indication.codes]
    try:
        fault = decode.likeliest_fault(padded, [c for c in shown if len(c) == width])
    except (NoGlyph, ValueError):
        return ""
    if fault.kind == "healthy":
        return ""
    return f"The display itself may be at fault ({fault.says}). Its lamp test tells."


def drawn(digits: Sequence[Digit]) -> str:
    """Digits in words: characters as they are, `[abc]` for toggled segments that are none, `?` where not read."""
    parts = []
    for digit in digits:
        if isinstance(digit, int):
            usual = characters(digit)
            parts.append(usual[0] if usual else f"[{names(digit)}]")
        else:
            parts.append("?" if digit is None else digit)
    return "".join(parts).rstrip() or "blank"


def _codes(indication: Indication, digits: Sequence[Digit]) -> dict[str, float]:
    codes = [(c.pattern, c.state) for c in indication.codes]
    return decode.likelihoods(digits, codes, digits=indication.characters)


def _told(observation: Observation, fault: str = "") -> Observation:
    """With the fault of the display, and the codes of the file that it could be where it is in doubt."""
    named = [s for s in observation.doubtful if s != OTHER]
    doubt = f"It could be {listed(named[:3], 'or')}." if len(named) > 1 else ""
    return replace(observation, note=f"{fault} {doubt}".strip(), fault=fault)
