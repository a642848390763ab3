"""`diag approve`: write into a machine's file how far it may be trusted, with a digest of what was approved."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diag.cli import machines
from diag.cli.completing import complete_machine_or_folder
from diag.cli.errors import WrongUsage
from diag.cli.printing import say, say_lines, wrapped
from diag.cli.settings import Settings
from diag.text import clean

if TYPE_CHECKING:
    from diag.machine.approval.approval import Approval
    from diag.machine.problem import Problem


@click.command("approve")
@click.argument("machine", shell_complete=complete_machine_or_folder)
@click.option("--by", metavar="WORDS", help="Who approves it: a role or a name, as the site writes it.")
@click.option("--on", metavar="DATE", help="On which day, as 2026-11-25.  [today]")
@click.option("--trial", is_flag=True, help="Take an approval back, or begin a trial: nobody has approved it.")
@click.option("--draft", is_flag=True, help="The same, as a draft.")
@click.pass_obj
def command(settings: Settings, machine: str, by: str | None, on: str | None, trial: bool, draft: bool) -> int:
    """Write into MACHINE's machine.yaml who approved it, when, and a digest of all that its files say.

    It is refused while diag vet finds an error, a worked example does not come out, or a CHANGE FIRST mark is left. Any
    later change of meaning, in a module too, shows on the screens and the sheet until the machine is approved again;
    remarks and blank lines may change. Everything else in the file stays as it is. Where that is not certain, the line
    is printed instead, to be pasted.

    \b
    diag approve tray-stacker --by "maintenance training"
    diag approve tray-stacker --by "maintenance training" --on 2026-11-25
    diag approve tray-stacker --trial
    """
    if sum((by is not None, trial, draft)) != 1:
        raise WrongUsage("one of --by WORDS, --trial and --draft")
    if on is not None and by is None:
        raise WrongUsage("--on goes with --by")
    from diag.machine.approval.approval import DRAFT, TRIAL, Approval

    folder = machines.folder(settings.knowledge, machine)
    if by is None:
        return _write(folder, Approval(TRIAL if trial else DRAFT))
    who, day = _name(by), _day(on)
    wrong, digest, examples = _looked_through(folder)
    if wrong:
        say_lines((*wrong, "not approved; nothing was written"))
        return 1
    code = _write(folder, Approval("approved", who, day, digest, digest))
    if code == 0:
        say(f"{machine} is approved as it stands")
    if code == 0 and not examples:
        say("it has no worked example, so nothing has shown yet that it finds a fault")
    return code


def _name(by: str) -> str:
    """The words of --by. Raises `WrongUsage`."""
    from diag.machine.language.fields.field_types import SHORT

    if not by.strip() or clean(by) != by or "\n" in by or len(by) > SHORT:
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
        raise WrongUsage(f"{on!r} is not a day of the calendar; write it as {today.isoformat()}")
    if day > today:
        raise WrongUsage(f"{on} has not come yet")
    return on


def _looked_through(folder: Path) -> tuple[list[str], str, int]:
    """What keeps the machine from being approved, a line each; the digest of its content; how many examples it has.

    An example that does not come out is among the errors of `vet_machine`."""
    from diag.machine.approval.digest import digest
    from diag.machine.load import load
    from diag.vet.run import vet_machine

    problems = [problem for problem in vet_machine(folder) if problem.level == "error"]
    loaded = load(folder)
    if problems or loaded.machine is None:
        return _told(problems) or [f"{folder.name} cannot be read; see diag vet"], "", 0
    return [], digest(loaded.written), len(loaded.machine.examples)


def _told(problems: list[Problem]) -> list[str]:
    """A line for each problem, and one for all files in which marks of the skeleton are left."""
    from diag.machine.problem import Broken

    marked = [problem for problem in problems if problem.rule == Broken.UNFINISHED]
    lines = [str(problem) for problem in problems if problem.rule != Broken.UNFINISHED]
    if marked:
        files = dict.fromkeys(f"{problem.file}:{problem.line}" for problem in marked)
        lines.insert(
            0, f"CHANGE FIRST is still in {', '.join(files)}: what stands there is only an example (unfinished)"
        )
    return lines


def _write(folder: Path, approval: Approval) -> int:
    """Writes the approval into the file, or printed to be pasted. The exit code is 1 when a person has to paste it."""
    from diag.machine.approval.write_approval import NotSafe, line_of, write_approval
    from diag.machine.reader.file_text import reason, shown_path

    file = folder / machines.HEAD
    try:
        write_approval(file, approval)
    except (NotSafe, OSError) as error:
        why = str(error) if isinstance(error, NotSafe) else reason(error)
        told = f"{shown_path(file)} was left as it is: {why}. Replace its approval with this line:"
        say_lines((*wrapped(told), line_of(approval)))
        return 1
    say(f"{shown_path(file)}: {line_of(approval)}")
    return 0
