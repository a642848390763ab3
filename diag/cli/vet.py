"""`diag vet`: problems in machine files."""

from __future__ import annotations

import json
from dataclasses import asdict

import click

from diag.cli import machines
from diag.cli.settings import Settings
from diag.cli.text import say


@click.command("vet")
@click.argument("paths", nargs=-1, metavar="[PATH]...")
@click.option("--json", "as_json", is_flag=True, help="As a JSON list.")
@click.pass_obj
def command(settings: Settings, paths: tuple[str, ...], as_json: bool) -> int:
    """Find problems in machine files, as FILE:LINE:COLUMN: LEVEL: TEXT (RULE).

    PATH is a machine by name, or a machine's folder; without any, all machines. The exit code is 1 when there is an
    error; warnings alone leave it 0.

    \b
    diag vet
    diag vet tray-stacker --json
    """
    from diag.vet.sense import vet_machine

    problems = []
    where = machines.folders(settings.knowledge, paths)
    for folder, file in where:
        problems += [p for p in vet_machine(folder) if file is None or machines.same_file(p.file, file)]
    errors = sum(problem.level == "error" for problem in problems)
    if as_json:
        click.echo(json.dumps([asdict(problem) for problem in problems], indent=2))
    else:
        for problem in problems:
            say(str(problem))
        others = len(problems) - errors
        say(f"{_count(len(where), 'machine')}: {_count(errors, 'error')}, {_count(others, 'other remark')}")
    return 1 if errors else 0


def _count(n: int, what: str) -> str:
    """`no errors`, `1 error`, `2 errors`."""
    return f"{n or 'no'} {what}{'' if n == 1 else 's'}"
