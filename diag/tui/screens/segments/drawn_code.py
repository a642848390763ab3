"""What was drawn of a display: the observation that it makes, and the states that it may stand for. Plain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from diag.case.observe import from_display as displays
from diag.case.observe.observation import Observation
from diag.case.snapshot import IN_DOUBT
from diag.machine.model import OTHER, Code, Indication
from diag.panel.display import decode
from diag.panel.display.segments import ALL, DP
from diag.tui.looks.wording import plain
from diag.tui.screens.segments.digit_entry import DARK, Cell, DigitEntry

MOST: Final = 5
"""States that are shown."""
NOT_IN_FILE = "a code that is not in this file"

Shares = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class CouldBe:
    """A state: what is shown in it, what that means, and its share of 1 where it is known."""

    code: str
    means: str
    share: float | None = None


def observed(indication: Indication, entry: DigitEntry) -> Observation:
    """The observation that the drawing makes. Raises `CannotRead`."""
    if entry.steps:
        return displays.of_steps(indication, entry.seen, said(entry))
    return displays.of_digits(indication, entry.seen, said(entry))


def could_be(
    indication: Indication, entry: DigitEntry, observation: Observation, shares: Shares | None
) -> list[CouldBe]:
    """The states that the drawing fits, the likeliest first: by itself, or by all that is known where `shares` are
    given."""
    weights: Mapping[str, float] = observation.seen
    if shares is not None:
        weights = {state: share for state, share in shares if state in observation.seen}
    ranked = sorted(weights, key=lambda state: -weights[state])
    codes = _codes(indication, entry, ranked[:MOST])
    return [
        _state(indication, state, codes.get(state, ()), weights[state] if shares is not None else None)
        for state in ranked
    ]


def said(entry: DigitEntry) -> str:
    """What is drawn in words, with its points: `E.4`; the steps of one digit as `E, 0, 4, dark`."""
    if entry.steps:
        return ", ".join(_word(cell) or DARK for cell in entry.cells)
    return "".join(_word(cell) or " " for cell in entry.cells).rstrip() or "blank"


def _word(cell: Cell) -> str:
    """One digit in words; empty when it is dark."""
    if cell is None:
        return "?"
    word = displays.drawn((cell & ALL,)) if cell & ALL else ""
    return word + "." if cell & DP else word


def _state(indication: Indication, state: str, codes: tuple[Code, ...], share: float | None) -> CouldBe:
    if state == OTHER:
        return CouldBe("–", NOT_IN_FILE, share)
    shown = ", ".join(c.pattern.strip() or DARK for c in codes)
    meant = {c.means for c in codes}
    if len(meant) > 1:
        return CouldBe(shown, plain(state), share)
    means = "".join(meant) or indication.state(state).means
    return CouldBe(shown, means or plain(state), share)


def _codes(indication: Indication, entry: DigitEntry, states: Sequence[str]) -> dict[str, tuple[Code, ...]]:
    """The codes of each of these states that fit what is drawn, best first."""
    found = {state: [c for c in indication.codes if c.state == state] for state in states}
    pairs = [(c.pattern, c.pattern) for codes in found.values() if len(codes) > 1 for c in codes]
    if pairs:
        if entry.steps:
            fit = decode.step_likelihoods(entry.seen, pairs)
        else:
            fit = decode.likelihoods(entry.seen, pairs, digits=len(entry.seen))
        for state, codes in found.items():
            if len(codes) > 1:
                best = max(fit[c.pattern] for c in codes)
                likely = [c for c in codes if fit[c.pattern] >= IN_DOUBT * best]
                found[state] = sorted(likely, key=lambda c: -fit[c.pattern])
    return {state: tuple(codes) for state, codes in found.items()}
