"""A segment display drawn large, each segment of which can be clicked, and the small drawing that names them."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Final

from textual.content import Content

from diag.panel.display.segments import DP, SEGMENTS
from diag.tui.screens.segments.digit_entry import Cell, DigitEntry
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text

HIGH: Final = 7
MIDDLE: Final = 3
"""The row of the bar in the middle."""
LETTERS: Final = (2, 4)
"""The rows in which the small drawing names its upright segments."""
POINT: Final = "."

_SHAPE: Final = (
    ((1, ""), (5, "a"), (3, "")),
    ((3, "f"), (1, ""), (4, "b"), (1, "")),
    ((3, "f"), (1, ""), (4, "b"), (1, "")),
    ((1, "e"), (5, "g"), (2, "c"), (1, "")),
    ((3, "e"), (1, ""), (4, "c"), (1, "")),
    ((3, "e"), (1, ""), (4, "c"), (1, "")),
    ((1, ""), (5, "d"), (1, ""), (2, POINT)),
)
"""The rows of a digit: how many columns belong to which segment; what is left is the digit but no segment. Seven
columns are the digit, the eighth is its point, the ninth parts it from the next. The columns beside an upright segment
belong to it, so that it is easily hit."""


@dataclass(frozen=True, slots=True)
class Signs:
    """What lit and dark segments are drawn with. Their shapes differ, so that nothing hangs on colour."""

    lit_top: str
    lit_middle: str
    lit_bottom: str
    lit_upright: str
    lit_half: str
    lit_point: str
    dark_across: str
    dark_upright: str
    dark_point: str
    here: str
    """Below the digit that the keys act on."""


BLOCKS: Final = Signs("▄", "▀", "▀", "█", "▄", "●", "┄", "┆", "·", "▲")
PLAIN: Final = Signs("#", "#", "#", "#", " ", "#", ".", ":", ".", "^")


def signs() -> Signs:
    """Blocks, or letters and marks alone where the terminal is said to have no more."""
    bare = os.environ.get("TERM", "").startswith(("vt1", "vt2", "dumb")) or os.environ.get("LC_ALL") in ("C", "POSIX")
    return PLAIN if bare else BLOCKS


class Digits(Written):
    """The digits of an entry, the present one marked below. A click on a segment switches it, elsewhere it chooses
    the digit."""

    def __init__(self, entry: DigitEntry, *, id: str | None = None) -> None:
        self._signs = signs()
        super().__init__(drawing(entry, self._signs), id=id)

    def show(self, entry: DigitEntry) -> None:
        self.write(drawing(entry, self._signs))


def drawing(entry: DigitEntry, signs: Signs = BLOCKS) -> Content:
    """Eight rows: seven of digits, and one that numbers them and marks the present one."""
    rows = [
        line(*(part for n, cell in enumerate(entry.cells) for part in _row(signs, cell, n, at))) for at in range(HIGH)
    ]
    rows.append(line(*(_below(entry, n, signs) for n in range(len(entry.cells)))))
    return lines(rows)


def _row(signs: Signs, cell: Cell, n: int, at: int) -> list[Content]:
    """One row of digit `n`."""
    parts = []
    for width, name in _SHAPE[at]:
        part = _part(signs, cell, at, width, name)
        action = ("screen.switch", (n, name)) if name else ("screen.choose", (n,))
        parts.append(clickable(part, action))
    return parts


def _part(signs: Signs, cell: Cell, at: int, width: int, name: str) -> Content:
    if not name:
        return Content(" " * width)
    if name == POINT:
        lit = cell is not None and bool(cell & DP)
        return _sign(signs.lit_point if lit else signs.dark_point, lit, width)
    lit = cell is not None and bool(cell >> SEGMENTS.index(name) & 1)
    if name in "agd":
        sign = {"a": signs.lit_top, "g": signs.lit_middle, "d": signs.lit_bottom}[name] if lit else signs.dark_across
        return _sign("?" * width if cell is None else sign * width, lit or cell is None, width)
    if at == MIDDLE:
        # The lower uprights reach up to the bar in the middle.
        return _sign(signs.lit_half if lit else " ", lit, width)
    sign = "?" if cell is None else signs.lit_upright if lit else signs.dark_upright
    return _sign(sign, lit or cell is None, width, before=0 if name in "fe" else 2)


def _sign(sign: str, lit: bool, width: int, before: int = 0) -> Content:
    """A sign in so many columns, blanks before and behind it."""
    return line(" " * before, (sign, ".glow" if lit else ".quiet"), " " * (width - before - len(sign)))


def _below(entry: DigitEntry, n: int, signs: Signs) -> Content:
    if n == entry.at:
        mark = line((f"{signs.here}{n + 1:^5}{signs.here}", CURSOR), "  ")
    else:
        mark = text(f"{n + 1:^7}  ", ".quiet")
    return clickable(mark, ("screen.choose", (n,)))


def legend(signs: Signs = BLOCKS) -> Content:
    """A digit with its letters in the place of its segments; a click on one switches it in the present digit."""
    return lines(line(*(_named(signs, at, width, name) for width, name in row)) for at, row in enumerate(_SHAPE))


def _named(signs: Signs, at: int, width: int, name: str) -> Content:
    if not name or (at == MIDDLE and name != "g"):
        return Content(" " * width)
    across, upright = ("-", "|") if signs is PLAIN else ("─", "│")
    if name == POINT:
        part = line((POINT, ".key"), " ")
    elif name in "agd":
        part = line((across * 2, ".quiet"), (name, ".key"), (across * 2, ".quiet"))
    else:
        before = 0 if name in "fe" else 2
        sign = (name, ".key") if at in LETTERS else (upright, ".quiet")
        part = line(" " * before, sign, " " * (width - before - 1))
    return clickable(part, ("screen.segment", (name,)))
