"""`diag start`, and `diag` alone: opens the app. The only command that loads Textual."""

from __future__ import annotations

import os
import sys

import click

from diag.cli import machines
from diag.cli.errors import WrongUsage
from diag.cli.settings import Settings


@click.command("start")
@click.argument("machine")
@click.option("--case", "case", metavar="ID", help="Go on with this case, as `diag cases` lists it.")
@click.pass_obj
def command(settings: Settings, machine: str, case: str | None) -> int:
    """Open the app in a new case of MACHINE, or in one that was left.

    \b
    diag start tray-stacker
    diag start tray-stacker --case 4f2a
    """
    machines.folder(settings.knowledge, machine)
    return open_app(settings, machine, case)


def open_app(settings: Settings, machine: str | None = None, case: str | None = None) -> int:
    """Run the app until it is closed. Raises `WrongUsage` where there is no terminal to show it in."""
    if not (sys.stdin and sys.stdin.isatty() and sys.stdout.isatty()) or os.environ.get("TERM") == "dumb":
        raise WrongUsage("the app needs a terminal that can show it; `diag rank` works without one")
    knowledge = settings.knowledge
    from diag.tui.app import run

    return run(machine, knowledge, settings.casebook, case)
