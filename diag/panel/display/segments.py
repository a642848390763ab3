"""Seven-segment glyphs: which segments a character lights, and a drawing of them for a terminal.

A glyph is seven bits, bit 0 = a:

       a
     f   b
       g
     e   c
       d    dp

a top, b and c right upper and lower, d bottom, e and f left lower and upper, g middle (the usual convention); bit 7
is the decimal point. K, M, V, W and X have no shape on seven segments and are not in the table.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

A, B, C, D, E, F, G, DP = (1 << i for i in range(8))
SEGMENTS: Final = "abcdefg"
ALL: Final = 0x7F
MOST_DIGITS: Final = 8

GLYPHS: Final = {
    "0": 0x3F, "1": 0x06, "2": 0x5B, "3": 0x4F, "4": 0x66, "5": 0x6D, "6": 0x7D, "7": 0x07, "8": 0x7F, "9": 0x6F,
    "A": 0x77, "b": 0x7C, "C": 0x39, "c": 0x58, "d": 0x5E, "E": 0x79, "F": 0x71, "G": 0x3D, "H": 0x76, "h": 0x74,
    "I": 0x06, "i": 0x04, "J": 0x1E, "j": 0x0E, "L": 0x38, "l": 0x30, "N": 0x37, "n": 0x54, "O": 0x3F, "o": 0x5C,
    "P": 0x73, "q": 0x67, "r": 0x50, "S": 0x6D, "t": 0x78, "U": 0x3E, "u": 0x1C, "y": 0x6E, "Z": 0x5B,
    " ": 0x00, "-": 0x40, "_": 0x08, "=": 0x48, "\u00b0": 0x63, "[": 0x39, "]": 0x0F, "?": 0x53,
}  # fmt: skip
"""Characters as commonly drawn. 0-9 and A-F: 3F 06 5B 4F 66 6D 7D 07 7F 6F 77 7C 39 5E 79 71."""

VARIANTS: Final = {"6": (0x7D, 0x7C), "9": (0x6F, 0x67), "7": (0x07, 0x27)}
"""The usual shape first: 6 without its top reads as b, 9 without its bottom as q, 7 with an upper left."""

_OTHER_WRITING: Final = {"g": 0x6F, "Q": 0x67, "T": 0x78, "R": 0x50, "D": 0x5E, "B": 0x7C, "Y": 0x6E}


class NoGlyph(ValueError):
    """A character that seven segments cannot show. The message is one line."""


def glyph(character: str) -> int:
    """The segments of one character, in either case. Raises NoGlyph."""
    for table in (GLYPHS, _OTHER_WRITING):
        for form in (character, character.swapcase()):
            if form in table:
                return table[form]
    shown = character if character.isprintable() else "\u00b7"
    raise NoGlyph(f'"{shown}" cannot be shown on seven segments.')


def characters(bits: int) -> tuple[str, ...]:
    """Every character whose shape or variant lights exactly these segments, digits first; the point is ignored."""
    bits &= ALL
    found = [c for c, b in GLYPHS.items() if c != "?" and bits in VARIANTS.get(c, (b,))]
    return tuple(found + [c for c, b in _OTHER_WRITING.items() if b == bits and c.swapcase() not in found])


def cells(text: str) -> tuple[int, ...]:
    """The digits of a display that shows `text`; a point belongs to the digit before it (`E.04` has three digits).

    Raises NoGlyph.
    """
    found: list[int] = []
    for c in text:
        if c in ".,":
            if found and not found[-1] & DP:
                found[-1] |= DP
            else:
                found.append(DP)
        else:
            found.append(glyph(c))
    return tuple(found)


def names(bits: int) -> str:
    """The lit segments by letter, as `abdeg`."""
    return "".join(s for i, s in enumerate(SEGMENTS) if bits >> i & 1)


def bits(names: Iterable[str]) -> int:
    """The glyph of these segment letters (`abdeg`). Raises NoGlyph on a letter that is no segment."""
    value = 0
    for name in names:
        if name not in SEGMENTS:
            raise NoGlyph(f'"{name}" is not a segment; they are a to g.')
        value |= 1 << SEGMENTS.index(name)
    return value


# ---------------------------------------------------------------- drawing

# A corner of the drawing by which of its four arms are lit: up 1, right 2, down 4, left 8.
_CORNER: Final = (
    " ", "\u2579", "\u257a", "\u2517", "\u257b", "\u2503", "\u250f", "\u2523",
    "\u2578", "\u251b", "\u2501", "\u253b", "\u2513", "\u252b", "\u2533", "\u254b",
)  # fmt: skip
_BAR: Final = "\u2501"
_ROWS: Final = (
    ((0, A, F, 0), A, (0, 0, B, A), 0),
    ((F, G, E, 0), G, (B, 0, C, G), 0),
    ((E, D, 0, 0), D, (C, 0, 0, D), DP),
)
"""The segments of each row: the arms of its left corner, its bar, the arms of its right corner, its point."""


def render(text: str, width: int = 0) -> tuple[str, str, str]:
    """Three rows that draw `text` on a display of `width` digits (0: as many as it has), four columns a digit.

    Three columns are the digit, the fourth its decimal point. Shorter text is filled with dark digits on the right;
    longer text raises ValueError, a character without a shape NoGlyph.
    """
    digits = cells(text)
    if width and len(digits) > width:
        raise ValueError(f"{len(digits)} digits do not fit a display of {width}.")
    return draw((*digits, *(0,) * (width - len(digits))))


def draw(digits: Sequence[int]) -> tuple[str, str, str]:
    """Three rows that draw these glyphs (bit 7 the point), four columns a digit."""
    top, middle, bottom = ("".join(_row(d, *row) for d in digits) for row in _ROWS)
    return top, middle, bottom


def _row(d: int, left: Sequence[int], bar: int, right: Sequence[int], point: int) -> str:
    from_left, from_right = (_CORNER[sum(1 << i for i, arm in enumerate(arms) if d & arm)] for arms in (left, right))
    return from_left + (_BAR if d & bar else " ") + from_right + ("." if d & point else " ")
