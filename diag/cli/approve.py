"""`diag approve`: how far a machine's file may be trusted, written into it, with the digest of what was approved."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diag.cli import machines
from diag.cli.errors import WrongUsage
from diag.cli.settings import Settings
from diag.cli.text import say, wrapped

if TYPE_CHECKING:
    from diag.machine.standing import Standing


@click.command("approve")
@click.argument("machine")
@click.option("--by", metavar="WORDS", help="Who approves it: a role or a name, as the site writes it.")
@click.option("--on", metavar="DATE", help="On which day, as 2026-11-25.  [today]")
@click.option("--trial", is_flag=True, help="Take an approval back, or begin a trial: nobody has approved it.")
@click.option("--draft", is_flag=True, help="The same, as a draft.")
@click.pass_obj
def command(settings: Settings, machine: str, by: str | None, on: str | None, trial: bool, draft: bool) -> int:
    """Write into MACHINE's machine.yaml who approved it, when, and a digest of all that its files say.

    It is refused while diag vet tells of an error, or a worked example does not come out. Any later change of meaning,
    in a module too, shows on the screens and the sheet until it is approved again; remarks and blank lines may change.
    Everything else in the file stays as it is. Where that is not sure, the line to paste is printed in its place.

    \b
    diag approve tray-stacker --by "maintenance training"
    diag approve tray-stacker --by "maintenance training" --on 2026-11-25
    diag approve tray-stacker --trial
    """
    if sum((by is not None, trial, draft)) != 1:
        raise WrongUsage("one of --by WORDS, --trial and --draft")
    if on is not None and by is None:
        raise WrongUsage("--on goes with --by")
    from diag.machine.standing import DRAFT, TRIAL, Standing

    folder = machines.folder(settings.knowledge, machine)
    if by is None:
        return _write(folder, Standing(TRIAL if trial else DRAFT))
    who, day = _name(by), _day(on)
    wrong, digest, examples = _looked_through(folder)
    if wrong:
        for line in wrong:
            say(line)
        say("not approved; nothing was written")
        return 1
    code = _write(folder, Standing("approved", who, day, digest, digest))
    if code == 0:
        say(f"{machine} is approved as it stands")
    if code == 0 and not examples:
        say("it has no worked example: nothing but the reader has shown that it finds a stop")
    return code


def _name(by: str) -> str:
    """The words of --by. Raises `WrongUsage`."""
    from diag.machine.problem import clean
    from diag.machine.words import SHORT

    if not by.strip() or clean(by) != by or len(by) > SHORT:
        raise WrongUsage(f"--by is who approves it: some words on one line, at most {SHORT} characters")
    return by.strip()


def _day(on: str | None) -> str:
    """The day of --on, else today where this computer stands. Raises `WrongUsage`."""
    import datetime
    import re

    today = datetime.datetime.now().astimezone().date()
    if on is None:
        return today.isoformat()
    try:
        day = datetime.date.fromisoformat(on) if re.fullmatch(r"[12]\d{3}-\d\d-\d\d", on) else None
    except ValueError:
        day = None
    if day is None:
        raise WrongUsage(f"{on!r} is no day of the calendar; write it as {today.isoformat()}")
    if day > today:
        raise WrongUsage(f"{on} has not come yet")
    return on


def _looked_through(folder: Path) -> tuple[list[str], str, int]:
    """What keeps the machine from being approved, a line each; the digest of its content; how many examples it has.

    An example that does not come out is among the errors of `vet_machine`."""
    from diag.machine.digest import digest
    from diag.machine.load import load
    from diag.vet.sense import vet_machine

    problems = [str(problem) for problem in vet_machine(folder) if problem.level == "error"]
    loaded = load(folder)
    if problems or loaded.machine is None:
        return problems or [f"{folder.name} cannot be read; see diag vet"], "", 0
    return [], digest(loaded.written), len(loaded.machine.examples)


def _write(folder: Path, standing: Standing) -> int:
    """The standing into the file, or printed to be pasted. The exit code is 1 when a person has to paste it."""
    from diag.machine.text import shown_path
    from diag.machine.write_standing import NotSafe, line_of, write_standing

    file = folder / machines.HEAD
    try:
        write_standing(file, standing)
    except (NotSafe, OSError) as error:
        why = str(error) if isinstance(error, NotSafe) else (error.strerror or "the system refused it").lower()
        for line in wrapped(f"{shown_path(file)} was left as it is: {why}. Put this in place of its standing:"):
            say(line)
        say(line_of(standing))
        return 1
    say(f"{shown_path(file)}: {line_of(standing)}")
    return 0
