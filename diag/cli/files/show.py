"""`diag show`: a machine whole, one entry of it with where each line comes from, or a module."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from diag.cli import machines
from diag.cli.completing import complete_entry, complete_machine_or_module
from diag.cli.errors import WrongUsage, unknown
from diag.cli.printing import answer
from diag.cli.settings import Settings

if TYPE_CHECKING:
    from pathlib import Path


@click.command("show")
@click.argument("name", metavar="MACHINE|MODULE", shell_complete=complete_machine_or_module)
@click.argument("entry", metavar="[NAME]", required=False, shell_complete=complete_entry)
@click.option("--json", "program", is_flag=True, help="As one JSON object.")
@click.pass_obj
def command(settings: Settings, name: str, entry: str | None, program: bool) -> int:
    """Show a machine whole, with the matrix of its causes by indications; or one entry of it; or a module.

    NAME is a cause, check, indication, remedy, reset, tree, zone, isolation point, stored energy, test point, group or
    example. An entry is shown as it is after modules, chains and `but` are written out, and behind each line stands the
    file and line that it comes from, and where the module is used. A module shows what it asks for and the names that
    it makes. What is shown of work inside is what the file says: whether it may be done now is for the app's lockout.

    \b
    diag show tray-stacker
    diag show tray-stacker amp1-able
    diag show dc-supply
    """
    module = _module(settings, name)
    if module is not None:
        if entry is not None:
            raise WrongUsage(f"{name} is a module, and its entries have no name of their own; leave out {entry!r}")
        from diag.cli.files import show_module

        found = show_module.as_object(name, module)
        lines = show_module.lines(found)
    elif entry is None:
        from diag.cli.files import show_machine
        from diag.machine.load import read

        machine = read(machines.folder(settings.knowledge, name), examples=False)
        found, lines = show_machine.as_object(machine), show_machine.lines(machine)
    else:
        from diag.cli.files import show_entry

        entries = show_entry.entries(machines.folder(settings.knowledge, name), entry)
        found, lines = show_entry.as_object(name, entries), show_entry.lines(name, entries)
    answer(found, lines, program)
    return 0


def _module(settings: Settings, name: str) -> Path | None:
    """The file of the module of that name, where no machine has it. Raises `WrongUsage` where there is neither."""
    from diag.cli.files.show_module import files
    from diag.machine.find import NoSuchMachine, find, listing

    try:
        find(name, settings.knowledge)
    except NoSuchMachine:
        known = files(settings)
        if name not in known:
            here = [machine.id for machine in listing(settings.knowledge)]
            raise unknown("machine or module", name, [*here, *sorted(known)]) from None
        return known[name]
    return None
