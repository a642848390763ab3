"""Every figure of the pages stands between marks, and its command exists; those that take seconds are measured anew."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest
from markdown import ROOT, Text, cells, page, texts
from test_pages_names import complaint

sys.path.insert(0, str(ROOT / "tests" / "bench"))

import figures
from derived import BLOCKS
from figure_table import EACH, FIGURES, line, share

ALL = texts()
MARKED = {name: (text, value) for text in ALL for name, value in figures.marked(text.raw).items()}
MEASURED = re.compile(r"\d[\d.,]*[\s\u00a0]?(%|ms\b|MB\b|points\b|of \d)")


def test_every_mark_has_a_figure_and_every_figure_stands_somewhere() -> None:
    assert set(MARKED) == set(FIGURES) | set(BLOCKS)


@pytest.mark.parametrize("text", ALL, ids=[text.name for text in ALL])
def test_marks_are_whole(text: Text) -> None:
    assert text.raw.count("<!-- figure:") == text.raw.count("<!-- /figure -->") == len(figures.MARK.findall(text.raw))
    assert [name for name, value in figures.marked(text.raw).items() if not value or "<!--" in value] == []


@pytest.mark.parametrize("figure", FIGURES.values(), ids=list(FIGURES))
def test_its_command_exists_and_stands_beside_it(figure: figures.Figure) -> None:
    words = shlex.split(figure.command)
    if words[0] == "diag":
        assert complaint(figure.runs) == ""
    else:
        assert words[0] == "python"
        assert words[1:] == ["-m", "pytest"] or (ROOT / words[1]).is_file()
    text, _ = MARKED[figure.name]
    (row,) = [row for row in text.raw.splitlines() if f"<!-- figure: {figure.name} -->" in row]
    assert f"`{figure.command}`" in row or f"`{figure.command}`" in text.raw[text.raw.index(row) :][: len(row) + 200]


def test_no_figure_stands_without_a_mark() -> None:
    """In the column of what was measured nothing does; in the README's text no share, time or size."""
    for table in page("accuracy").tables:
        assert "measured" in cells(table[0])
    for row in page("accuracy").raw.splitlines():
        if row.startswith("|") and "<!-- figure" in row:
            left = figures.MARK.sub("", row)
            assert not re.search(r"\d", cells(left)[1]), row
    readme = figures.MARK.sub("", ALL[0].raw)
    assert [found[0] for found in MEASURED.finditer(readme)] == []


def test_what_takes_seconds_is_measured_anew() -> None:
    chosen, _ = figures.chosen([], False, True)
    values = figures.measured(chosen, print)
    assert values
    assert {name: MARKED[name][1] for name in values} == values


SMALL = {
    "--simulate 500 --without": "--simulate 1 --without",
    "--simulate 200": "--simulate 1",
    "--simulate 100": "--simulate 1",
    "--simulate 500": "--simulate 1",
    "--count 1000000": "--count 50",
    "--count 10000": "--count 2",
    "measure advice": "measure advice --models 2",
    "measure taps": "measure taps --runs 1",
}
"""The same commands over less. The stops of each cause are left out, since even one of each takes long."""


@pytest.mark.slow
@pytest.mark.parametrize("command", sorted({f.command for f in FIGURES.values() if f.json and f.command != EACH}))
def test_each_command_prints_its_figures(command: str) -> None:
    small = command
    for large, less in SMALL.items():
        if large in command:
            small = command.replace(large, less)
            break
    printed = figures.output(f"{small} --json")
    for figure in FIGURES.values():
        if figure.command == command:
            assert re.fullmatch(r"(none|\d[\d.,]*)\b.*", figure.read(printed)), figure.name


@pytest.mark.parametrize("name", BLOCKS)
def test_what_is_made_from_the_program_is_up_to_date(name: str) -> None:
    assert MARKED[name][1] == BLOCKS[name](), f"python tests/bench/figures.py --write {name}"


def test_figures_are_filled_in_between_their_marks_and_nowhere_else() -> None:
    before = "It is <!-- figure: taps -->1 %<!-- /figure --> or <!-- figure: holds -->2 %<!-- /figure --> of 1 %."
    after = figures.filled(before, {"taps": "3 %"})
    assert (
        after == "It is <!-- figure: taps -->3 %<!-- /figure --> or <!-- figure: holds -->2 %<!-- /figure --> of 1 %."
    )
    assert figures.marked(after) == {"taps": "3 %", "holds": "2 %"}


def test_figures_are_read_from_what_commands_print() -> None:
    printed = "diag --help: median 0.140 s (quartiles 0.139 to 0.142)\n    peer, python: median 0.100 s; ratio 1.4\n"
    assert FIGURES["start-help"].read(printed) == "0.140 s"
    assert FIGURES["kills"].read("200 kills: all 51943 entries shown as recorded were there, 200 cases resumed") == (
        "none of 51943"
    )
    assert share(0.9566) == "95.7\u00a0%"
    with pytest.raises(ValueError, match="nothing printed is like"):
        line("(x)")("y")


def test_a_command_that_fails_gives_no_figure(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="exit code 2"):
        figures.output("diag try no-such-machine --json")
