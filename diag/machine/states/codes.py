"""Display codes: a pattern with `?` for any one character, and what a shown text means.

Case: an exact match of upper and lower case goes first, then a match that ignores case, if it leaves one state only;
seven segments show some letters in one case only, and people write them in the other. Order within each: a code
without `?` beats one with, fewer `?` beat more, and the earlier in the file beats the later. Spaces at both ends do
not count, except that nothing but spaces is the blank display.
"""

from __future__ import annotations

import re
from typing import Final

from diag.machine.model import OTHER, Code, Indication

_SHARED_POINT: Final = re.compile(r"(?<=[^.,])[.,]")
MOST_STEPS: Final = 8
"""Characters of a code that comes in steps."""
BLANK: Final = "blank"
"""The word for a display that shows nothing."""


def width(code: str) -> int:
    """How many characters of a display a code takes; a decimal point shares the place before it."""
    return len(_SHARED_POINT.sub("", code))


def decode_exact(indication: Indication, text: str) -> str | None:
    """The state of the code that `text` is, or None when the file declares no such code."""
    text = _as_shown(indication, text)
    for fold in (False, True):
        states = [code.state for code in _best(indication.codes, text, fold)]
        if states and (not fold or len(set(states)) == 1):
            return states[0]
    return None


def decode(indication: Indication, text: str) -> str:
    """The state that a display shows with `text` on it; `other` for a code that the file does not declare."""
    return decode_exact(indication, text) or OTHER


def begins(indication: Indication, text: str) -> bool:
    """Whether a code of the file begins with this, upper and lower case alike. A `?` stands for no letter here."""
    text = text.casefold()
    patterns = (code.pattern.strip().casefold() for code in indication.codes)
    return bool(text) and any(
        len(text) <= len(p) and all(a == b or (a == "?" and not b.isalpha()) for a, b in zip(p, text, strict=False))
        for p in patterns
    )


def _as_shown(indication: Indication, text: str) -> str:
    stripped = text.strip()
    return " " * indication.characters if not stripped or stripped.lower() == BLANK else stripped


def _best(codes: tuple[Code, ...], text: str, fold: bool) -> list[Code]:
    """The codes that match with the fewest `?`, in file order."""
    matching = [code for code in codes if _matches(code.pattern, text, fold)]
    fewest = min((code.pattern.count("?") for code in matching), default=0)
    return [code for code in matching if code.pattern.count("?") == fewest]


def _matches(pattern: str, text: str, fold: bool) -> bool:
    pattern = pattern.strip() or pattern
    if fold:
        pattern, text = pattern.casefold(), text.casefold()
    return len(pattern) == len(text) and all(p in ("?", t) for p, t in zip(pattern, text, strict=True))
