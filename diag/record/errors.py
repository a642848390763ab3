"""What can go wrong with a casebook. Each error is one line that says what, and what to do."""

from __future__ import annotations

from diag.text import one_line


class CasebookError(Exception):
    """The casebook cannot be read or written; one line that says why and what to do."""


class Conflict(CasebookError):
    """Somebody else added an entry to the same case at the same time. Nothing was recorded."""


class NotThere(CasebookError):
    """There is no casebook at this address."""


class Away(CasebookError):
    """The database does not answer, or another program holds the casebook. Nothing was recorded."""


class InDoubt(CasebookError):
    """The database went away while it recorded, and nobody knows yet whether it did. Reading the case tells."""


class Full(CasebookError):
    """No room is left. Nothing was recorded."""


class OnlyRead(CasebookError):
    """The casebook may only be read. Nothing was recorded."""


class Moved(CasebookError):
    """The file was moved, removed or replaced while it was open."""


def held(shown: str) -> Away:
    return Away(f"Nothing was recorded: another program holds the casebook. Try again. It is {shown}.")


def full(shown: str) -> Full:
    return Full(f"Nothing was recorded: no room is left for the casebook. Make room, then try again. It is {shown}.")


def only_read(shown: str, named_by: str = "") -> OnlyRead:
    """`named_by`: what names another casebook; empty where a database is asked for the right to write."""
    other = f", or name another one with {named_by}" if named_by else ""
    return OnlyRead(
        f"Nothing was recorded: this casebook may only be read. Ask for the right to write to it{other}. It is {shown}."
    )


def another_added(case: str) -> Conflict:
    return Conflict(f"Somebody else has added to case {case} just now. Look at it again, then repeat.")


class Contradicts(CasebookError):
    """What is kept beside the entries of a machine is not what the entries say."""


def contradicts(shown: str, machine: str) -> Contradicts:
    return Contradicts(
        f"The casebook {shown} contradicts its own entries about {one_line(machine)}, so nothing of that machine is"
        f" shown. Run `diag cases --verify`, then `diag cases --repair {one_line(machine)}`."
    )
