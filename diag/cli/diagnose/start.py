"""`diag start`, and `diag` alone: opens the app. The only command that loads Textual."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from diag.cli import machines
from diag.cli.casebooks import check_case, check_writable
from diag.cli.completing import complete_asset, complete_case, complete_machine
from diag.cli.errors import WrongUsage
from diag.cli.settings import Settings
from diag.machine.assets import folded, recorded_as, shown_name

CANNOT = ("", "dumb", "unknown")
"""What TERM says of a terminal that can only write one line below the other, or of none."""


@click.command("start")
@click.argument("machine", shell_complete=complete_machine)
@click.option(
    "--case", "case", metavar="ID", shell_complete=complete_case, help="Go on with this case, as `diag cases` lists it."
)
@click.option(
    "--asset",
    metavar="NAME",
    shell_complete=complete_asset,
    help="Which of the machines that share the file of MACHINE.",
)
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder for handover sheets. Left out: `sheets` of the config file, else this user's documents.",
)
@click.pass_obj
def command(settings: Settings, machine: str, case: str | None, asset: str | None, out: Path | None) -> int:
    """Open the app in a new case of MACHINE, or in one that was left.

    Where no record can be made or none is wanted, `diag --no-casebook start MACHINE` goes on without: the screens say
    so, and what is entered is gone when the app is left.

    \b
    diag start tray-stacker
    diag start tray-stacker --case 1130-a
    diag start rinser --asset "rinser 2"
    """
    folder = machines.folder(settings.knowledge, machine)
    if case is not None:
        of = check_case(settings, folder.name, case)
        if asset is not None and folded(asset) != of:
            raise WrongUsage(f"case {case} is of {shown_name(recorded_as(folder.name, of))}; leave out --asset")
        return open_app(settings, machine, case, out, of)
    if asset is not None:
        asset = machines.asset_of(folder, asset)
    return open_app(settings, machine, "", out, asset or "")


def open_app(settings: Settings, machine: str = "", case: str = "", sheets: Path | None = None, asset: str = "") -> int:
    """Run the app until it is closed. Raises `WrongUsage` where there is no terminal to show it in."""
    if not has_terminal():
        raise WrongUsage("the app needs a terminal that can show it; `diag rank` works without one")
    check_writable(settings)
    theme = settings.theme
    from diag.tui.app import AppContext, run

    context = AppContext(
        settings.knowledge,
        settings.chosen_casebook,
        sheets=sheets or settings.config.sheets,
        recorded=not settings.no_casebook,
        casebook_named_by=settings.casebook_named_by,
        shifts=settings.config.shifts,
    )
    if logs := sys.modules.get("diag.cli.logs"):
        logs.leave_the_screen()
    return run(context, machine, case, theme, asset)


def has_terminal() -> bool:
    """Whether there is a terminal that can show the app."""
    return bool(sys.stdin and sys.stdin.isatty() and sys.stdout.isatty()) and os.environ.get("TERM", "") not in CANNOT
