"""Wrong usage, said in one line with the nearest right name."""

from __future__ import annotations

from collections.abc import Iterable

import click


class WrongUsage(click.ClickException):
    """What was asked for cannot be; the message is complete, so no pointer to the help follows it."""

    exit_code = 2


def unknown(what: str, word: str, names: Iterable[str], most: int = 3) -> WrongUsage:
    """`there is no WHAT 'word'; did you mean a, b or c?`, or all the names where none is near and they are few."""
    # Only a mistake pays for this import.
    from rapidfuzz import fuzz, process, utils

    known = list(names)
    found = process.extract(
        word, known, scorer=fuzz.WRatio, processor=utils.default_process, limit=most, score_cutoff=60
    )
    near = [str(name) for name, _, _ in found]
    rest = ""
    if near:
        rest = f"; did you mean {', '.join(near[:-1])}{' or ' if near[1:] else ''}{near[-1]}?"
    elif 0 < len(known) <= 8:
        rest = f"; there are: {', '.join(known)}"
    return WrongUsage(f"there is no {what} {word!r}{rest}")
