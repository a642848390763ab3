"""The parts of the pages that are made from the program: the tables of keys, the cautions, the changed spellings."""

from __future__ import annotations

import importlib
import os
import pkgutil
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from finish import finish
from reference_page import reference_page

from diag import pages
from diag.cli.config import KEYS as SETTINGS
from diag.machine.language.spellings import RENAMED
from diag.safety import CAUTIONS
from diag.tui import screens
from diag.tui.key_table import Key
from diag.tui.screen_help import Help

ROOT = Path(__file__).resolve().parents[2]

FIRST = (
    "HomeScreen", "WhoScreen", "CaseScreen", "TapAlong", "Segments", "ResetBox", "GateScreen", "FinishScreen",
)  # fmt: skip
"""The screens in the order in which a person meets them; the others follow by title."""

MOST_USED = (
    "mark", "cannot_tell", "do", "walk", "read", "another", "info", "undo", "gate", "call", "sheet", "finish", "leave",
)  # fmt: skip
"""The actions of the case screen that the README names."""


def key_tables() -> dict[str, tuple[Help, tuple[Key, ...]]]:
    """Every screen that has a help of its own: its name in the code, the help, its keys. First those met first."""
    found = {}
    for info in pkgutil.walk_packages(screens.__path__, f"{screens.__name__}."):
        module = importlib.import_module(info.name)
        for thing in vars(module).values():
            if isinstance(thing, type) and isinstance(getattr(thing, "HELP_DATA", None), Help):
                table = tuple(getattr(thing, "TABLE", ())) or tuple(vars(module).get("TABLE", ()))
                if thing.__module__ == module.__name__:
                    found[thing.__name__] = (thing.HELP_DATA, table)
    place = {name: number for number, name in enumerate(FIRST)}
    order = sorted(found, key=lambda name: (place.get(name, len(place)), found[name][0].title, name))
    return {name: found[name] for name in order}


def keys() -> str:
    """Every screen with its keys and its signs."""
    parts, told = [], set()
    for help, table in key_tables().values():
        if help.title in told or not table:
            continue
        told.add(help.title)
        about = textwrap.fill(help.about[0], 118, break_long_words=False, break_on_hyphens=False)
        parts.append(f"## {help.title}\n\n{about}\n\n{rows(table)}")
        if help.signs:
            signs = "\n".join(f"| {code(sign)} | {cell(meaning)} |" for sign, meaning in help.signs)
            parts.append(f"| sign | means |\n| --- | --- |\n{signs}")
    return "\n\n".join(parts)


def most_used_keys() -> str:
    """The keys of the case screen that the README names, in the order of MOST_USED."""
    _, table = key_tables()["CaseScreen"]
    by_action = {key.action: key for key in table}
    return rows(by_action[action] for action in MOST_USED)


def rows(table: Iterable[Key]) -> str:
    lines = [f"| {code(key.shown)} | {cell(key.help)} |" for key in table if key.shown and key.help]
    return "\n".join(("| key | does |", "| --- | --- |", *dict.fromkeys(lines)))


def code(text: str) -> str:
    return f"`{cell(text)}`"


def cell(text: str) -> str:
    return text.replace("|", "\\|")


def cautions() -> str:
    """What the gate and the sheets always say, with its source."""
    lines = [f"| {cell(caution.text)} | {cell(caution.source)} |" for caution in CAUTIONS]
    return "\n".join(("| caution | source |", "| --- | --- |", *lines))


def topics() -> str:
    """The list of pages, for the README."""
    return "\n".join(f"- [{title}](diag/pages/{name}.md)" for name, title in pages.topics())


def settings() -> str:
    """The keys of the config file."""
    lines = [f"| {code(key)} | {cell(meaning)} |" for key, meaning in SETTINGS.items()]
    return "\n".join(("| key | is |", "| --- | --- |", *lines))


def spellings() -> str:
    """The fields of machine files that are called otherwise now."""
    lines = [f"| {code(old)} | {code(new)} |" for old, new in RENAMED.items()]
    return "\n".join(("| old | now |", "| --- | --- |", *lines))


def new_machine() -> str:
    """What a trainer sees who makes a skeleton and vets it."""
    with skeleton() as folder:
        return console(folder, "new carton-erector", "vet carton-erector")


def slip() -> str:
    """A word with a letter left out."""
    with skeleton() as folder:
        diag(folder, "new carton-erector")
        finish(folder)
        edit(folder, "panel.yaml", "lamp: green", "lamp: gren")
        return console(folder, "vet machines/carton-erector/panel.yaml")


def ambiguous() -> str:
    """Two causes that show the same."""
    with skeleton() as folder:
        diag(folder, "new carton-erector")
        finish(folder)
        edit(folder, "causes.yaml", "  supply-failed:\n", f"{SAME}\n  supply-failed:\n")
        return console(folder, "vet carton-erector", exit_code=None)


def wrong() -> str:
    """A cause that the file calls too rare."""
    with skeleton() as folder:
        diag(folder, "new carton-erector")
        finish(folder)
        edit(
            folder, "causes.yaml", "part: hood / switch\n    often: occasional", "part: hood / switch\n    often: rare"
        )
        return console(folder, "try carton-erector", exit_code=1)


SAME = """\
  hood-magnet-lost:
    title: Magnet of the hood switch lost
    part: hood / magnet
    often: rare
    shows: {front-display: hood-open, hood-contact: open, ready-lamp: dark}
    remedy: {do: Fit a new magnet, minutes: 10, access: outside}
    proof: {hood-contact: closed, front-display: idle}
"""


@contextmanager
def skeleton() -> Iterator[Path]:
    """A folder with an empty folder of machines in it."""
    with tempfile.TemporaryDirectory() as made:
        (Path(made) / "machines").mkdir()
        yield Path(made)


def edit(folder: Path, file: str, old: str, new: str) -> None:
    path = folder / "machines" / "carton-erector" / file
    text = path.read_text(encoding="utf-8")
    assert old in text, f"{file} of the skeleton holds no {old!r}"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def diag(folder: Path, arguments: str) -> subprocess.CompletedProcess[str]:
    """A command as it is typed beside the folder of machines."""
    env = {name: value for name, value in os.environ.items() if not name.startswith(("DIAG_", "COLUMNS"))}
    env |= {"DIAG_KNOWLEDGE": "machines", "PYTHONPATH": str(ROOT), "NO_COLOR": "1", "XDG_CONFIG_HOME": str(folder)}
    command = [sys.executable, "-m", "diag", *arguments.split()]
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True)


def console(folder: Path, *commands: str, exit_code: int | None = None) -> str:
    """The commands and what each prints, as a block of the page."""
    lines = []
    for command in commands:
        done = diag(folder, command)
        assert exit_code in (None, done.returncode), done.stderr
        lines += [f"$ diag {command}", *done.stdout.splitlines()]
    return "\n".join(("```console", *lines, "```"))


BLOCKS: dict[str, Callable[[], str]] = {
    "cautions": cautions,
    "keys": keys,
    "language": reference_page,
    "most-used-keys": most_used_keys,
    "settings": settings,
    "spellings": spellings,
    "topics": topics,
    "trainer-ambiguous": ambiguous,
    "trainer-new": new_machine,
    "trainer-slip": slip,
    "trainer-wrong": wrong,
}
"""Each block by the name in its mark."""
