"""What a field's type cannot say by itself: to what kind of name a word refers, and what stands where a part of an
entry is looked at apart from the rest. The marks stand in `Annotated`, beside the types of the models."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

from diag.machine.names import Named


@dataclass(frozen=True, slots=True)
class Refers:
    """Each word here, or each key of the map, is a name of this kind that stands somewhere else."""

    kind: Named


@dataclass(frozen=True, slots=True)
class Declares:
    """The names of this section's entries are of this kind."""

    kind: Named


@dataclass(frozen=True, slots=True)
class Apart:
    """What may stand here. It is looked at apart from its entry, so that each problem is reported once. The type comes
    from a function, as it may be declared further down, or hold itself."""

    type: Callable[[], Any]
    in_part: bool = False
    """Some fields of the model, which are laid over an entry."""


@dataclass(frozen=True, slots=True)
class File:
    """A file of a machine's folder in which a section may stand, besides machine.yaml."""

    name: str


@dataclass(frozen=True, slots=True)
class EachFile:
    """A folder of files, each of which holds one entry of the section, or a list of them."""

    folder: str


class Mark(Enum):
    """Marks that say all by their name."""

    FREE_TEXT = auto()
    """Several texts, whose commas may be their own."""
    NOT_IN_MODULES = auto()
    """A module holds no such section."""
    MODULES_ONLY = auto()
    """Only a module holds such a section."""
