"""The nearest right name for a wrong one. rapidfuzz is imported only when there is a wrong one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from diag.machine.problem import shown

NEAR_ENOUGH: Final = 60.0
"""Out of 100. Two letters wrong in a word of six still count as near; an unrelated word does not."""
HALF: Final = 50.0
"""Near enough among codes, which are short: one character of two."""
SHORT: Final = 3
"""Characters of a right word that must be about as long as the wrong one: `off` is near to `of`, `on` not to `none`."""
MOST: Final = 6
"""How many right words a message lists when none is near."""


def nearest(word: str, right: Iterable[str], enough: float = NEAR_ENOUGH) -> str:
    """The right name most like `word`, or an empty string when none is near."""
    from rapidfuzz import fuzz, process

    choices = list(dict.fromkeys(right))
    found = process.extract(
        word[:200].casefold(), choices, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=enough, limit=MOST
    )
    return next((near for near, _, _ in found if len(near) > SHORT or abs(len(near) - len(word)) < 2), "")


def unknown(what: str, word: str, right: Iterable[str], of: str = "") -> tuple[str, str]:
    """The text `unknown <what> '<word>'; nearest: '<right>'`, and the nearest name by itself.

    `of`: whose name it would be; the text then has ` of '<of>'` after the word. When none is near, the right ones are
    listed, the likest six where there are many.
    """
    choices = list(dict.fromkeys(right))
    near = nearest(word, choices)
    text = f"unknown {what} {shown(word)}" + (f" of {shown(of)}" if of else "")
    if near:
        return f"{text}; nearest: {shown(near)}", near
    if not choices:
        return f"{text}; there are none", ""
    if len(choices) <= MOST + 1:
        return f"{text}; known: {', '.join(choices)}", ""
    return f"{text}; known: {', '.join(likest(word, choices))} and {len(choices) - MOST} more", ""


def likest(word: str, choices: list[str]) -> list[str]:
    """So many right words as a message lists, the one most like `word` first."""
    from rapidfuzz import fuzz, process

    found = process.extract(word[:200].casefold(), choices, scorer=fuzz.ratio, processor=str.casefold, limit=MOST)
    return [choice for choice, _, _ in found]
