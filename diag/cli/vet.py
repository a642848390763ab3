"""`diag vet`: problems in machine files, and the rules behind them."""

from __future__ import annotations

import json
import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from diag.cli import machines
from diag.cli.errors import WrongUsage, unknown
from diag.cli.settings import Settings
from diag.cli.text import one_line, say, wrapped

if TYPE_CHECKING:
    from diag.machine.problem import Problem


@click.command("vet")
@click.argument("paths", nargs=-1, metavar="[PATH]...")
@click.option("--json", "as_json", is_flag=True, help="As a JSON list.")
@click.option("--sarif", "as_sarif", is_flag=True, help="As SARIF 2.1.0, for editors and code hosts.")
@click.option("--rules", "list_rules", is_flag=True, help="List the rules.")
@click.option("--explain", metavar="RULE", help="One rule: why, and an example of what breaks it and what keeps it.")
@click.option("--prove", is_flag=True, help="Walk every path; show that none leads inside without the gate.")
@click.option(
    "--depth", metavar="N", type=click.IntRange(0, 9), help="With --prove: checks of the computed advice deep.  [1]"
)
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
) -> int:
    """Find problems in machine files, as FILE:LINE:COLUMN: LEVEL: TEXT (RULE).

    PATH is a machine by name, a machine's folder, or one of its files; without any, all machines. The exit code is 1
    when there is an error; warnings alone leave it 0.

    \b
    diag vet
    diag vet tray-stacker --json
    diag vet --explain contradicted
    diag vet tray-stacker --prove --depth 2
    """
    if sum((as_json, as_sarif, list_rules, explain is not None, prove)) > 1:
        raise WrongUsage("one of --json, --sarif, --rules, --explain and --prove at a time")
    if depth is not None and not prove:
        raise WrongUsage("--depth goes with --prove")
    if paths and (list_rules or explain is not None):
        raise WrongUsage("--rules and --explain tell of the rules, and take no PATH")
    if list_rules:
        return _list()
    if explain is not None:
        return _explain(explain)
    if prove:
        return _prove(settings, paths, depth)
    from diag.vet.sense import vet_machine

    problems: list[Problem] = []
    where = machines.folders(settings.knowledge, paths)
    for folder, file in where:
        problems += [p for p in vet_machine(folder) if file is None or machines.same_file(p.file, file)]
    errors = sum(problem.level == "error" for problem in problems)
    if as_sarif:
        click.echo(_sarif(problems))
    elif as_json:
        click.echo(json.dumps([asdict(problem) for problem in problems], indent=2))
    else:
        for problem in problems:
            say(str(problem))
        others = len(problems) - errors
        what = "file" if where and all(file is not None for _, file in where) else "machine"
        say(f"{_count(len(where), what)}: {_count(errors, 'error')}, {_count(others, 'other remark')}")
    return 1 if errors else 0


def _prove(settings: Settings, paths: tuple[str, ...], depth: int | None) -> int:
    """The exit code is 1 when a path leads inside, or a machine cannot be read."""
    from diag.cli.progress import counting
    from diag.machine.load import read
    from diag.vet.prove import DEPTH, lines
    from diag.vet.prove import prove as proof_of

    good = True
    for folder, _ in machines.folders(settings.knowledge, paths):
        machine = read(folder, examples=False)
        with counting(f"{machine.id}: stands walked") as done:
            proof = proof_of(machine, DEPTH if depth is None else depth, done)
        for line in lines(proof):
            for part in wrapped(line.strip(), len(line) - len(line.lstrip()), 2):
                say(part)
        good = good and proof.holds
    return 0 if good else 1


def _sarif(problems: list[Problem]) -> str:
    from diag.vet.explain import ALL
    from diag.vet.sarif import log

    return json.dumps(log(problems, ALL), indent=2)


def _list() -> int:
    from diag.vet.explain import ALL

    wide = max(len(rule.name) for rule in ALL)
    for rule in ALL:
        lead = f"{rule.name:<{wide}}  {rule.level:<7}  "
        for n, line in enumerate(textwrap.wrap(one_line(rule.why), 80 - len(lead), break_on_hyphens=False)):
            say((" " * len(lead) if n else lead) + line)
    say(f"{len(ALL)} rules")
    return 0


def _explain(name: str) -> int:
    from diag.vet.explain import ALL, named, sections

    try:
        rule = named(name)
    except KeyError:
        raise unknown("rule", name, [rule.name for rule in ALL]) from None
    say(f"{rule.name} ({rule.level})")
    for heading, text in sections(rule):
        say()
        say(f"{heading}:")
        if heading in ("not so", "but so"):
            for line in text.split("\n"):
                say(f"    {_escaped(line)}")
        else:
            for line in wrapped(one_line(text), 2):
                say(line)
    return 0


def _escaped(line: str) -> str:
    """What cannot be seen as its number: an example of a wrong character must show it."""
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in line)


def _count(n: int, what: str) -> str:
    """`no errors`, `1 error`, `2 errors`."""
    return f"{n or 'no'} {what}{'' if n == 1 else 's'}"
