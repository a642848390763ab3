"""Where something stands in a file, and through which module it came there."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in a file, counted from 1."""

    file: str
    line: int
    column: int
    used: Place | None = None
    """In a module's file: where the module is used; that may be in a module again."""

    @property
    def user(self) -> str:
        """Who uses the module that this stands in, as a message ends with it; empty in a machine's own file."""
        return "" if self.used is None else self.used.uses

    @property
    def uses(self) -> str:
        """This place as one that uses a module, and the machine that the module is in the end used by."""
        users = [self]
        while users[-1].used is not None:
            users.append(users[-1].used)
        further = f", and that in {users[-1].file}, line {users[-1].line}" if len(users) > 1 else ""
        return f"; used in {users[0].file}, line {users[0].line}{further}"
