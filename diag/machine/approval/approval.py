"""How far a machine's file may be trusted: a draft, on trial, or approved, and then by whom, when and in what form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum, auto
from typing import Final


class Trust(StrEnum):
    """How far a file may be trusted."""

    DRAFT = auto()
    TRIAL = auto()
    APPROVED = auto()


DRAFT: Final = Trust.DRAFT
TRIAL: Final = Trust.TRIAL
APPROVED: Final = Trust.APPROVED
_TOLD: Final[Mapping[str, str]] = {DRAFT: "a draft", TRIAL: "on trial"}
_BADGES: Final[Mapping[str, tuple[str, ...]]] = {
    DRAFT: ("DRAFT FILE, NOT APPROVED", "DRAFT FILE"),
    TRIAL: ("FILE ON TRIAL, NOT APPROVED", "FILE ON TRIAL"),
    APPROVED: ("FILE CHANGED SINCE APPROVAL", "FILE CHANGED"),
}
WORDS: Final = (DRAFT, TRIAL)
"""What is said in one word; an approval says more."""


@dataclass(frozen=True, slots=True)
class Approval:
    """How far the file says that it may be trusted, and whether the file still is what was approved."""

    word: str = DRAFT
    """draft, trial or approved."""
    by: str = ""
    """Approved: by whom, a role or a name as the site writes it."""
    on: str = ""
    """Approved: the day, as 2026-11-25."""
    digest: str = ""
    """Approved: of the content that was approved (`diag.machine.approval.digest`)."""
    now: str = ""
    """Approved: of the content as it was read; empty otherwise, since nobody needs it."""

    @property
    def changed(self) -> bool:
        """Approved, and changed since."""
        return self.word == APPROVED and self.digest != self.now

    @property
    def holds(self) -> bool:
        """Approved as it stands."""
        return self.word == APPROVED and self.digest == self.now

    @property
    def told(self) -> str:
        """In a few words, for a head or a list."""
        if self.word != APPROVED:
            return self.word
        approved = f"approved by {self.by} on {self.on}"
        return f"changed since it was {approved}" if self.changed else approved

    @property
    def warning(self) -> str:
        """What whoever works with the machine must know, as a sentence; empty when it is approved as it stands."""
        if self.changed:
            return f"Not approved as it stands: this machine file has changed since {self.by} approved it on {self.on}."
        return "" if self.holds else f"Not approved: this machine file is {_TOLD[self.word]}."

    @property
    def brief(self) -> str:
        """In two or three words, for a list of machines."""
        if self.changed:
            return "CHANGED SINCE APPROVAL"
        return APPROVED.value if self.holds else "not approved"

    @property
    def badges(self) -> tuple[str, ...]:
        """The same in a few words for where there is little room, the longest first; none when there is no warning."""
        return () if self.holds else _BADGES[self.word]
