"""What the options before a command say: which folder of machines, which casebook."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Settings:
    given_knowledge: Path | None
    """As on the command line or in DIAG_KNOWLEDGE; None for the machines that come with diag."""
    casebook: Path | None
    """As on the command line or in DIAG_CASEBOOK; None for this user's own."""

    @property
    def knowledge(self) -> Path:
        """The folder of machines."""
        from diag.machine.find import knowledge_folder

        return knowledge_folder(self.given_knowledge)
