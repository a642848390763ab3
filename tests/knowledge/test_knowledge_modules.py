"""The modules that come with the program, each at work in a small machine of `tests/modules`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

from diag.machine.find import shipped_folder
from diag.machine.load import load, read
from diag.vet import vet
from diag.vet.examples import replay

FOLDER = Path(__file__).parent.parent / "modules"
MACHINES = sorted(folder.name for folder in FOLDER.iterdir())


@pytest.mark.parametrize("name", MACHINES)
def test_nothing_is_to_be_said_against_it(name: str) -> None:
    assert [str(problem) for problem in vet([FOLDER / name]) if problem.level != "info"] == []


@pytest.mark.parametrize("name", MACHINES)
def test_its_examples_come_out(name: str) -> None:
    machine = read(FOLDER / name)
    assert machine.examples
    assert {
        example.id: replay(machine, example).trouble for example in machine.examples if replay(machine, example).trouble
    } == {}


@pytest.mark.parametrize("name", MACHINES)
def test_no_mark_and_no_word_in_braces_is_left_in_it(name: str) -> None:
    left = [text for text in _texts(read(FOLDER / name)) if "\x01" in text or "{" in text]
    assert left == []


def test_every_module_is_at_work_somewhere() -> None:
    used = {Path(file).stem for name in MACHINES for file in load(FOLDER / name).written.files if "/modules/" in file}
    shipped = {path.stem for path in (shipped_folder() / "modules").glob("*.yaml")}
    assert shipped <= used
    assert shipped


@pytest.mark.parametrize("path", sorted((shipped_folder() / "modules").glob("*.yaml")), ids=lambda path: path.stem)
def test_every_reading_and_every_lamp_of_a_standard_says_where_its_limits_are_from(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    for entry in re.split(r"\n(?=  \S+:\n)", text):
        if re.search(r"^    reading:", entry, re.MULTILINE):
            assert re.search(r"^    source: ", entry, re.MULTILINE), entry


def _texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if is_dataclass(value):
        return [text for f in fields(value) for text in _texts(getattr(value, f.name))]
    if isinstance(value, Mapping):
        return [text for pair in value.items() for child in pair for text in _texts(child)]
    return [text for child in value for text in _texts(child)] if isinstance(value, list | tuple) else []
