"""The nearest right name for a wrong one."""

from __future__ import annotations

from collections.abc import Iterable


def did_you_mean(word: str, names: Iterable[str], most: int = 3) -> str:
    """`; did you mean a, b or c?` with the nearest names, or nothing where none is near."""
    # Only a mistake pays for this import.
    from rapidfuzz import fuzz, process, utils

    found = process.extract(
        word, list(names), scorer=fuzz.WRatio, processor=utils.default_process, limit=most, score_cutoff=60
    )
    near = [str(name) for name, _, _ in found]
    if not near:
        return ""
    return f"; did you mean {', '.join(near[:-1])}{' or ' if near[1:] else ''}{near[-1]}?"
