"""`diag schema`: the machine language as a JSON Schema, for text editors."""

from __future__ import annotations

import json
from pathlib import Path

import click

from diag.cli.errors import WrongUsage, unknown
from diag.cli.printing import say


@click.command("schema")
@click.option("--section", metavar="NAME", help="One kind of file: machine, panel, causes, checks, trees or examples.")
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="Write it there, or into that folder.")
def command(section: str | None, out: Path | None) -> int:
    """Print the machine language as a JSON Schema (2020-12), with which a text editor completes and checks.

    Without --section it is that of machine.yaml, which may hold everything. Where FILE is a folder, the schemas of all
    kinds of files are written into it, each under its name: panel.schema.json and so on.

    \b
    diag schema --out machine.schema.json
    diag schema --section panel --out panel.schema.json
    diag schema --out .
    """
    from diag.machine.language.schema import SECTIONS, schema

    if section is not None and section not in SECTIONS:
        raise unknown("section", section, SECTIONS)
    if out is not None and out.is_dir():
        names = SECTIONS if section is None else [section]
        wanted = {out / f"{name}.schema.json": schema(name) for name in names}
    else:
        wanted = {out: schema(section)} if out is not None else {}
    if out is None:
        click.echo(json.dumps(schema(section), indent=1))
    for path in wanted:
        if path.exists() and not _is_schema(path):
            raise WrongUsage(f"{path} is there already, and is no schema; name another file")
    for path, made in wanted.items():
        path.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
        say(f"written to {path}")
    return 0


def _is_schema(path: Path) -> bool:
    """Whether a file is one that this command wrote before; such a one may be renewed."""
    from diag.machine.language.schema import DIALECT

    with path.open("rb") as file:
        return DIALECT.encode() in file.read(200)
