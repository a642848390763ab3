"""What machines and their isolation points are called, as far as their files are here and sound."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from diag.cli.settings import Settings
from diag.text import one_line

if TYPE_CHECKING:
    from diag.machine.model import Machine


class Titles:
    """Each machine is read only once, and only where something of it is asked for. A name whose title is not known
    stands for itself."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._read: dict[str, Machine | None] = {}

    @cached_property
    def _listed(self) -> dict[str, str]:
        from diag.machine.find import listing

        return {machine.id: machine.title for machine in listing(self._settings.knowledge)}

    def machine(self, id: str) -> str:
        return one_line(self._listed.get(id, "") or id)

    def point(self, machine: str, id: str) -> str:
        """An isolation point of a machine; empty for an empty name."""
        from diag.case.phrases import named

        if machine not in self._read:
            self._read[machine] = self._found(machine)
        found = self._read[machine]
        return one_line(named(found, id) if found is not None else id)

    def _found(self, id: str) -> Machine | None:
        from diag.machine.find import NoSuchMachine, find
        from diag.machine.load import NotAMachine, read

        try:
            return read(find(id, self._settings.knowledge), examples=False)
        except (NoSuchMachine, NotAMachine, OSError):
            return None
