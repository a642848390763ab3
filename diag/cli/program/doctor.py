"""`diag doctor`: what is in force and from where, and what is wrong with it. It changes and makes nothing."""

from __future__ import annotations

import os
import shutil
import stat
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from diag.cli.columns import table
from diag.cli.printing import Alarm, answer, counted, heading, takes_unicode, width, wrapped
from diag.cli.settings import Settings

PACKAGES: Final = ("click", "numpy", "platformdirs", "pydantic", "pyyaml", "rapidfuzz", "rich", "textual")
CONFIG_FILE: Final = "the config file"
SHIPPED: Final = "comes with diag"


@click.command("doctor")
@click.option("--json", "program", is_flag=True, help="As one JSON object.")
@click.pass_obj
def command(settings: Settings, program: bool) -> int:
    """Tell what is in force and from where: versions, the terminal, the config file, the folders of machines with what
    cannot be read in them, the casebook, and the folder of handover sheets.

    The exit code is 1 when something is wrong. Nothing is changed and nothing is made.
    """
    found = look(settings)
    answer(found, _lines(found), program)
    return 1 if found["wrong"] else 0


def look(settings: Settings) -> dict[str, Any]:
    """Everything, in the order in which one thing leans on the other."""
    wrong: list[str] = []
    found = {**_program(), "terminal": _terminal()}
    read = True
    try:
        config = settings.config
    except click.ClickException as error:
        from diag.cli.config import Config, config_path

        wrong.append(error.message)
        # With a broken file nothing of it is in force, but what the command line says can still be looked at.
        config, read = Config(config_path(), found=True), False
        settings = replace(settings)
        settings.__dict__["config"] = config
    try:
        theme = settings.theme
    except click.ClickException as error:
        theme = config.theme
        wrong.append(error.message)
    state = {"file": str(config.path), "found": config.found, "read": config.found and read}
    return {
        **found,
        "config": {**state, "shifts": list(config.shifts), "theme": theme},
        "knowledge": list(_folders(settings, wrong)),
        "hidden": list(_hidden(settings, wrong)),
        "casebook": _casebook(settings, wrong),
        "sheets": _sheets(settings, wrong),
        "wrong": wrong,
    }


def _program() -> dict[str, Any]:
    import platform
    from importlib.metadata import PackageNotFoundError, version

    from diag.cli.group import version as own

    packages: dict[str, str | None] = {}
    for name in PACKAGES:
        try:
            packages[name] = version(name)
        except PackageNotFoundError:
            packages[name] = None
    return {
        "diag": own(),
        "python": f"{platform.python_version()}, {sys.executable}",
        "system": f"{platform.system()} {platform.release()}, {platform.machine()}",
        "packages": packages,
    }


def _terminal() -> dict[str, Any]:
    shown = sys.stdout.isatty()
    size = shutil.get_terminal_size()
    asked = click.get_current_context().color
    return {
        "is_terminal": shown,
        "columns": size.columns,
        "rows": size.lines,
        "term": os.environ.get("TERM") or None,
        "colour": shown if asked is None else asked,
        "encoding": sys.stdout.encoding,
        "unicode": takes_unicode(),
    }


def _folders(settings: Settings, wrong: list[str]) -> Iterator[dict[str, Any]]:
    """Each folder of machines: who named it, how many machines are in it, and which of them cannot be read."""
    from diag.cli.progress import progress
    from diag.machine.find import listing
    from diag.machine.load import load

    own = {**dict.fromkeys(settings.config.knowledge, CONFIG_FILE)}
    own |= dict.fromkeys(settings.given_knowledge, settings.said_in.get("knowledge", "given"))
    for folder in settings.knowledge:
        said_in = own.get(folder, SHIPPED)
        if not _is_folder(folder):
            wrong.append(f"{folder} is not a folder; {said_in} names it as a folder of machines")
        elif not os.access(folder, os.R_OK | os.X_OK):
            wrong.append(f"{folder} may not be read; {said_in} names it as a folder of machines")
        machines, errors = listing(folder), []
        with progress(len(machines), folder.name) as done:
            for machine in machines:
                problems = [problem for problem in load(machine.folder).problems if problem.level == "error"]
                if problems:
                    errors.append({"machine": machine.id, "errors": len(problems)})
                    wrong.append(f"{machine.id} in {folder} cannot be used: diag vet {machine.id} tells why")
                done(1)
        yield {"folder": str(folder), "said_in": said_in, "machines": len(machines), "with_errors": errors}


def _hidden(settings: Settings, wrong: list[str]) -> Iterator[dict[str, Any]]:
    """Machines that are in several folders. None of them is found by its name, since their locks could not be told
    apart."""
    from diag.machine.find import listing

    for machine in listing(settings.knowledge):
        if machine.hides:
            wrong.append(f"{machine.id} cannot be used by its name: {machine.problem}")
            yield {"machine": machine.id, "read": str(machine.folder), "hidden": [str(path) for path in machine.hides]}


