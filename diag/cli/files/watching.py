"""Watching machine files: tells when one of them has changed."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final

from diag.machine.find import MODULES

EVERY: Final = 1.0
"""Seconds between two looks at the folders."""

Stamp = dict[Path, tuple[int, int]]
"""Each file with the time of its last change, in nanoseconds, and its size in bytes."""


def stamp(folders: Iterable[Path]) -> Stamp:
    """The YAML files of these machines and of the modules beside them, as they are now. A file that disappears
    meanwhile is left out."""
    found: Stamp = {}
    for folder in folders:
        for path in (*_yaml(folder), *_yaml(folder.parent / MODULES)):
            with contextlib.suppress(OSError):
                status = path.stat()
                found[path] = (status.st_mtime_ns, status.st_size)
    return found


def _yaml(folder: Path) -> Iterator[Path]:
    for pattern in ("*.yaml", "*.yml"):
        with contextlib.suppress(OSError):
            yield from folder.rglob(pattern)


def changes(folders: Callable[[], Iterable[Path]], wait: Callable[[float], None] = time.sleep) -> Iterator[None]:
    """Once at the start, and again after each change of a file. `folders` is asked each time, since a machine may be
    added; it never ends by itself."""
    before: Stamp | None = None
    while True:
        now = stamp(folders())
        if now != before:
            before = now
            yield
        wait(EVERY)
