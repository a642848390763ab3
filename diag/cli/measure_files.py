"""`diag measure files`: faulty machine files by the thousand, each mistake told at its place."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

from diag.cli import machines
from diag.cli.progress import progress
from diag.cli.settings import Settings
from diag.cli.text import say, wrapped

if TYPE_CHECKING:
    from diag.vet.files import Report

WRONG_SHOWN = 5


@click.command("files", short_help="Faulty machine files.")
@click.argument("machine", required=False)
@click.option(
    "--count", metavar="N", type=click.IntRange(1, 10_000_000), default=2_000, show_default=True, help="Faulty files."
)
@click.option("--seed", metavar="S", type=click.IntRange(0), default=1, show_default=True, help="Which mistakes.")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
@click.pass_obj
def files(settings: Settings, machine: str | None, count: int, seed: int, as_json: bool) -> int:
    """The files of MACHINE (of a small one, when none is named) with mistakes in them, each read and vetted.

    Bytes, letters, words, lines, indents and values are changed, keys and files cut off, aliases and odd characters put
    in. Nothing may fail, every problem must be told at a place inside its file, and each folder must be done in
    bounded time. The exit code is 1 when that is broken. 2000 take about half a minute.
    """
    from diag.vet.files import run

    folder = machines.folder(settings.knowledge, machine) if machine is not None else None
    with progress(count) as done:
        report = run(folder, count, seed, done=done)
    if as_json:
        click.echo(json.dumps(_figures(report, machine, count, seed), indent=2))
    else:
        say(
            f"{report.tried:,} faulty files, seed {seed}: {report.problems:,} problems "
            f"under {len(report.rules)} rules, {len(report.wrong):,} wrong"
        )
        say(f"  {report.machines:,} were machines all the same, and were vetted for sense")
        say(f"  the slowest took {report.slowest:.2f} s")
        for text in report.wrong[:WRONG_SHOWN]:
            for line in wrapped(f"WRONG {text}", 2, 4):
                say(line)
        if len(report.wrong) > WRONG_SHOWN:
            say(f"  and {len(report.wrong) - WRONG_SHOWN} more (--json lists them)")
        if report.tried < count:
            say(f"stopped after {report.tried:,} of {count:,}: enough are wrong")
    return 1 if report.wrong else 0


def _figures(report: Report, machine: str | None, count: int, seed: int) -> dict[str, object]:
    return {
        "machine": machine,
        "count": count,
        "seed": seed,
        "tried": report.tried,
        "machines": report.machines,
        "problems": report.problems,
        "rules": dict(report.rules.most_common()),
        "slowest_seconds": report.slowest,
        "wrong": report.wrong,
    }
