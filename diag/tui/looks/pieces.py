"""Words with the name of a style and with what a click on them does: plain data, which widgets draw."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple, TypeVar

One = TypeVar("One")

Click = tuple[str, tuple[object, ...]]
"""An action's name and its arguments: `("screen.mark", (2,))`."""


class Piece(NamedTuple):
    words: str
    style: str = ""
    """A name of the style sheet with its dot, or empty."""
    click: Click | None = None


Pieces = tuple[Piece, ...]
"""Pieces side by side on one row."""


def key_piece(key: str, words: str, action: str, *arguments: object) -> Pieces:
    """A key with what it does; a click on it does the same."""
    click = (f"screen.{action}", arguments)
    return (Piece(key, ".key", click), Piece(f" {words}", "", click))


def joined(parts: Iterable[Pieces], gap: str) -> Pieces:
    """The parts on one row, with a gap between them."""
    row: list[Piece] = []
    for part in parts:
        if row:
            row.append(Piece(gap))
        row += part
    return tuple(row)


def columns(row: Pieces) -> int:
    """The characters that a row takes."""
    return sum(len(piece.words) for piece in row)


def broken(items: Iterable[One], size: Callable[[One], int], width: int, gap: int) -> list[list[One]]:
    """The items on as many rows as they take, `gap` characters between two of them; none is parted."""
    rows: list[list[One]] = [[]]
    used = 0
    for item in items:
        if rows[-1] and used + gap + size(item) > width:
            rows.append([])
            used = 0
        used += size(item) + (gap if rows[-1] else 0)
        rows[-1].append(item)
    return rows
