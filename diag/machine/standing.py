"""How far a machine's file may be trusted: a draft, on trial, or approved, and then by whom, when and in what form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

DRAFT: Final = "draft"
TRIAL: Final = "trial"
APPROVED: Final = "approved"
WORDS: Final = (DRAFT, TRIAL)
"""Standings that are a word by themselves; an approval says more."""
RENAMED: Final = {"tried": TRIAL, "reviewed": APPROVED}
"""Words that files of earlier programs use, and what they are called now."""


@dataclass(frozen=True, slots=True)
class Standing:
    """The standing as the file says it, and whether the file still is what was approved."""

    word: str = DRAFT
    """draft, trial or approved."""
    by: str = ""
    """Approved: by whom, a role or a name as the site writes it."""
    on: str = ""
    """Approved: the day, as 2026-11-25."""
    digest: str = ""
    """Approved: of the content that was approved (`diag.machine.digest`)."""
    now: str = ""
    """Approved: of the content as it was read; empty otherwise, as nobody asks for it."""

    @property
    def changed(self) -> bool:
        """Approved, and changed since."""
        return self.word == APPROVED and self.digest != self.now

    @property
    def holds(self) -> bool:
        """Approved as it stands."""
        return self.word == APPROVED and not self.changed

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
        if self.word == TRIAL:
            return "Not approved: this machine file is on trial."
        return "" if self.holds else "Not approved: this machine file is a draft."

    @property
    def brief(self) -> str:
        """In two or three words, for a list of machines."""
        if self.changed:
            return "CHANGED SINCE APPROVAL"
        return "approved" if self.holds else "not approved"

    @property
    def badges(self) -> tuple[str, ...]:
        """The same in a few words for where there is little room, the longest first; none when there is no warning."""
        if self.changed:
            return ("FILE CHANGED SINCE APPROVAL", "FILE CHANGED")
        if self.word == TRIAL:
            return ("FILE ON TRIAL, NOT APPROVED", "FILE ON TRIAL")
        return () if self.holds else ("DRAFT FILE, NOT APPROVED", "DRAFT FILE")
