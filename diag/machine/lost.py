"""What a file that cannot be read may hold, by the words that its lines begin with."""

from __future__ import annotations

import re
from typing import Final

from diag.machine.names import nearest

_FIRST: Final = re.compile(r"^[^\w#\n]{0,8}([a-zA-Z-]{2,40})", re.MULTILINE)
_MAKERS: Final = {"uses": {"module"}, "chains": {"series", "line"}}
"""Sections that make entries of others, and words that tell of them."""
MOST_WORDS: Final = 1_000
"""Different words at the beginnings of lines that are compared with a heading."""


def may_hold(text: str, section: str, elsewhere: bool) -> bool:
    """Whether this text may have a section in it. What stands `elsewhere`, in a file of its own, stands in no second
    one, unless a line begins with its name; nor do modules or chains where no line tells of one."""
    if section not in _MAKERS and not elsewhere:
        return True
    words = set(_FIRST.findall(text))
    tells = _MAKERS.get(section, set()) & words
    return not 0 < len(words) <= MOST_WORDS or bool(tells) or bool(nearest(section, words))
