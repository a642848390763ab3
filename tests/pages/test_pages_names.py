"""The README and the pages name no file, command, option, key, page or machine that does not exist."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
from pathlib import Path

import click
import pytest
from derived import key_tables
from markdown import ROOT, Text, cells, texts

from diag import pages
from diag.cli.config import read_config
from diag.cli.group import diag
from diag.machine.find import listing, shipped_folder

ALL = texts()
IDS = [text.name for text in ALL]
MACHINES = {machine.id for machine in listing(shipped_folder())}
EXAMPLE = "carton-erector"
"""The machine that the trainer's page makes."""
TAKES_A_MACHINE = {"start", "rank", "vet", "try", "approve", "new", "show"}

every_page = pytest.mark.parametrize("text", ALL, ids=IDS)


def context() -> click.Context:
    return click.Context(diag, info_name="diag")


def options(command: click.Command) -> set[str]:
    own = {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}
    return own | {"--help", "-h"}


def all_options() -> set[str]:
    known, waiting = set(), [diag]
    while waiting:
        command = waiting.pop()
        known |= options(command)
        if isinstance(command, click.Group):
            waiting += [
                found for name in command.list_commands(context()) if (found := command.get_command(context(), name))
            ]
    return known


def complaint(typed: str) -> str:
    """What is wrong with a command as the page has it; empty when nothing is."""
    words = shlex.split(typed.replace("[", " ").replace("]", " ").replace(", ...", ""))[1:]
    command: click.Command = diag
    allowed, rest = options(diag), []
    for word in words:
        if isinstance(command, click.Group) and re.fullmatch("[a-z-]+", word) and not word.startswith("-"):
            found = command.get_command(context(), word)
            if found is None:
                return f"no command {word}"
            command, allowed = found, allowed | options(found)
        elif word.startswith("-") and word != "-":
            if word.split("=")[0] not in allowed:
                return f"{command.name} has no option {word}"
        else:
            rest.append(word)
    if command.name in TAKES_A_MACHINE:
        named = [word for word in rest[:1] if re.fullmatch("[a-z0-9-]+", word)]
        values = re.findall(r"--[a-z]+ (\S+)", typed)
        if set(named) - MACHINES - {EXAMPLE, *values}:
            return f"no machine {named[0]}"
    if command.name == "help" and rest and rest[0].islower() and rest[0] not in dict(pages.topics()):
        return f"no page {rest[0]}"
    return ""


@every_page
def test_every_command_and_option_exists(text: Text) -> None:
    wrong = {typed: said for typed in text.commands if (said := complaint(typed))}
    assert wrong == {}
    known = all_options()
    bare = {span.split()[0] for span in text.spans if span.startswith("--") and re.match("--[a-z]", span)}
    assert sorted(bare - known) == []


def test_a_wrong_name_would_be_told() -> None:
    assert complaint("diag rnk tray-stacker") == "no command rnk"
    assert complaint("diag try tray-stacker --simulat 5") == "try has no option --simulat"
    assert complaint("diag start tray-staker") == "no machine tray-staker"
    assert complaint("diag try tray-stacker --simulate 500 --without") == ""


@every_page
def test_every_file_exists(text: Text) -> None:
    links = [link for link in re.findall(r"\]\(([^)#\s]+)\)", text.prose) if "://" not in link]
    paths = [word for span in text.spans for word in span.split() if re.match(r"(tests|diag|knowledge|\.ci)/", word)]
    folder = text.path.parent
    missing = [link for link in links if not (folder / link).exists()]
    missing += [path for path in paths if not (ROOT / path.rstrip("/,")).exists()]
    assert missing == []


def test_every_file_that_the_page_for_developers_names_exists() -> None:
    """Whole paths, and modules by their bare name, such as `say.py`."""
    spans = re.findall(r"`([^`\n]+)`", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))
    words = {word.rstrip(",/") for span in spans for word in span.split()}
    paths = {word for word in words if re.match(r"(tests|diag|knowledge|\.ci)/[^*]*$", word) and word.isascii()}
    bare = {word for word in words if re.fullmatch(r"[a-z_0-9]+\.py", word)}
    modules = {file.name for room in ("diag", "tests") for file in (ROOT / room).rglob("*.py")}
    assert len(paths) > 40
    assert sorted(path for path in paths if not (ROOT / path).exists()) == []
    assert sorted(bare - modules) == []


@every_page
def test_every_variable_is_one_that_the_program_reads(text: Text) -> None:
    code = "\n".join(file.read_text(encoding="utf-8") for file in (ROOT / "diag").rglob("*.py"))
    assert [name for name in set(re.findall(r"\bDIAG_[A-Z]+\b", text.raw)) if name not in code] == []


@every_page
def test_every_key_is_in_a_key_table(text: Text) -> None:
    shown = {key.shown for _, table in key_tables().values() for key in table}
    known = {part for one in shown for part in one.split()} | {str(digit) for digit in range(10)}
    named = {span for span in text.spans if re.fullmatch(r"[a-z?/0-9]|ctrl\+[a-z]|F\d+", span)}
    assert sorted(named - known) == []


@every_page
def test_every_page_that_is_named_exists(text: Text) -> None:
    named = re.findall(r"[Pp]age `([a-z-]+)`|see `([a-z-]+)`", text.prose)
    assert [name for pair in named for name in pair if name and name not in dict(pages.topics())] == []


@every_page
def test_tables_are_whole(text: Text) -> None:
    for table in text.tables:
        assert len(table) > 2
        assert re.fullmatch(r"\|( --- \|)+", table[1]), table[1]
        wide = len(cells(table[0]))
        assert [row for row in table if len(cells(row)) != wide or not row.endswith("|")] == []


@every_page
def test_lines_are_not_too_long(text: Text) -> None:
    long = [line for line in text.prose.splitlines() if len(line) > 120 and not line.startswith(("|", "!["))]
    assert long == []


@every_page
def test_code_blocks_are_sound(text: Text, tmp_path: Path) -> None:
    for language, block in text.blocks:
        assert language in ("sh", "powershell", "console", "yaml", "json", "toml", "text"), language
        if language == "json":
            json.loads(block)
        if language == "toml":
            settings = tmp_path / "config.toml"
            settings.write_text(block, encoding="utf-8")
            assert read_config(settings).found
        if language == "sh":
            done = subprocess.run(["bash", "-n"], input=block, text=True, capture_output=True)
            assert done.returncode == 0, done.stderr


@every_page
def test_every_message_that_is_quoted_is_one_of_the_program(text: Text) -> None:
    code = "\n".join(file.read_text(encoding="utf-8") for file in (ROOT / "diag").rglob("*.py"))
    assert [message for message in re.findall(r'\*\*"([^"]+)"', text.prose) if message not in code] == []


@every_page
def test_it_speaks_in_a_plain_voice(text: Text) -> None:
    assert re.findall(r"[^`\[<]!(?!\[)[^=-]", text.prose) == []


def test_the_readme_is_short() -> None:
    assert len(ALL[0].prose.split()) < 1500
