"""`diag list`: what there is: machines, and the indications, causes and checks of one, and modules."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

import click

from diag.cli import machines
from diag.cli.columns import table
from diag.cli.completing import WHAT, complete_machine, complete_what
from diag.cli.errors import WrongUsage, unknown
from diag.cli.outcome import say_on_stderr
from diag.cli.printing import answer, width, wrapped
from diag.cli.settings import Settings
from diag.text import one_line

if TYPE_CHECKING:
    from diag.machine.model import Machine

OF_A_MACHINE: Final = ("indications", "causes", "checks")
UNUSABLE: Final = "! unusable"
"""Stands where the approval of a machine would, when its problem is told below."""


@click.command("list")
@click.argument("what", default="machines", shell_complete=complete_what)
@click.argument("machine", required=False, shell_complete=complete_machine)
@click.option("--json", "program", is_flag=True, help="As one JSON object.")
@click.pass_obj
def command(settings: Settings, what: str, machine: str | None, program: bool) -> int:
    """List what there is. WHAT is machines (when left out), modules, or the indications, causes or checks of MACHINE.

    A machine comes with how far its file may be trusted and where it stands, an indication with its kind and states
    (the normal one marked with a star), a cause with how often it comes, a check with its access and minutes.

    \b
    diag list
    diag list causes tray-stacker
    diag list modules --json
    """
    if what not in WHAT:
        raise unknown("kind of list", what, WHAT)
    if what in OF_A_MACHINE and machine is None:
        raise WrongUsage(f"{what} of which machine? diag list {what} MACHINE (diag list tells the machines)")
    if what not in OF_A_MACHINE and machine is not None:
        raise WrongUsage(f"diag list {what} takes no machine; diag list {' or '.join(OF_A_MACHINE)} does")
    if machine is None:
        for folder, said_in in missing_folders(settings):
            say_on_stderr(f"{said_in} names {folder} as a folder of machines, and there is no such folder")
    rows = _rows(settings, what, machine)
    found = {what: rows} if machine is None else {"machine": machine, what: rows}
    answer(found, _lines(what, rows) if rows else [_none(settings, what)], program)
    return 0


def _rows(settings: Settings, what: str, name: str | None) -> list[dict[str, Any]]:
    if name is None:
        return list(_machines(settings) if what == "machines" else _modules(settings))
    from diag.machine.load import read

    machine = read(machines.folder(settings.knowledge, name), examples=False)
    return list({"indications": indications, "causes": _causes, "checks": _checks}[what](machine))


def _modules(settings: Settings) -> Iterator[dict[str, Any]]:
    from diag.cli.files.show_module import modules

    for name, title, file in modules(settings):
        yield {"name": name, "title": title, "file": str(file)}


def missing_folders(settings: Settings) -> Iterator[tuple[str, str]]:
    """Folders of machines that are not there, or are no folder, each with what names it."""
    said = settings.said_in.get("knowledge", "the command line")
    for folders, said_in in ((settings.given_knowledge, said), (settings.config.knowledge, "the config file")):
        for folder in folders:
            with contextlib.suppress(OSError):
                if not folder.is_dir():
                    yield str(folder), said_in


def _machines(settings: Settings) -> Iterator[dict[str, Any]]:
    from diag.machine.approval.approval import DRAFT, Approval
    from diag.machine.find import listing
    from diag.machine.load import approval_of, head_problem

    for found in listing(settings.knowledge):
        problem = found.problem or head_problem(found.folder)
        read = None if problem or found.approval else approval_of(found.folder)
        approval = read or Approval(found.approval or DRAFT)
        yield {
            "id": found.id,
            "title": found.title,
            "place": found.place,
            "assets": list(found.assets),
            "approval": None if problem else approval.told,
            "approved": approval.holds,
            "folder": str(found.folder),
            "hides": [str(other) for other in found.hides],
            "problem": problem or None,
        }


def indications(machine: Machine) -> Iterator[dict[str, Any]]:
    for i in machine.indications.values():
        states = list(i.state_ids)
        yield {"id": i.id, "kind": i.kind.value, "title": i.title, "states": states, "normal": i.normal or None}


def _causes(machine: Machine) -> Iterator[dict[str, Any]]:
    for cause in machine.causes.values():
        yield {"id": cause.id, "title": cause.title, "part": cause.part, "stops_a_year": cause.rate}


def _checks(machine: Machine) -> Iterator[dict[str, Any]]:
    for check in machine.checks.values():
        if not check.implied:
            access, who = check.access.value, [role.value for role in check.who]
            row = {"id": check.id, "title": check.title, "access": access, "minutes": check.minutes, "who": who}
            yield {**row, "gives": list(check.gives)}


def _fields(what: str, row: dict[str, Any]) -> tuple[str, ...]:
    """What stands in the columns of a row."""
    match what:
        case "machines":
            return (
                row["id"],
                row["approval"] or UNUSABLE,
                ", ".join(filter(None, (row["title"], row["place"], *row["assets"]))),
            )
        case "indications":
            states = ", ".join(f"{state}*" if state == row["normal"] else state for state in row["states"])
            return row["id"], row["kind"], f"{row['title']}: {states}"
        case "causes":
            return row["id"], how_often(row["stops_a_year"]), row["title"]
        case "checks":
            return row["id"], row["access"], f"{row['minutes']:g} min", row["title"]
        case _:
            return row["name"], row["title"]


def _lines(what: str, rows: list[dict[str, Any]]) -> Iterator[str]:
    """The rows in columns. Names are those of files and folders, and may hold what would look like a row of its own."""
    yield from table([[one_line(field) for field in _fields(what, row)] for row in rows], width())
    for row in rows:
        if row.get("problem"):
            yield from wrapped(f"{row['id']}: {row['problem']}", 0, 2)


def how_often(stops_a_year: float) -> str:
    """How often a cause comes, in words."""
    if stops_a_year >= 1 or stops_a_year <= 0:
        return f"{stops_a_year:.3g} a year"
    years = 1 / stops_a_year
    return f"once in {years:.0f} years" if years >= 9.95 else f"once in {years:.2g} years"


def _none(settings: Settings, what: str) -> str:
    if what in OF_A_MACHINE:
        return f"It has no {what}."
    from diag.machine.find import places

    return f"There are no {what} in {places(settings.knowledge)}."
