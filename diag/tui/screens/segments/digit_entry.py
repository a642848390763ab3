"""What has been entered of a segment display so far: its digits, and the one that the keys act on.

A display that shows its code in steps has one digit; what is entered are its steps as they come, a new one whenever
somebody moves on past the last.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from diag.panel.display.segments import ALL, DP, MOST_DIGITS, SEGMENTS, NoGlyph, glyph

DARK = "dark"
"""The word for a step in which nothing is lit."""

Cell = int | None
"""One digit: its lit segments and its point as bits (see `panel.display.segments`), or None where it cannot be read."""


@dataclass(frozen=True, slots=True)
class DigitEntry:
    """What was entered so far. It is frozen: every change gives a new one."""

    cells: tuple[Cell, ...]
    at: int = 0
    steps: bool = False
    """The cells are the steps of one digit."""
    entered: bool = False
    """Somebody entered something; a dark display has to be entered as well."""
    last: int = 0
    """The digit furthest right that was looked at; what is dark beyond it may not have been entered yet."""

    @property
    def whole(self) -> bool:
        """Every digit was looked at."""
        return self.steps or self.last == len(self.cells) - 1

    @property
    def means(self) -> tuple[tuple[Cell, ...], bool, bool]:
        """What is the same when only another digit is marked."""
        return self.cells, self.entered, self.whole

    @property
    def full(self) -> bool:
        """It stands on its last digit, and no step can be added."""
        return self.at == len(self.cells) - 1 and (not self.steps or len(self.cells) == MOST_DIGITS)

    @property
    def seen(self) -> tuple[Cell, ...]:
        """For `diag.case.observe.observe`: without the points, which are weak."""
        return tuple(c if c is None else c & ALL for c in self.cells)

    def segment(self, letter: str) -> DigitEntry:
        """This segment of the present digit lit where it was dark, and the other way round."""
        return self._flip(1 << SEGMENTS.index(letter))

    def point(self) -> DigitEntry:
        return self._flip(DP)

    def figure(self, figure: int) -> DigitEntry:
        """The present digit in the usual shape of 0 to 9; its point stays."""
        return self._put(glyph(str(figure)) | (self.cells[self.at] or 0) & DP)

    def blank(self) -> DigitEntry:
        return self._put(0)

    def unread(self) -> DigitEntry:
        """The present digit cannot be read; said again, it is dark and can be drawn."""
        return self._put(0 if self.cells[self.at] is None else None)

    def clear(self) -> DigitEntry:
        """An entry in which nothing has been entered yet."""
        return DigitEntry((0,) * (1 if self.steps else len(self.cells)), steps=self.steps)

    def choose(self, at: int) -> DigitEntry:
        at = min(max(at, 0), len(self.cells) - 1)
        return replace(self, at=at, last=max(self.last, at))

    def step(self, by: int) -> DigitEntry:
        """To the next digit or the one before; past the last step another one is added."""
        if by > 0 and self.steps and self.at == len(self.cells) - 1 < MOST_DIGITS - 1:
            return replace(self, cells=(*self.cells, 0)).choose(self.at + 1)
        return self.choose(self.at + by)

    def _flip(self, bit: int) -> DigitEntry:
        return self._put((self.cells[self.at] or 0) ^ bit)

    def _put(self, cell: Cell) -> DigitEntry:
        cells = (*self.cells[: self.at], cell, *self.cells[self.at + 1 :])
        return replace(self, cells=cells, entered=True, last=max(self.last, self.at))


def begin(characters: int, steps: bool, typed: str = "") -> DigitEntry:
    """What to draw first: what was typed already, a character without a shape as a dark digit."""
    size = MOST_DIGITS if steps else min(max(characters, 1), MOST_DIGITS)
    if not typed.strip():
        return DigitEntry((0,) * (1 if steps else size), steps=steps)
    cells = [] if typed.strip().casefold() == "blank" else _cells(typed.replace("_", " ") if steps else typed)
    cells = cells[:size] or [0]
    if not steps:
        cells += [0] * (size - len(cells))
    last = len(cells) - 1
    return DigitEntry(tuple(cells), at=last if steps else 0, steps=steps, entered=True, last=last)


def _cells(typed: str) -> list[Cell]:
    found: list[Cell] = []
    for c in typed:
        if c == "?":
            found.append(None)
        elif c in ".,":
            before = found[-1] if found else DP
            if before is None:
                continue
            if before & DP:
                found.append(DP)
            else:
                found[-1] = before | DP
        else:
            try:
                found.append(glyph(c))
            except NoGlyph:
                found.append(0)
    return found