def _casebook(settings: Settings, wrong: list[str]) -> dict[str, Any]:
    path = settings.casebook
    said_in = settings.said_in.get("casebook") or (CONFIG_FILE if settings.config.casebook else "this user's own")
    found: dict[str, Any] = {"file": str(path), "said_in": said_in, "found": True}
    if isinstance(path, str):
        return found | _database(path, settings, wrong)
    try:
        path.lstat()
    except (FileNotFoundError, NotADirectoryError):
        found["found"] = False
    except OSError as error:  # a folder above it that nobody may look into
        wrong.append(f"the casebook {path} cannot be read: {error.strerror or error}")
        return found | {"reads": False}
    if not found["found"]:
        if said_in != "this user's own" and not _is_folder(path.parent):
            wrong.append(f"the casebook {path} cannot be there: there is no folder {path.parent} (see {said_in})")
        return found
    from diag.record.address import not_a_file
    from diag.record.casebook import Casebook, CasebookError

    try:
        if not_a_file(path):
            raise CasebookError("it is not an ordinary file")
        if not path.exists():
            raise CasebookError("it is a link to a file that is not there")
        status = path.stat()
        found |= {"bytes": status.st_size, "mode": f"{stat.S_IMODE(status.st_mode):04o}"}
        if os.name == "posix" and status.st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            found["others"] = "others on this computer may open it, and names of persons stand in it"
        found |= {"reads": True, "cases": 0}
        if status.st_size:  # opening an empty file would make a casebook of it
            with Casebook(path, named_by=settings.casebook_named_by, only_read=True) as book:
                found["cases"] = book.count()
        found["writes"] = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
        if not found["writes"]:
            wrong.append(f"the casebook {path} may be read and not written: no case can be kept in it")
    except (CasebookError, OSError) as error:
        found["reads"] = False
        why = error.strerror or str(error) if isinstance(error, OSError) else str(error)
        wrong.append(f"the casebook {path} cannot be read: {why}")
    return found


def _database(address: str, settings: Settings, wrong: list[str]) -> dict[str, Any]:
    """What can be told of a casebook in a database."""
    from diag.record.casebook import Casebook, CasebookError

    try:
        with Casebook(address, named_by=settings.casebook_named_by, only_read=True) as book:
            return {"reads": True, "cases": book.count()}
    except CasebookError as error:
        wrong.append(str(error))
        return {"reads": False}


def _is_folder(path: Path) -> bool:
    """Whether a folder is there; where nobody may look, none is."""
    try:
        return path.is_dir()
    except OSError:
        return False


def _sheets(settings: Settings, wrong: list[str]) -> dict[str, Any]:
    folder = settings.sheets
    said_in = CONFIG_FILE if settings.config.sheets else "this user's documents"
    found = {"folder": str(folder), "said_in": said_in, "found": _is_folder(folder)}
    if found["found"] and not os.access(folder, os.W_OK | os.X_OK):
        wrong.append(f"no sheet can be written to {folder} (see {said_in})")
    elif not found["found"] and os.path.lexists(folder):
        wrong.append(f"{folder} is not a folder, so no sheet can be written to it (see {said_in})")
    return found


def _lines(s: dict[str, Any]) -> Iterator[str]:
    """The sections as a person reads them."""
    packages = ", ".join(f"{name} {version or 'MISSING'}" for name, version in s["packages"].items())
    yield heading("Program")
    yield from _rows(diag=s["diag"], Python=s["python"], system=s["system"], packages=packages)
    t = s["terminal"]
    size = f"{t['columns']} columns, {t['rows']} rows" if t["is_terminal"] else "none: a file or a pipe"
    colour = "yes" if t["colour"] else "no"
    yield from ("", heading("Terminal"))
    yield from _rows(size=size, TERM=t["term"] or "not set", colour=colour, encoding=t["encoding"])
    config = s["config"]
    state = "" if config["read"] else (", with an error" if config["found"] else ", which is not there")
    yield from ("", heading("Settings"))
    settings = {"config file": f"{config['file']}{state}", "theme": config["theme"]}
    yield from _rows(**settings, shifts=", ".join(config["shifts"]) or "not set")
    yield from ("", heading("Folders of machines, the first before the others"))
    yield from table([(_count(f), f"{f['folder']} ({f['said_in']})") for f in s["knowledge"]], width(), 2)
    yield from ("", heading("Casebook"))
    book = s["casebook"]
    if not book["found"]:
        state = "not there; the first case makes it"
    elif not book["reads"]:
        state = "cannot be read"
    elif "bytes" not in book:
        state = f"a database, {counted(book['cases'], 'case')}"
    else:
        can = "reads and writes" if book["writes"] else "reads, and does not write"
        state = f"{counted(book['cases'], 'case')}, {book['bytes']:,} bytes, mode {book['mode']}, {can}"
    note = {"note": book["others"]} if "others" in book else {}
    yield from _rows(file=f"{book['file']} ({book['said_in']})", state=state, **note)
    sheets = s["sheets"]
    there = "" if sheets["found"] else ", which is not there yet"
    yield from ("", heading("Handover sheets"))
    yield from _rows(folder=f"{sheets['folder']} ({sheets['said_in']}){there}")
    yield ""
    for text in s["wrong"]:
        yield from map(Alarm, wrapped(f"WRONG: {text}", 0, 2))
    yield heading("Nothing is wrong." if not s["wrong"] else f"Wrong: {len(s['wrong'])}")


def _rows(**told: str) -> Iterator[str]:
    return table(list(told.items()), width(), 2)


def _count(folder: dict[str, Any]) -> str:
    """`4 machines`, `4 machines, 1 with errors`."""
    many = counted(folder["machines"], "machine")
    return f"{many}, {len(folder['with_errors'])} with errors" if folder["with_errors"] else many
