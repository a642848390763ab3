"""`diag new`: a commented skeleton of a machine, to be made one's own."""

from __future__ import annotations

from pathlib import Path

import click

from diag.cli.errors import WrongUsage
from diag.cli.printing import say, say_lines
from diag.cli.settings import Settings


@click.command("new")
@click.argument("machine")
@click.option(
    "--in",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Folder of machines that it goes into. Left out: your first folder of machines, else the current folder.",
)
@click.pass_obj
def command(settings: Settings, machine: str, folder: Path | None) -> int:
    """Write the skeleton of a new machine: a folder of files whose remarks say what each field is for. CHANGE FIRST
    marks what must not stay as it is; diag vet names the marks until they are gone, and nothing can be done with the
    machine before. Nothing that is there is touched.

    MACHINE is its name in commands: small letters, digits and hyphens.

    \b
    diag new carton-erector
    diag new carton-erector --in machines
    """
    from diag.machine.find import listing
    from diag.machine.reader.file_text import shown_path
    from diag.write.skeleton import CannotMake, check_name, make

    where = folder or next(iter(settings.own_folders), Path())
    try:
        check_name(machine)
        # A machine that came with diag would be found in its place, and the new one never.
        if not settings.own_folders and any(known.id == machine for known in listing(settings.knowledge)):
            raise CannotMake(f"a machine {machine} comes with diag; choose another name")
        written = make(machine, where)
    except CannotMake as error:
        raise WrongUsage(str(error)) from None
    say_lines(map(shown_path, written))
    known = any(where.resolve() == own.resolve() for own in settings.own_folders)
    diag = "diag" if known else f"diag --knowledge {shown_path(where)}"
    say(f"Now open {shown_path(written[0])} in a text editor. At any time: {diag} vet {machine}")
    return 0
