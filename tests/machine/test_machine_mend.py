"""A slip that can mean one thing only is told, and what else is wrong in the file is told in the same run."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest

from diag.machine.load import approval_of, load
from diag.machine.reader.compose import compose
from diag.machine.repair.mend import MOST
from diag.machine.span import Node


def told(text: str) -> tuple[Node | None, list[str]]:
    root, problems = compose(text, "f")
    return root, [f"{problem.line}:{problem.column}" for problem in problems]


@pytest.mark.parametrize(
    ("text", "places", "plain"),
    [
        ("title:X\nplace:Y\n", ["1:1", "2:1"], {"title": "X", "place": "Y"}),
        ("hazards:\n  - A\n  -B c\n  \u2013 D\n", ["3:3", "4:3"], {"hazards": ["A", "B c", "D"]}),
        ("title: A\nplace:\nHall 2\n", ["3:1"], {"title": "A", "place": "Hall 2"}),
        ("place: Hall: 2   # where\n", ["1:12"], {"place": "Hall: 2"}),
        ("title: \u201cHall: 2\u201d\n", ["1:8"], {"title": "Hall: 2"}),
        ("a: [\u201cx, y\u201d, \u2018z\u2019]\n", ["1:5", None], None),
        ("title:\u00a0X\n\u00a0\u00a0\nplace: Y\n", ["1:7"], {"title": "X", "place": "Y"}),
        ("facts:\n  {a: b}\n  {c: d}\n", ["2:3"], {"facts": [{"a": "b"}, {"c": "d"}]}),
    ],
)
def test_the_file_is_read_as_it_was_meant(text: str, places: list[str | None], plain: object) -> None:
    root, found = told(text)
    if plain is not None:
        assert root is not None
        assert root.plain() == plain
        assert found == places
    else:  # two in one line: the first is told, and nothing that may come of it
        assert root is None
        assert found == places[:1]


def test_words_of_a_mended_line_keep_their_places() -> None:
    root, _ = told("a: 1\nb:  {c:d, e: f}\n")
    assert root is not None
    node = root.find(["b", "e"])
    assert (node.line, node.key_column, node.column) == (2, 11, 14)


def test_what_could_mean_two_things_is_not_mended() -> None:
    for text in ('a: "b\nc:d\n', "a:\n\tb: c\n", "a: b\n  c:d\n", "a: {b: c\nd: e\n"):
        assert told(text)[0] is None


def test_only_so_many_are_mended() -> None:
    root, found = told("a: 1\n" + "".join(f"k{n}:1\n" for n in range(500)))
    assert root is None
    assert len(found) == MOST + 1


@pytest.mark.parametrize(
    "text",
    [
        "{" + ",\u00a0" * 300_000,
        '{a: "' + "x,\u00a0" * 300_000,
        "a: 1\n" + "b:2\n" * 200_000,
        "a: \u201c" * 200_000,
        "facts:\n" + "  {a: b}\n" * 100_000,
        "a: b" + " " * 900_000 + ": c",
    ],
)
def test_no_file_takes_long(text: str) -> None:
    start = time.process_time()
    told(text)
    assert time.process_time() - start < 2.0


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ("tree: first-look", "trees: first-look", "the name of one stands behind 'tree:'"),
        ("tree: first-look", "Tree: first-look", "unknown field 'Tree'; nearest: 'tree'"),
        ("tree: first-look\n", "", "'tree' is missing"),
    ],
)
def test_a_tree_without_its_name_is_one_problem(tmp_path: Path, was: str, now: str, said: str) -> None:
    shutil.copytree(Path(__file__).parent.parent / "bad" / "tree-title", tmp_path / "m")
    file = tmp_path / "m" / "trees" / "first-look.yaml"
    file.write_text(file.read_text().replace("First look", "first-look", 1).replace(was, now, 1))
    (problem,) = load(tmp_path / "m").problems
    assert said in problem.text


def test_a_mended_file_is_no_approved_one(tmp_path: Path) -> None:
    shutil.copytree(Path(__file__).parent.parent / "machines" / "mixer", tmp_path / "mixer")
    file = tmp_path / "mixer" / "machine.yaml"
    text = file.read_text()
    file.write_text(
        text.replace("approval: draft", "approval: trial") if "approval:" in text else f"approval: trial\n{text}"
    )
    assert approval_of(tmp_path / "mixer").word == "trial"
    file.write_text(file.read_text().replace("title: ", "title:", 1))
    assert load(tmp_path / "mixer").machine is None
    assert approval_of(tmp_path / "mixer").word == "draft"
