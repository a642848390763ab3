"""What has names in the files, and the nearest right name for a wrong one.

rapidfuzz is imported only when there is a wrong one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from enum import StrEnum, auto
from typing import Final

from diag.machine.problem import shown

NEAR_ENOUGH: Final = 60.0
"""Out of 100. Two letters wrong in a word of six still count as near; an unrelated word does not."""
HALF: Final = 50.0
"""Near enough among codes, which are short: one character of two."""
SHORT: Final = 3
"""Characters of a right word that must be about as long as the wrong one: `off` is near to `of`, `on` not to `none`."""
WHOLE: Final = 13
"""So many right words a message lists whole when none is near."""
MOST: Final = 6
"""How many of more it lists."""


class Named(StrEnum):
    """What has names in the files, as a message calls it."""

    POINT = "isolation point"
    STORED = "stored energy"
    TEST_POINT = "test point"
    ZONE = auto()
    RESET = auto()
    INDICATION = auto()
    REMEDY = auto()
    CAUSE = auto()
    CHECK = auto()
    TREE = auto()
    CHAIN = auto()
    MODULE = auto()
    STATE = auto()
    MEMBER = auto()
    """A member of a chain: an indication that is there, or a name of the chain's own."""


def likest(word: str, choices: Sequence[str], enough: float = 0.0) -> list[str]:
    """As many right words as a message lists, the one most like `word` first; none that are less like it than that."""
    from rapidfuzz import fuzz, process

    found = process.extract(
        word[:200].casefold(), choices, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=enough, limit=MOST
    )
    return [choice for choice, _, _ in found]


def nearest(word: str, right: Iterable[str], enough: float = NEAR_ENOUGH) -> str:
    """The right name most like `word`, or an empty string when none is near."""
    near = likest(word, list(dict.fromkeys(right)), enough)
    return next((name for name in near if len(name) > SHORT or abs(len(name) - len(word)) < 2), "")


def unknown(what: str, word: str, right: Iterable[str], of: str = "") -> tuple[str, str]:
    """The text `unknown <what> '<word>'; nearest: '<right>'`, and the nearest name by itself.

    `of`: whose name it would be; the text then has ` of '<of>'` after the word. When none is near, the right ones are
    listed as they come, and where there are many the likest six in alphabetical order.
    """
    choices = sorted(right) if isinstance(right, Set) else list(dict.fromkeys(right))
    near = nearest(word, choices)
    text = f"unknown {what} {shown(word)}" + (f" of {shown(of)}" if of else "")
    if near:
        return f"{text}; nearest: {shown(near)}", near
    if not choices:
        return f"{text}; there are none", ""
    if len(choices) <= WHOLE:
        return f"{text}; known: {', '.join(choices)}", ""
    return f"{text}; known: {', '.join(sorted(likest(word, choices)))} and {len(choices) - MOST} more", ""
