"""Every command's JSON has a version, and the keys that the page of the commands documents."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from diag import pages
from diag.case.case import Case
from diag.cli.group import COMMANDS, diag
from diag.cli.json_output import VERSION
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety.types import Person

ROOT = Path(__file__).resolve().parents[2]
MACHINES = ROOT / "tests" / "machines"
PAGE = pages.page("commands")
ROWS = [
    [cell.strip() for cell in line.strip("|").split(" | ")]
    for line in PAGE[PAGE.index("## What programs read") :].splitlines()
    if line.startswith("| `") or line.startswith("| all")
]
TABLE = {"states": {"a": 0.5, "b": 0.5}, "tests": {"t": {"cost": 1, "outcomes": {"a": 0, "b": 1}}}}


def documented(command: str) -> set[str]:
    """The keys of a command's objects, as the page has them: those of the second column, and of a row that says that
    others come with its key, those of the third."""
    found: set[str] = set()
    for of, keys, holds in ROWS:
        if of.strip("`") == command:
            found.update(re.findall(r"`([a-z_]+)`", keys))
            if "; with it" in holds:
                found.update(re.findall(r"`([a-z_]+)`", holds))
    return found


def printed(*args: str) -> list[dict[str, object]]:
    result = CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(MACHINES), *args])
    assert result.exit_code in (0, 1), result.output
    found = json.loads(result.stdout)
    return found if isinstance(found, list) else [found]


@pytest.fixture
def book(tmp_path: Path, mixer: Machine) -> str:
    casebook = Casebook(tmp_path / "book.sqlite3")
    Case.open(mixer, Person("Jo", Role.OPERATOR), book=casebook)
    casebook.close()
    return str(tmp_path / "book.sqlite3")


OF_ASSETS = {"asset_conditions"}
"""Keys that only a machine with assets has (`test_cli_assets.py`)."""
RUNS = {
    "rank": ["rank mixer supply-lamp=dark --two"],
    "list": ["list machines", "list modules", "list indications mixer", "list causes mixer", "list checks mixer"],
    "show": ["show mixer", "show mixer dc-supply", "show dc-supply"],
    "vet": [f"--knowledge {ROOT / 'tests' / 'bad'} vet names"],
    "try": ["try mixer", "try mixer --simulate 1 --double", "try mixer --simulate 1 --without"],
    "doctor": ["doctor"],
    "help": ["help", "help trainer"],
}


@pytest.mark.parametrize("command", RUNS)
def test_the_keys_are_those_of_the_page(command: str) -> None:
    keys: set[str] = set()
    for words in RUNS[command]:
        for found in printed(*words.split(), "--json"):
            assert next(iter(found)) == "version"
            assert found.pop("version") == VERSION
            keys |= set(found)
    assert keys == documented(command) - OF_ASSETS


def test_the_keys_of_the_casebook_and_of_a_table(book: str, tmp_path: Path) -> None:
    (case,) = printed("--casebook", book, "cases", "--json")
    assert set(case) - {"version"} == documented("cases")
    (tmp_path / "table.json").write_text(json.dumps(TABLE))
    (grown,) = printed("grow", "--table", str(tmp_path / "table.json"))
    assert set(grown) - {"version"} == documented("grow")
    (measured,) = printed("measure", "readings", "--json")
    assert documented("measure") <= set(measured)


def test_the_keys_inside_are_those_of_the_page() -> None:
    """Those of a list of objects stand in the third column."""
    (ranked,) = printed("rank", "mixer", "supply-lamp=dark", "--two", "--json")
    (doctor,) = printed("doctor", "--json")
    (entry,) = printed("show", "mixer", "dc-supply", "--json")
    inside = {("rank", key): ranked[key] for key in ("facts", "causes", "next", "checks", "two")}
    for words in RUNS["list"]:
        (listed,) = printed(*words.split(), "--json")
        inside["list", words.split()[1]] = listed[words.split()[1]]
    inside |= {("doctor", key): doctor[key] for key in ("terminal", "config", "knowledge", "sheets")}
    for (command, key), value in inside.items():
        holds = next(row[2] for row in ROWS if row[0] == f"`{command}`" and row[1] == f"`{key}`")
        first = value[0] if isinstance(value, list) else value
        assert isinstance(first, dict)
        assert set(first) <= set(re.findall(r"`([a-z_]+)`", holds)), (command, key)
    (line, *_) = entry["entries"][0]["lines"]  # type: ignore[index]
    holds = next(row[2] for row in ROWS if row[1] == "`entries`")
    assert {*line, *entry["entries"][0]} <= set(re.findall(r"`([a-z_]+)`", holds))  # type: ignore[index]


def test_every_command_stands_on_the_page() -> None:
    for name in COMMANDS:
        assert f"`diag {name}" in PAGE


def test_every_command_with_json_is_documented() -> None:
    import click

    context = click.Context(diag)
    for name in COMMANDS:
        command = diag.get_command(context, name)
        assert command is not None
        if any("--json" in parameter.opts for parameter in command.params):
            assert documented(name), name
