"""Every bad file has its problems word by word; `expected.txt` beside it is what a person should read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diag.machine.load import load
from diag.vet import vet_machine
from diag.vet.rules.catalogue import SENSE

BAD = Path(__file__).parent.parent / "bad"
FOLDERS = sorted(folder.name for folder in BAD.iterdir() if folder.is_dir() and folder.name != "modules")


@pytest.mark.parametrize("name", FOLDERS)
def test_problems_are_those_expected(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(BAD)
    found = [str(problem) for problem in vet_machine(Path(name))]
    assert found == (BAD / name / "expected.txt").read_text().splitlines()
    assert found


@pytest.mark.parametrize("name", FOLDERS)
def test_each_problem_is_one_line_with_a_place_in_the_file(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(BAD)
    for problem in vet_machine(Path(name)):
        assert re.fullmatch(r"[^:\n]+:\d+:\d+: (error|warning|info): .+ \([a-z-]+\)", str(problem))
        lines = (Path(problem.file).read_text() + "\n").split("\n")
        assert 1 <= problem.line <= len(lines)
        assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1


def test_an_error_leaves_no_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(BAD)
    for name in FOLDERS:
        loaded = load(Path(name))
        assert (loaded.machine is None) == any(problem.level == "error" for problem in loaded.problems)


def test_every_rule_about_sense_is_shown_by_a_bad_file() -> None:
    told = "".join((BAD / name / "expected.txt").read_text() for name in FOLDERS)
    assert {rule.name for rule in SENSE} - set(re.findall(r"\(([a-z-]+)\)$", told, re.MULTILINE)) == set()
