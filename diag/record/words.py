"""Words to search by. They are folded and split here, so that both databases find the same."""

from __future__ import annotations

import re
import unicodedata

MOST = 200
"""Letters of one word that count."""
_PARTS = re.compile(r"[^\W_]+")


def fold(text: str) -> str:
    """Without case and accents, so that names and words that differ only there are one."""
    parted = unicodedata.normalize("NFKD", text.casefold())
    return unicodedata.normalize("NFC", "".join(c for c in parted if not unicodedata.combining(c)))


def words_of(text: str) -> tuple[str, ...]:
    """The folded words of a text, each once, in order: `-Q12.3 kühlt` gives `q12`, `3`, `kuhlt`."""
    return tuple(dict.fromkeys(word[:MOST] for word in _PARTS.findall(fold(text))))
