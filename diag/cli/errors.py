"""Wrong usage, said in one line with the nearest right name."""

from __future__ import annotations

from collections.abc import Iterable

import click


class WrongUsage(click.ClickException):
    """What was asked for cannot be; the message is complete, so no pointer to the help follows it."""

    exit_code = 2


def unknown(what: str, word: str, right: Iterable[str], of: str = "") -> WrongUsage:
    """`unknown WHAT 'word'`, with the nearest right name, or with all of them where none is near and they are few.

    `of`: whose name it would be."""
    # Only a mistake pays for this import.
    from diag.machine.names import unknown as said

    return WrongUsage(said(what, word, right, of)[0])
