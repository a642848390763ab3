"""Lines of the machine that `diag new` lays down, moved to the left or to the right: each is told at its own line, with
the spaces that belong before it."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

import diag.write
from diag.machine.load import load
from diag.machine.problem import Problem

SKELETON = Path(diag.write.__file__).parent / "skeleton_machine"
CAUSES, EXAMPLES = "causes.yaml", "examples/first-stops.yaml"
MOVED = [
    *((CAUSES, "    part: hood / switch", spaces) for spaces in (0, 2)),
    *((CAUSES, "    title: Hood switch failed", spaces) for spaces in (0, 2)),
    (CAUSES, "    often: occasional", 2),
    (CAUSES, "    shows: {front-display: hood-open, hood-contact: open, ready-lamp: dark}\n    remedy:", 2),
    (CAUSES, "    proof: {hood-contact: closed, front-display: idle}", 2),
    (CAUSES, "    remedy:\n      do: Replace the hood", 2),
    (CAUSES, "      minutes: 25", 4),
    (CAUSES, "  hood-switch-failed:", 4),
    *((EXAMPLES, "  - example: hood-switch-worn", spaces) for spaces in (0, 1, 3, 4)),
    (EXAMPLES, "    title: Code H1", 3),
    *((EXAMPLES, "      - {hood-contact: open}", spaces) for spaces in (4, 5, 7)),
]


def errors(folder: Path) -> list[Problem]:
    return [p for p in load(folder).problems if p.level == "error" and p.rule != "unfinished"]


@pytest.mark.parametrize(("file", "words", "spaces"), MOVED)
def test_a_line_out_of_level_is_told_with_its_spaces(file: str, words: str, spaces: int, tmp_path: Path) -> None:
    folder = tmp_path / "rinser"
    shutil.copytree(SKELETON, folder)
    assert errors(folder) == []
    path = folder / file
    text = path.read_text(encoding="utf-8")
    at = text.index(words)
    was = len(words) - len(words.lstrip(" "))
    path.write_text(f"{text[:at]}{' ' * spaces}{text[at + was :]}", encoding="utf-8")
    found = errors(folder)
    assert [(Path(p.file).name, p.line) for p in found] == [(path.name, text.count("\n", 0, at) + 1)], found
    put = re.search(r"put (\d+) spaces? before it$", found[0].text)
    assert put is not None, found
    assert int(put[1]) == was


def test_an_entry_a_level_too_deep_is_one_error(tmp_path: Path) -> None:
    folder = tmp_path / "rinser"
    shutil.copytree(SKELETON, folder)
    path = folder / CAUSES
    text = path.read_text(encoding="utf-8")
    start, end = text.index("  hood-switch-failed:"), text.index("  supply-failed:")
    deeper = re.sub(r"^(?=.)", "  ", text[start:end], flags=re.MULTILINE)
    path.write_text(f"{text[:start]}{deeper}{text[end:]}", encoding="utf-8")
    found = errors(folder)
    assert [p.line for p in found] == [text.count("\n", 0, start) + 1]
    assert "put 2 spaces before it, and 2 fewer before each line that belongs to it" in found[0].text
