"""`diag new`: a commented skeleton of a machine, to be made one's own."""

from __future__ import annotations

from pathlib import Path

import click

from diag.cli.errors import WrongUsage
from diag.cli.settings import Settings
from diag.cli.text import say


@click.command("new")
@click.argument("machine")
@click.option(
    "--in",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Folder of machines that it goes into. Left out: that of --knowledge, else the current folder.",
)
@click.pass_obj
def command(settings: Settings, machine: str, folder: Path | None) -> int:
    """Write the skeleton of a new machine: a folder of files that vet clean, can be walked at once, and say in their
    remarks what each field is for and what to change first. Nothing that is there is touched.

    MACHINE is its name in commands: small letters, digits and hyphens.

    \b
    diag new carton-erector
    diag new carton-erector --in machines
    """
    from diag.machine.find import listing
    from diag.machine.skeleton import CannotMake, check_name, make
    from diag.machine.text import shown_path

    where = folder or settings.given_knowledge or Path()
    try:
        check_name(machine)
        # A machine that came with diag would be found in its place, and the new one never.
        if settings.given_knowledge is None and any(known.id == machine for known in listing(settings.knowledge)):
            raise CannotMake(f"a machine {machine} comes with diag; choose another name")
        written = make(machine, where)
    except CannotMake as error:
        raise WrongUsage(str(error)) from None
    for file in written:
        say(shown_path(file))
    known = settings.given_knowledge is not None and where.resolve() == settings.given_knowledge.resolve()
    diag = "diag" if known else f"diag --knowledge {shown_path(where)}"
    say(f"Now open {shown_path(written[0])} in a text editor. At any time: {diag} vet {machine}")
    return 0
