"""`diag vet`: problems in machine files, and the rules behind them."""

from __future__ import annotations

import contextlib
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diag.cli import machines
from diag.cli.columns import table
from diag.cli.completing import complete_machine_or_file
from diag.cli.errors import WrongUsage
from diag.cli.json_output import say_objects
from diag.cli.printing import say, say_lines, wrapped
from diag.cli.settings import Settings
from diag.text import one_line

if TYPE_CHECKING:
    from diag.machine.problem import Problem


@click.command("vet")
@click.argument("paths", nargs=-1, metavar="[PATH]...", shell_complete=complete_machine_or_file)
@click.option("--json", "as_json", is_flag=True, help="As a JSON list.")
@click.option("--sarif", "as_sarif", is_flag=True, help="As SARIF 2.1.0, for editors and code hosts.")
@click.option("--rules", "list_rules", is_flag=True, help="List the rules.")
@click.option(
    "--explain", metavar="RULE", help="One rule: its reason, with an example that breaks it and one that keeps it."
)
@click.option("--prove", is_flag=True, help="Walk every path, gate and way back: none leads inside without the gate.")
@click.option("--depth", metavar="N", type=click.IntRange(0, 9), help="With --prove: how many checks deep.  [1]")
@click.option("--watch", is_flag=True, help="Vet again whenever a file changes, until ctrl+c.")
@click.pass_obj
def command(
    settings: Settings,
    paths: tuple[str, ...],
    as_json: bool,
    as_sarif: bool,
    list_rules: bool,
    explain: str | None,
    prove: bool,
    depth: int | None,
    watch: bool,
) -> int:
    """Find problems in machine files, as FILE:LINE:COLUMN: LEVEL: TEXT (RULE).

    PATH is a machine by name, a machine's folder, or one of its files; without any, all machines. The exit code is 1
    when there is an error; warnings alone leave it 0. With --watch it is that of the last look.

    \b
    diag vet
    diag vet tray-stacker --watch
    diag vet tray-stacker --json
    diag vet --explain contradicted
    diag vet tray-stacker --prove --depth 2
    """
    others = sum((as_json, as_sarif, list_rules, explain is not None, prove))
    if others > 1:
        raise WrongUsage("one of --json, --sarif, --rules, --explain and --prove at a time")
    if depth is not None and not prove:
        raise WrongUsage("--depth goes with --prove")
    if watch and others:
        raise WrongUsage("--watch shows problems as lines; it goes with no other option")
    if paths and (list_rules or explain is not None):
        raise WrongUsage("--rules and --explain are about the rules, and take no PATH")
    if list_rules:
        return _list()
    if explain is not None:
        return _explain(explain)
    if prove:
        return _prove(settings, paths, depth)
    if watch:
        return _watch(settings, paths)
    where = machines.folders(settings.knowledge, paths)
    problems = _problems(where)
    if as_sarif:
        from diag.vet.report.sarif import log
        from diag.vet.rules.catalogue import EVERY

        click.echo(json.dumps(log(problems, EVERY), indent=2))
    elif as_json:
        say_objects(asdict(problem) for problem in problems)
    else:
        _print(where, problems)
    return _code(problems)


Where = tuple[tuple[Path, Path | None], ...]
"""Folders of machines, each with the one file that is meant, or None for all of it."""


def _problems(where: Where) -> list[Problem]:
    from diag.vet.run import vet_machine

    return [problem for folder, file in where for problem in vet_machine(folder, file)]


def _code(problems: list[Problem]) -> int:
    return 1 if any(problem.level == "error" for problem in problems) else 0


def _print(where: Where, problems: list[Problem]) -> None:
    say_lines(map(str, problems))
    errors = sum(problem.level == "error" for problem in problems)
    what = "file" if where and all(file is not None for _, file in where) else "machine"
    others = _count(len(problems) - errors, "other remark")
    say(f"{_count(len(where), what)}: {_count(errors, 'error')}, {others}")


def _watch(settings: Settings, paths: tuple[str, ...]) -> int:
    """The exit code is that of the last look."""
    from datetime import datetime

    from diag.cli.files.watching import changes

    code = 0
    where = machines.folders(settings.knowledge, paths)

    def folders() -> list[Path]:
        """Those that are meant now; the same as before while a file is away, since some editors replace what they
        save."""
        nonlocal where
        with contextlib.suppress(WrongUsage):
            where = machines.folders(settings.knowledge, paths)
        return [folder for folder, _ in where]

    with contextlib.suppress(KeyboardInterrupt):
        for _ in changes(folders):
            problems = _problems(where)
            _print(where, problems)
            code = _code(problems)
            say(f"{datetime.now():%H:%M:%S}, watching; ctrl+c ends")
            sys.stdout.flush()
    return code


def _prove(settings: Settings, paths: tuple[str, ...], depth: int | None) -> int:
    """The exit code is 1 when a path leads inside, or a machine cannot be read."""
    from diag.cli.progress import progress
    from diag.machine.load import read
    from diag.vet.proof.prove import DEPTH, lines
    from diag.vet.proof.prove import prove as proof_of

    good = True
    for folder, _ in machines.folders(settings.knowledge, paths):
        machine = read(folder, examples=False)
        with progress(None, f"{machine.id}: positions walked") as done:
            proof = proof_of(machine, DEPTH if depth is None else depth, done)
        for line in lines(proof):
            say_lines(wrapped(line.strip(), len(line) - len(line.lstrip()), 2))
        good = good and proof.holds
    return 0 if good else 1


def _list() -> int:
    from diag.vet.rules.catalogue import EVERY

    say_lines(table([(rule.name, rule.level, one_line(rule.why)) for rule in EVERY], 80))
    say(f"{len(EVERY)} rules")
    return 0


def _explain(name: str) -> int:
    from diag.vet.rules.catalogue import EVERY, named
    from diag.vet.vetted.rule import EXAMPLES

    try:
        rule = named(name)
    except KeyError:
        from diag.machine.names import likest
        from diag.machine.problem import shown

        near, *_ = likest(name, [rule.name for rule in EVERY])
        more = f"diag vet --rules lists all {len(EVERY)}"
        raise WrongUsage(f"unknown rule {shown(name)}; nearest: {shown(near)}; {more}") from None
    say(f"{rule.name} ({rule.level})")
    for heading, text in rule.sections():
        say()
        say(f"{heading}:")
        if heading in EXAMPLES:
            say_lines(f"    {_escaped(line)}" for line in text.split("\n"))
        else:
            say_lines(wrapped(text, 2))
    return 0


def _escaped(line: str) -> str:
    """What cannot be seen as its number: an example of a wrong character must show it."""
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in line)


def _count(n: int, what: str) -> str:
    """`no errors`, `1 error`, `2 errors`."""
    return f"{n or 'no'} {what}{'' if n == 1 else 's'}"
