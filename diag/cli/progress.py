"""How far a command that takes its time has come: a bar or a count on standard error, where that is a terminal."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator

import click


@contextlib.contextmanager
def progress(length: int | None, label: str = "") -> Iterator[Callable[[int], None]]:
    """A bar, or a count where nobody knows the length. It goes when it is full: what comes after it says all."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda steps: None
        return
    total = 0

    def count(steps: int) -> None:
        nonlocal total
        total += steps
        if total % 50 < steps:
            click.echo(f"\r{label}: {total:,}", nl=False, err=True)

    if length is None:
        yield count
        click.echo("\r\033[K", nl=False, err=True)
    else:
        with click.progressbar(length=length, label=label, file=sys.stderr, show_pos=True) as bar:
            yield bar.update
        click.echo("\033[1A\r\033[K", nl=False, err=True)
