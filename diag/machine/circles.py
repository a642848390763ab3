"""Circles in what names what, and how a message shows one."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence


def round_trip(names: Sequence[str]) -> str:
    """A circle as a message shows it: back to its first name, and not too long."""
    shown_names = [*names[:6], "..."] if len(names) > 7 else list(names)
    return ", ".join((*shown_names, names[0]))


def circle(start: Collection[str], after: Callable[[str], Sequence[str]]) -> list[tuple[str, ...]]:
    """The circles in a graph, one for each connected knot that is met, each as the names on it in order."""
    done: set[str] = set()
    found: list[tuple[str, ...]] = []
    for first in start:
        if first in done:
            continue
        path: dict[str, Iterator[str]] = {first: iter(after(first))}
        while path:
            last = next(reversed(path))
            name = next(path[last], None)
            if name is None:
                done.add(last)
                del path[last]
            elif name in path:
                names = list(path)
                found.append(tuple(names[names.index(name) :]))
            elif name not in done:
                path[name] = iter(after(name))
    return found
