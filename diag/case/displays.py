"""Displays: a code typed, drawn by its segments, or read in steps, as a sight; faults of the display itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from diag.case.sighting import Sighting, plain, weighed
from diag.case.snapshot import IN_DOUBT
from diag.case.words import clean, listed
from diag.machine.codes import decode_exact
from diag.machine.model import OTHER, Indication
from diag.machine.say import CannotRead, state_of
from diag.panel.segments import NoGlyph

Digit = str | int | None
"""One digit as read: a character, toggled segments (bits, see `diag.panel.segments`), or None where it cannot be."""


def of_code(indication: Indication, text: str) -> Sighting:
    from diag.panel import decode

    said = clean(text).strip()
    state = state_of(indication, text)
    exact = decode_exact(indication, text) is not None
    if not said or said.lower() == "blank" or (not exact and state != OTHER):
        return plain(indication, state, said or "blank")
    if indication.scrolls and not exact:
        return of_steps(indication, tuple(text.replace("_", " ")))
    try:
        digits: Sequence[Digit] = decode.parse(said)
        weights = _codes(indication, digits)
    except (NoGlyph, ValueError):
        return plain(indication, state, said)
    if exact:
        weights[state] = max(weights.values())
    return weighed(indication, weights, said, "" if exact else _could_be(indication, weights))


def of_digits(indication: Indication, digits: Sequence[Digit], said: str = "") -> Sighting:
    """A display by its digits as read or toggled. Raises CannotRead on more digits than it has."""
    try:
        weights = _codes(indication, digits)
    except ValueError as error:
        raise CannotRead(str(error)) from None
    fault = display_fault(indication, digits)
    note = f"{fault} {_could_be(indication, weights)}".strip()
    return replace(weighed(indication, weights, said or drawn(digits), note), fault=fault)


def of_steps(indication: Indication, steps: Sequence[Digit], said: str = "") -> Sighting:
    """A display of one digit that shows its code in steps, begun anywhere in the round. Raises CannotRead."""
    from diag.panel import decode

    if not steps:
        raise CannotRead("no step was entered")
    weights = decode.step_likelihoods(steps, [(c.pattern, c.state) for c in indication.codes])
    return weighed(indication, weights, said or drawn(steps), _could_be(indication, weights))


def display_fault(indication: Indication, digits: Sequence[Digit]) -> str:
    """What may be wrong with the display itself, in one line; empty when it is likelier healthy."""
    from diag.panel import decode

    width = indication.characters
    padded = (*digits, *(" " for _ in range(width - len(digits))))
    shown = [c.pattern.replace(".", "").ljust(width) for c in indication.codes]
    try:
        found = decode.fault_belief([(padded, [c for c in shown if len(c) == width])])
    except (NoGlyph, ValueError):
        return ""
    fault, _ = found[0]
    if fault.kind == "healthy":
        return ""
    return f"The display itself may be at fault ({fault.says}). Its lamp test tells."


def drawn(digits: Sequence[Digit]) -> str:
    """Digits in words: characters as they are, `[abc]` for toggled segments that are none, `?` where not read."""
    from diag.panel.segments import characters, names

    parts = []
    for digit in digits:
        if isinstance(digit, int):
            usual = characters(digit)
            parts.append(usual[0] if usual else f"[{names(digit)}]")
        else:
            parts.append("?" if digit is None else digit)
    return "".join(parts).rstrip() or "blank"


def _codes(indication: Indication, digits: Sequence[Digit]) -> dict[str, float]:
    from diag.panel import decode

    codes = [(c.pattern, c.state) for c in indication.codes]
    return decode.likelihoods(digits, codes, digits=indication.characters)


def _could_be(indication: Indication, weights: Mapping[str, float]) -> str:
    best = max(weights.values())
    named = [s for s in sorted(weights, key=lambda s: -weights[s]) if weights[s] >= IN_DOUBT * best and s != OTHER]
    return f"It could be {listed(named[:3], 'or')}." if len(named) > 1 else ""
