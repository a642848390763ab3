"""`diag schema`: JSON on standard output or in files, and nothing of anybody's overwritten."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from diag.cli.group import diag
from diag.machine.language.schema import SECTIONS, schema


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, ["schema", *args])


@pytest.mark.parametrize("section", [None, *SECTIONS])
def test_it_prints_a_schema(section: str | None) -> None:
    result = run(*(["--section", section] if section else []))
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    assert found == schema(section)
    Draft202012Validator.check_schema(found)
    assert found["title"].startswith(SECTIONS[section or "machine"])
    assert result.stdout.isascii()


def test_the_whole_one_holds_those_of_all_files() -> None:
    whole = schema()
    assert set(SECTIONS) <= set(whole["$defs"])
    for name in SECTIONS:
        assert schema(name)["$defs"].items() <= whole["$defs"].items()


def test_it_writes_one_file_or_all_into_a_folder_and_renews_them(tmp_path: Path) -> None:
    file = tmp_path / "mine.json"
    assert run("--section", "panel", "--out", str(file)).stdout == f"written to {file}\n"
    assert json.loads(file.read_text()) == schema("panel")
    assert run("--out", str(file)).exit_code == 0
    assert json.loads(file.read_text()) == schema()
    for _ in range(2):
        assert run("--out", str(tmp_path)).exit_code == 0
    written = {path.name for path in tmp_path.iterdir()} - {"mine.json"}
    assert written == {f"{name}.schema.json" for name in SECTIONS}
    for name in SECTIONS:
        assert json.loads((tmp_path / f"{name}.schema.json").read_text()) == schema(name)


def test_a_file_that_is_no_schema_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "trees.schema.json"
    file.write_text("format: 1\n")
    for out in (file, tmp_path):
        result = run("--out", str(out))
        assert result.exit_code == 2
        assert result.stderr == f"diag: {file} is there already, and is no schema; name another file\n"
    assert file.read_text() == "format: 1\n"
    assert list(tmp_path.iterdir()) == [file]


def test_what_cannot_be_is_one_line(tmp_path: Path) -> None:
    wrong = run("--section", "panl")
    assert (wrong.exit_code, wrong.stderr) == (2, "diag: unknown section 'panl'; nearest: 'panel'\n")
    nowhere = run("--out", str(tmp_path / "no" / "file.json"))
    assert nowhere.exit_code == 1
    assert nowhere.stderr == f"diag: {tmp_path}/no/file.json: No such file or directory\n"
