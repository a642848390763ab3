"""What is in force for a command: folders of machines, casebook, folder of sheets, and where each was said.

What stands before the command goes before the environment, that before the config file, and that before the default.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diag.cli.config import Config

COMMAND_LINE = "the command line"
THEME = "DIAG_THEME"
"""The environment variable that names the theme."""


@dataclass(frozen=True)
class Settings:
    """The config file is read when a setting from it is first needed, so a command that needs none works even if the
    file is broken. Raises `WrongUsage` when it is read and is wrong."""

    given_knowledge: tuple[Path, ...] = ()
    """As on the command line or in DIAG_KNOWLEDGE; empty where neither says anything."""
    given_casebook: Path | str | None = None
    """As on the command line or in DIAG_CASEBOOK."""
    given_shipped: bool | None = None
    """As on the command line or in DIAG_SHIPPED."""
    no_casebook: bool = False
    """No case is kept."""
    said_in: dict[str, str] = field(default_factory=dict)
    """For `knowledge`, `casebook` and `shipped`, where they were said: the command line, or the variable."""

    @cached_property
    def config(self) -> Config:
        from diag.cli.config import read_config

        return read_config()

    @cached_property
    def shipped(self) -> bool:
        """Whether the machines that come with diag are listed too."""
        return self.config.shipped if self.given_shipped is None else self.given_shipped

    @cached_property
    def own_folders(self) -> tuple[Path, ...]:
        """The folders of machines but for the one that comes with diag, the first to be searched first."""
        return (*self.given_knowledge, *self.config.knowledge)

    @cached_property
    def knowledge(self) -> tuple[Path, ...]:
        """The folders of machines, the first to be searched first."""
        from diag.machine.find import knowledge_folders

        return knowledge_folders(self.own_folders, shipped=self.shipped)

    @cached_property
    def chosen_casebook(self) -> Path | str | None:
        """The file of the casebook, or the address of its database, where one was chosen; None for this user's own."""
        return self.config.casebook if self.given_casebook is None else self.given_casebook

    @cached_property
    def casebook(self) -> Path | str:
        """The file of the casebook, or the address of its database."""
        if self.chosen_casebook is not None:
            return self.chosen_casebook
        # The casebook's room is slow to load, so whoever opens the app asks for the chosen one alone.
        from diag.record.address import default_path

        return default_path()

    @cached_property
    def casebook_named_by(self) -> str:
        """What names another casebook, as a message says it: the option where that was used, else the variable."""
        return "--casebook" if self.said_in.get("casebook") == COMMAND_LINE else "DIAG_CASEBOOK"

    @cached_property
    def theme(self) -> str:
        """The colours of the screens. Raises `WrongUsage` where DIAG_THEME names none."""
        from diag.cli.config import THEMES
        from diag.cli.errors import WrongUsage, unknown

        said = os.environ.get(THEME, "").strip()
        if said and said not in THEMES:
            raise WrongUsage(f"{THEME}: {unknown('theme', said, THEMES).message}")
        return said or self.config.theme

    @cached_property
    def sheets(self) -> Path:
        """The folder that handover sheets are written to when nothing else is said."""
        if self.config.sheets is not None:
            return self.config.sheets
        from platformdirs import user_documents_path

        return user_documents_path()
