"""A sitting: one terminal with one person, in whose name everything is entered there; and the clock that stamps it."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from diag.safety.types import Person

Clock = Callable[[], datetime]
"""Gives the present time, aware of its zone. A case is given one, and no replay reads the time."""


def utc_now() -> datetime:
    """The computer's own time, in UTC."""
    return datetime.now(UTC)


def _new_id() -> str:
    return secrets.token_hex(6)


@dataclass(frozen=True, slots=True)
class Sitting:
    """Who enters, and where. The person is said at the terminal and changes only there; nothing that comes out of a
    case's log changes it. What is not known stays empty."""

    person: Person
    id: str = field(default_factory=_new_id)
    """Tells this sitting from every other one: at another terminal, or of a person who came back later."""
    host: str = ""
    """The computer's name."""
    terminal: str = ""
    """The terminal's name, such as `/dev/pts/3`."""
    account: str = ""
    """The system's name for whoever is logged in, who need not be the person."""
    version: str = ""
    """Of this program."""

    def of(self, person: Person) -> Sitting:
        """A new sitting of somebody else at this terminal."""
        return replace(self, person=person, id=_new_id())


def sitting_here(person: Person) -> Sitting:
    """A sitting of this person at the terminal that this program runs in."""
    import getpass
    import os
    import platform
    import sys
    from contextlib import suppress
    from importlib.metadata import PackageNotFoundError, version

    terminal = account = release = ""
    with suppress(OSError, AttributeError, ValueError):
        terminal = os.ttyname(sys.stdin.fileno())
    with suppress(OSError, KeyError, ImportError):
        account = getpass.getuser()
    with suppress(PackageNotFoundError):
        release = version("diag")
    return Sitting(person, host=platform.node(), terminal=terminal, account=account, version=release)
