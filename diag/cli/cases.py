"""`diag cases`: the casebook as a list."""

from __future__ import annotations

import json

import click

from diag.cli.settings import Settings
from diag.cli.text import one_line, say


@click.command("cases")
@click.option("--json", "as_json", is_flag=True, help="As a JSON list.")
@click.pass_obj
def command(settings: Settings, as_json: bool) -> int:
    """List the cases in the casebook, the latest first."""
    from diag.case.casebook import Casebook, default_path

    path = settings.casebook or default_path()
    # Looking must not make a casebook.
    lines = Casebook(path).cases() if path.exists() else ()
    if as_json:
        found = [
            {
                "id": line.id,
                "machine": line.machine,
                "opened": line.opened.isoformat(),
                "last": line.last.isoformat(),
                "person": line.person,
                "closed": line.closed or None,
                "locks": [list(lock) for lock in line.locks],
            }
            for line in lines
        ]
        click.echo(json.dumps(found, indent=2))
        return 0
    if not lines:
        say("No cases yet. `diag` opens the app; `diag start MACHINE` opens it in a new case.")
    for line in lines:
        locks = f", LOCKS ON: {', '.join(f'{point} ({person})' for point, person in line.locks)}" if line.locks else ""
        opened = line.opened.astimezone().strftime("%Y-%m-%d %H:%M")
        say(one_line(f"{line.id}  {opened}  {line.machine}  {line.closed or 'open'}, {line.person}{locks}"))
    return 0
