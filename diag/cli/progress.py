"""What commands that take their time share: a bar on standard error, and whether a target was met."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator

import click


def met(good: bool) -> str:
    return "met" if good else "MISSED"


@contextlib.contextmanager
def progress(length: int, label: str = "") -> Iterator[Callable[[int], None]]:
    """A bar on standard error where that is a terminal; gone when it is full, since what comes after it says all."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda steps: None
        return
    with click.progressbar(length=length, label=label, file=sys.stderr, show_pos=True) as bar:
        yield bar.update
    click.echo("\033[1A\r\033[K", nl=False, err=True)


@contextlib.contextmanager
def counting(what: str) -> Iterator[Callable[[int], None]]:
    """A count on standard error where that is a terminal, for what has no known end; gone when it is over."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda steps: None
        return
    total = 0

    def done(steps: int) -> None:
        nonlocal total
        total += steps
        if total % 50 < steps:
            click.echo(f"\r{what}: {total:,}", nl=False, err=True)

    yield done
    click.echo("\r\033[K", nl=False, err=True)
