"""What a casebook asks of a database."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any, Protocol, TypeVar

T = TypeVar("T")
Values = Mapping[str, Any]
Rows = list[tuple[Any, ...]]


class Engine(Protocol):
    """A database with the tables of `diag.record.engines.schema`. Every method raises `CasebookError`, in one line.

    What runs outside of `write` reads by a connection of its own, so a screen that reads never waits for an entry that
    is being recorded."""

    dialect: str
    """`sqlite` or `postgres`."""
    shown: str
    """What messages call the casebook."""

    def run(self, statement: str, values: Values | None = None) -> Rows:
        """The rows that a statement gives."""

    def many(self, statement: str, values: Sequence[Values]) -> None:
        """Runs a statement for each of these values, within `write`."""

    def write(self, work: Callable[[], T], stored: Callable[[T], bool]) -> T:
        """Does the work in one transaction; it is on the disk when this returns, or nothing of it is.

        `stored` tells by reading whether the result of the work is there. It is asked where the end of the transaction
        brought an error, which says nothing about whether it took place."""

    def snapshot(self) -> AbstractContextManager[None]:
        """One view of everything, whatever others write meanwhile."""

    def changed(self) -> bool:
        """Whether somebody may have added something since this was last asked; True the first time. Cheap."""

    def settle(self) -> None:
        """Brings what was written into the file itself, where there is one, without waiting for anybody."""

    def clean_out(self) -> None:
        """Leaves nothing on the disk of what was deleted."""

    def close(self) -> None:
        """Lets go of the database."""
