"""Fields that were once spelled otherwise. The old spellings are read for ever; `diag vet` tells the new ones.

Needs nothing that takes time to load: the list of machines reads the spellings before anything else is there.
"""

from __future__ import annotations

from enum import StrEnum, auto
from typing import Final


class Renamed(StrEnum):
    """Fields of the header of machine.yaml that have another name than they once had, by their names of today."""

    APPROVAL = auto()


RENAMED: Final = {"standing": Renamed.APPROVAL.value}
"""Each old spelling, with the new one."""


def hint(old: str) -> str:
    """What `diag vet` says of an old spelling, after its name."""
    return f"is called '{RENAMED[old]}' now; the old name is still read, and means the same"


def spellings_of(field: str) -> tuple[str, ...]:
    """How a field may be written: its name, then the old ones."""
    return (field, *(old for old, new in RENAMED.items() if new == field))
