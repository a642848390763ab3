"""How commands read the casebook: reading never makes one, and a missing file or case is reported."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from diag.cli.errors import WrongUsage, unknown
from diag.cli.machines import no_file
from diag.cli.settings import Settings
from diag.machine.assets import parted

if TYPE_CHECKING:
    from diag.record.casebook import Casebook


def existing(settings: Settings) -> Casebook | None:
    """The casebook where there is one; None where this user has none yet.

    Raises `WrongUsage` where another file was asked for and is not there, or where no casebook is wanted."""
    from diag.record.casebook import Casebook

    if settings.no_casebook:
        raise WrongUsage("--no-casebook keeps no case, so there is none to read")
    place = settings.casebook
    if isinstance(place, Path):
        check_ordinary(settings)
        if not place.exists():
            if settings.chosen_casebook is not None:
                raise WrongUsage(f"there is no such casebook: {no_file(place)}")
            return None
        if place.stat().st_size == 0:  # it becomes a casebook with its first case, not by being looked at
            return None
    return Casebook(place, named_by=settings.casebook_named_by, only_read=True)


def wanted(settings: Settings) -> Casebook:
    """The casebook to read from. Raises `WrongUsage` where there is none."""
    book = existing(settings)
    if book is None:
        raise WrongUsage("there is no casebook yet; it is made with the first case")
    return book


def writable(settings: Settings) -> Casebook:
    """The casebook to change. Raises `WrongUsage` where there is none."""
    from diag.record.casebook import Casebook

    wanted(settings).close()
    return Casebook(settings.casebook, named_by=settings.casebook_named_by, create=False)


def find_case(settings: Settings, id: str) -> tuple[Casebook, str]:
    """The casebook, and what it knows the machine of a case by (`diag.machine.assets`).

    Raises `WrongUsage` with the nearest ids where there is none."""
    from diag.case.log.stored import machine_of

    book = existing(settings)
    if book is None:
        raise unknown("case", id, ())
    try:
        return book, machine_of(book, id)
    except KeyError:
        known = [head.name for head in book.cases(limit=500)]
        book.close()
        raise unknown("case", id, known) from None


def check_case(settings: Settings, machine: str, id: str) -> str:
    """The asset of the machine that the case is of, folded; empty where it is of none. Raises `WrongUsage` where the
    case is not one of this machine."""
    book, recorded = find_case(settings, id)
    book.close()
    owner, asset = parted(recorded)
    if owner != machine:
        raise WrongUsage(f"case {id} is of {owner}, not of {machine}; to go on with it: diag start {owner} --case {id}")
    return asset


def check_ordinary(settings: Settings) -> None:
    """Raises `WrongUsage` where the casebook is a folder, a device, a pipe or a link in a circle."""
    from diag.record.address import not_a_file

    place = settings.casebook
    if isinstance(place, Path) and not_a_file(place):
        raise WrongUsage(f"{place} is not an ordinary file. Name another file with {settings.casebook_named_by}.")


def check_writable(settings: Settings, *, new: bool = False) -> None:
    """Raises `WrongUsage` where the casebook asked for cannot be used or made. A file that is not there is taken for a
    slip, unless it is to be `new`; a missing folder always is."""
    chosen = settings.chosen_casebook
    if not isinstance(chosen, Path) or settings.no_casebook:
        return
    check_ordinary(settings)
    if not chosen.parent.is_dir():
        raise WrongUsage(f"no casebook can be made there: {no_file(chosen)}")
    if not new and not chosen.exists():
        make = f"To make a new one there: diag --casebook {shlex.quote(str(chosen))} cases --new"
        raise WrongUsage(f"there is no such casebook: {no_file(chosen)}. {make}")
