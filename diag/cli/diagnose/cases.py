"""`diag cases`: the casebook as a list, and what keeps it sound."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import click

from diag.cli import json_output
from diag.cli.casebooks import existing
from diag.cli.completing import ROLES, complete_case, complete_machine, complete_role
from diag.cli.errors import WrongUsage, unknown
from diag.cli.printing import say
from diag.cli.settings import Settings
from diag.cli.titles import Titles
from diag.text import one_line

SLACK = timedelta(seconds=2)
"""By how much two clocks may differ."""
_FILE = click.Path(dir_okay=False, path_type=Path)


@click.command("cases")
@click.option("--json", "program", is_flag=True, help="As a JSON list; with --verify as an object.")
@click.option("--log", metavar="CASE", shell_complete=complete_case, help="Print every entry of a case in words.")
@click.option("--verify", is_flag=True, help="Check that every case still says what was recorded.")
@click.option("--digits", metavar="D", multiple=True, help="With --verify: digits of a sheet or a seal. Repeatable.")
@click.option(
    "--repair",
    metavar="MACHINE",
    shell_complete=complete_machine,
    help="Work out anew what stands at a machine, where the lists do not agree with its entries.",
)
@click.option("--by", metavar="NAME", help="With --repair: who does it.")
@click.option(
    "--role", metavar="ROLE", shell_complete=complete_role, help=f"With --repair: their role, {', '.join(ROLES)}."
)
@click.option("--yes", is_flag=True, help="With --repair: do it without asking.")
@click.option("--backup", metavar="FILE", type=_FILE, help="Copy the casebook into a new file while others write.")
@click.option("--export", metavar="FILE", type=_FILE, help="Write the cases that are over as JSON Lines.")
@click.option("--case", "cases", metavar="CASE", multiple=True, help="With --export: only this case. Repeatable.")
@click.option("--import", "import_", metavar="FILE", type=_FILE, help="Take over the cases of an export.")
@click.option("--forget", metavar="PERSON", help="Delete a person's name and account; the record still verifies.")
@click.option(
    "--blank", is_flag=True, help="With --forget: blank the notes that name the person, too. Later is too late."
)
@click.option("--new", is_flag=True, help="Make an empty casebook where --casebook says.")
@click.pass_obj
def command(
    settings: Settings,
    program: bool,
    log: str | None,
    verify: bool,
    digits: tuple[str, ...],
    repair: str | None,
    by: str | None,
    role: str | None,
    yes: bool,
    backup: Path | None,
    export: Path | None,
    cases: tuple[str, ...],
    import_: Path | None,
    forget: str | None,
    blank: bool,
    new: bool,
) -> int:
    """List the cases in the casebook, the latest first, or look after it.

    \b
    diag cases --log 1130-a
    diag cases --verify --digits "1130-a 12 3f2a 9c01 77de 0b45"
    diag cases --backup casebook-copy.sqlite3
    diag cases --repair mixer --by "Ann Weber" --role engineer
    """
    asked = {
        "--log": log,
        "--verify": verify,
        "--repair": repair,
        "--backup": backup,
        "--export": export,
        "--import": import_,
    }
    asked |= {"--forget": forget, "--new": new}
    given = [option for option, value in asked.items() if value not in (None, False)]
    if len(given) > 1:
        raise WrongUsage(f"{given[0]} and {given[1]} do not go together")
    for option, said, of in (
        ("--digits", digits, "--verify"),
        ("--case", cases, "--export"),
        ("--blank", blank, "--forget"),
        ("--by", by, "--repair"),
        ("--role", role, "--repair"),
        ("--yes", yes, "--repair"),
    ):
        if said and of not in given:
            raise WrongUsage(f"{option} goes with {of}")
    if program and given and given != ["--verify"]:
        raise WrongUsage(f"--json does not go with {given[0]}")
    for option, path in (("--backup", backup), ("--export", export), ("--import", import_)):
        if path is not None and not path.name.strip():
            raise WrongUsage(f"{option} needs the name of a file")
    from diag.cli.diagnose import casebook_care as care

    if log is not None:
        return care.log(settings, log)
    if verify:
        return care.verify(settings, digits, program)
    if repair is not None:
        if not by or not role:
            raise WrongUsage("--repair is recorded in somebody's name: add --by NAME and --role ROLE")
        if role not in ROLES:
            raise unknown("role", role, ROLES)
        return care.repair(settings, repair, by, role, yes)
    if backup is not None:
        return care.backup(settings, backup)
    if export is not None:
        return care.export(settings, export, cases)
    if import_ is not None:
        return care.import_(settings, import_)
    if forget is not None:
        return care.forget(settings, forget, blank)
    return care.new(settings) if new else _list(settings, program)


def _list(settings: Settings, program: bool) -> int:
    from diag.case.log.stored import CaseLine, cases_in

    lines: tuple[CaseLine, ...] = ()
    if (book := existing(settings)) is not None:
        with book:
            lines = cases_in(book)
    now = datetime.now(UTC)
    lines = tuple(sorted(lines, key=lambda line: line.last > now + SLACK))  # a time to come is never the latest
    if program:
        json_output.say_objects(
            {
                **asdict(line),
                "opened": line.opened.isoformat(),
                "last": line.last.isoformat(),
                "closed": line.closed or None,
                "asset": line.asset or None,
            }
            for line in lines
        )
        return 0
    if not lines:
        say("No cases yet. `diag` opens the app; `diag start MACHINE` opens it in a new case.")
    titles = Titles(settings)
    for line in lines:
        at = partial(titles.point, line.machine)
        locks = f", LOCKS ON: {', '.join(f'{at(point)} ({person})' for point, person in line.locks)}" * bool(line.locks)
        locks += ", DANGER STANDS" if line.danger else ""
        locks += "".join(f", DANGER TAG: {at(point) or 'elsewhere'} ({person})" for point, person in line.tags)
        locks += f", TO BE TOLD: {', '.join(line.to_be_told)}" if line.to_be_told else ""
        locks += ", LOCKS AND DANGERS NOT KNOWN: diag cases --verify" if line.doubtful else ""
        opened = line.opened.astimezone().strftime("%Y-%m-%d %H:%M")
        machine = ", ".join(filter(None, (titles.machine(line.machine), line.asset)))
        say(one_line(f"{line.id}  {opened}  {machine}  {line.closed or 'open'}, {line.person}{locks}"))
    return 0
