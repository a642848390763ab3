"""What the options before a command say: which folder of machines, which casebook."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click


@dataclass(frozen=True, slots=True)
class Settings:
    given_knowledge: Path | None
    """As on the command line or in DIAG_KNOWLEDGE; None for the machines that come with diag."""
    casebook: Path | None
    """As on the command line or in DIAG_CASEBOOK; None for this user's own."""

    @property
    def knowledge(self) -> Path:
        """The folder of machines. Raises `click.ClickException` when none came with this diag."""
        return self.given_knowledge or own_knowledge()


def own_knowledge() -> Path:
    """The machines that come with diag: inside the package when installed, beside it in a checkout.

    Raises `click.ClickException` when neither is there."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "knowledge", package.parent / "knowledge"):
        if folder.is_dir():
            return folder
    raise click.ClickException("no machines came with this diag; name a folder of them with --knowledge DIR")
