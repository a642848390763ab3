"""`diag handover`: the handover sheet of a case, which for an operator is the call sheet."""

from __future__ import annotations

from pathlib import Path

import click

from diag.cli import machines
from diag.cli.casebooks import find_case
from diag.cli.completing import complete_case
from diag.cli.errors import WrongUsage
from diag.cli.printing import say
from diag.cli.settings import Settings


@click.command("handover")
@click.argument("case", shell_complete=complete_case)
@click.option("--plain", is_flag=True, help="As plain text in place of Markdown.")
@click.option("--out", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path), help="Into a new file.")
@click.pass_obj
def command(settings: Settings, case: str, plain: bool, out: Path | None) -> int:
    """Write the handover sheet of CASE: state of the machine and whose lock is on, seen, done, ruled out, next.

    Reads the casebook and adds nothing to it. A file that is there already is left as it is.

    \b
    diag handover 1130-a
    diag handover 1130-a --plain --out sheet.txt
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
    from diag.case.sheet import sheet as sheets

    book, recorded = find_case(settings, id)
    with book:
        machine = machines.of_record(settings.knowledge, recorded)
        case = Case.read(id, machine, book=book, shifts=settings.config.shifts)
        case.tick()
    return sheets.plain(case) if plain else sheets.markdown(case)
