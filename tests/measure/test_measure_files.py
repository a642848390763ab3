"""Mutated files: a sample of what `diag measure files` runs by the hundred thousand, and that it would see a fault."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from diag.machine.problem import Problem
from diag.measure import faulty_files as files
from diag.vet.vetted.sample import SAMPLE


def test_nothing_is_raised_and_every_problem_has_its_place(record_property: Callable[[str, str], None]) -> None:
    report = files.run(None, 300, seed=7)
    assert report.wrong == []
    assert report.tried == 300
    assert report.machines >= 15
    assert len(report.rules) >= 15
    record_property("figure", f"300 faulty files: {report.problems} problems, {report.machines} machines all the same")


def test_a_machine_in_one_file_too(mixer_folder: Path) -> None:
    before = {path: path.read_bytes() for path in mixer_folder.rglob("*.yaml")}
    report = files.run(mixer_folder, 60, seed=7)
    assert report.wrong == []
    assert {path: path.read_bytes() for path in mixer_folder.rglob("*.yaml")} == before


def test_a_number_under_a_seed_gives_the_same_mistake() -> None:
    raw = SAMPLE.encode()

    def some(seed: int) -> list[bytes]:
        return [files.mutated(raw, random.Random(f"{seed}/{n}")) for n in range(60)]

    assert some(1) == some(1)
    assert some(1) != some(2)
    assert sum(made != raw for made in some(1)) >= 50


def test_what_is_raised_is_told_with_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(folder: Path) -> tuple[Problem, ...]:
        raise RecursionError("too deep")

    monkeypatch.setattr(files, "vet_machine", broken)
    report = files.run(None, 1000, seed=3)
    assert len(report.wrong) == report.tried == files.MOST_WRONG
    assert report.wrong[0].startswith("number 0, ")
    assert report.wrong[0].endswith("RecursionError: too deep")


def test_what_takes_too_long_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "SLOWEST", 0.0)
    assert "took" in files.run(None, 1).wrong[0]


@pytest.mark.parametrize(
    ("line", "column", "text", "doubt"),
    [
        (1, 1, "fine", ""),
        (2, 4, "at the end of the last line", ""),
        (3, 1, "past the last line", "line 3 of 2"),
        (2, 5, "past the end of its line", "column 5 of 3"),
        (0, 1, "before the first", "line 0 of 2"),
    ],
)
def test_places_outside_the_file_are_seen(tmp_path: Path, line: int, column: int, text: str, doubt: str) -> None:
    (tmp_path / "f.yaml").write_bytes(b"abcdef\r\nxyz")
    problem = Problem(str(tmp_path / "f.yaml"), line, column, "error", text, "kind")
    found = files.misplaced(problem, {})
    assert found.startswith(doubt)
    assert bool(found) == bool(doubt)


def test_a_file_that_is_not_there_is_seen(tmp_path: Path) -> None:
    assert "no such file" in files.misplaced(Problem(str(tmp_path / "g.yaml"), 1, 1, "error", "x", "kind"), {})
