"""The nearest right name for a wrong one. rapidfuzz is imported only when there is a wrong one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from diag.machine.problem import shown

NEAR_ENOUGH: Final = 60.0
"""Out of 100. Two letters wrong in a word of six still count as near; an unrelated word does not."""
MOST: Final = 8
"""How many right words a message lists when none is near."""


def nearest(word: str, right: Iterable[str]) -> str:
    """The right name most like `word`, or an empty string when none is near."""
    from rapidfuzz import fuzz, process

    choices = list(dict.fromkeys(right))
    found = process.extractOne(
        word[:200].casefold(), choices, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=NEAR_ENOUGH
    )
    return found[0] if found else ""


def unknown(what: str, word: str, right: Iterable[str], of: str = "") -> tuple[str, str]:
    """The text `unknown <what> '<word>'; nearest: '<right>'`, and the nearest name by itself.

    `of`: whose name it would be; the text then has ` of '<of>'` after the word. When none is near, and there are
    few, the right ones are listed.
    """
    choices = list(dict.fromkeys(right))
    near = nearest(word, choices)
    text = f"unknown {what} {shown(word)}" + (f" of {shown(of)}" if of else "")
    if near:
        return f"{text}; nearest: {shown(near)}", near
    if not choices:
        return f"{text}; there are none", ""
    if len(choices) <= MOST:
        return f"{text}; known: {', '.join(choices)}", ""
    return text, ""
