"""The usual slips, made in every field of the language: each is told at its line, and the repair that is proposed is
whole and right."""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterable
from pathlib import Path

import pytest
from field_places import FOLDER, MODULE, Place, places
from field_slips import SLIPS, lines_of, mended, no_colon, no_space

from diag.machine.language.fields.base_source import fields
from diag.machine.language.shapes import models
from diag.machine.load import load
from diag.machine.problem import Problem

PLACES = places()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(FOLDER, tmp_path / FOLDER.name)
    shutil.copytree(MODULE.parent, tmp_path / MODULE.parent.name)
    return tmp_path


def errors(folder: Path, place: Place, lines: Iterable[str]) -> list[Problem]:
    """The errors of the machine with these lines in the place of the file that the field stands in."""
    file = folder / place.file.parent.name / place.file.name
    before = file.read_text(encoding="utf-8")
    file.write_text("\n".join(lines), encoding="utf-8")
    found = [problem for problem in load(folder / FOLDER.name).problems if problem.level == "error"]
    file.write_text(before, encoding="utf-8")
    return found


def test_the_file_holds_every_field_and_nothing_is_wrong_with_it() -> None:
    assert set(PLACES) == {f"{model.__name__}.{name}" for model in models() for name in fields(model)}
    assert load(FOLDER).problems == ()


@pytest.mark.parametrize("id", sorted(PLACES))
def test_each_slip_is_told_at_its_line_and_what_is_proposed_mends_it(id: str, folder: Path) -> None:
    place = PLACES[id]
    made = 0
    for name, make in SLIPS.items():
        slip = make(place)
        if slip is None:
            continue
        made += 1
        found = [p for p in errors(folder, place, slip.lines) if p.line == slip.line or p.rule not in MEANING]
        said = (name, [str(problem) for problem in found])
        assert [problem.line for problem in found] == [slip.line], said
        repaired = mended(slip.lines, found[0])
        assert repaired is not None, said
        left = [problem for problem in errors(folder, place, repaired) if problem.rule not in MEANING]
        assert left == [], (*said, repaired[slip.line - 2 : slip.line + 2])
    assert made


MEANING = {"unknown", "kind", "formula", "accuracy"}
"""A text that was put in for the slip may be no state, name or unit of the machine; the line is well written then."""


def test_slips_in_several_places_are_told_in_one_run(folder: Path) -> None:
    """As many as a file may have mended: each at its own line, and nothing else."""
    chance = random.Random(20261130)
    there = [place for place in PLACES.values() if place.file.name == "machine.yaml"]
    for make in (no_space, no_colon):
        for _ in range(10):
            chosen = sorted(apart(chance, there, make), key=lambda place: place.line)
            lines = lines_of(chosen[0])
            for place in chosen:
                slip = make(place)
                assert slip is not None
                lines[place.line - 1] = slip.lines[place.line - 1]
            found = errors(folder, chosen[0], lines)
            assert [problem.line for problem in found] == [place.line for place in chosen], list(map(str, found))


def apart(chance: random.Random, there: list[Place], make: object) -> list[Place]:
    """Fields with their values in one line, no two of them neighbours."""
    able = [place for place in there if no_space(place) is not None]
    chosen: list[Place] = []
    for place in chance.sample(able, len(able)):
        if len(chosen) < 12 and all(abs(place.line - other.line) > 2 for other in chosen):
            chosen.append(place)
    return chosen
