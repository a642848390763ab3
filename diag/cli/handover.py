"""`diag handover`: the handover sheet of a case, which for an operator is the call sheet."""

from __future__ import annotations

from pathlib import Path

import click

from diag.cli import machines
from diag.cli.errors import WrongUsage, unknown
from diag.cli.settings import Settings
from diag.cli.text import say


@click.command("handover")
@click.argument("case")
@click.option("--plain", is_flag=True, help="As plain text in place of Markdown.")
@click.option("--out", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path), help="Into a new file.")
@click.pass_obj
def command(settings: Settings, case: str, plain: bool, out: Path | None) -> int:
    """Write the handover sheet of CASE: state of the machine and whose lock is on, seen, done, ruled out, next.

    Reads the casebook and adds nothing to it. A file that is there already is left as it is.

    \b
    diag handover 4f2a
    diag handover 4f2a --plain --out sheet.txt
    """
    text = sheet(settings, case, plain)
    if out is None:
        say(text.rstrip("\n"))
        return 0
    try:
        with out.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise WrongUsage(f"{out} is there already; name another file") from None
    say(f"written to {out}")
    return 0


def sheet(settings: Settings, id: str, plain: bool) -> str:
    """The sheet of a case in the casebook. Raises `WrongUsage`, with the nearest ids, when there is none of that id."""
    from diag.case.case import Case
    from diag.case.casebook import Casebook, default_path
    from diag.machine.load import read

    path = settings.casebook or default_path()
    book = Casebook(path) if path.exists() else None
    lines = book.cases() if book else ()
    line = next((line for line in lines if line.id == id), None)
    if book is None or line is None:
        raise unknown("case", id, (line.id for line in lines))
    case = Case.read(id, read(machines.folder(settings.knowledge, line.machine), examples=False), book=book)
    from diag.case import sheet as sheets

    return sheets.plain(case) if plain else sheets.markdown(case)
