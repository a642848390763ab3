"""The rules about sense: silent on a machine that makes sense, and telling where it does not.

What each rule writes is in `tests/bad/sense-*/expected.txt`; here stand the ways that are easily got wrong.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from diag.machine.load import load
from diag.vet import vet, words
from diag.vet.sense import vet_machine
from diag.vet.ways import open_states


def test_a_machine_that_makes_sense_has_only_a_count(mixer_folder: Path) -> None:
    assert [problem.rule for problem in vet([mixer_folder])] == ["no-example"]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("Open the cabinet and look", "Open"),
        ("Then remove the cover", "remove"),
        ("Reach behind the belt", "Reach"),
        ("Take the two screws out", "Take the two screws out"),
        ("See whether the guard is open", ""),
        ("Look at the open guard", ""),
        ("Note which valve is open or shut", ""),
        ("It was left open", ""),
        ("Ask who opened it", ""),
        ("Look at the removed part", ""),
        ("Look from outside", ""),
    ],
)
def test_words_of_work_in_an_instruction(text: str, word: str) -> None:
    assert words.told(text) == word


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("Is the guard open?", ""),
        ("Is the door all the way open or half open?", ""),
        ("What do you see when you open the door?", "open"),
        ("Unplug the cable: does it click?", "Unplug"),
        ("Does the valve open when it should?", ""),
    ],
)
def test_words_of_work_in_a_question(text: str, word: str) -> None:
    assert words.asked(text) == word


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Open the shut-off valve slowly", ""),
        ("Open the cabinet door", "Open the cabinet"),
        ("Wait, then unscrew the cover", "unscrew the cover"),
        ("Close the guard", ""),
        ("Look through the window of the door", ""),
    ],
)
def test_work_at_a_housing(text: str, found: str) -> None:
    assert words.at_housing(text) == found


@pytest.mark.parametrize(
    ("where", "found"),
    [
        ("inside the cabinet, upper rail", "inside"),
        ("in the cabinet", "in the cabinet"),
        ("in the cabinet, through the window", ""),
        ("front of the cabinet", ""),
        ("behind the cover", "behind the cover"),
    ],
)
def test_places_inside(where: str, found: str) -> None:
    assert words.inside(where) == found


HEAD = """format: 1
title: Ways
place: here
call: {engineer: x}
indications:
  a: {question: A?, answers: [one, two, three]}
  b: {question: B?, answers: [one, two]}
causes:
  c:
    {title: C, part: p, often: rare, shows: {a: one, b: two}, proof: {a: two}, remedy: REMEDY}
examples: [{example: e, title: E, facts: [{a: one}], cause: c, tree: false}]
""".replace("REMEDY", "{do: X, minutes: 1, access: outside}")


def told(folder: Path, trees: str) -> list[str]:
    (folder / "machine.yaml").write_text(HEAD + trees)
    return [f"{problem.line}: {problem.text}" for problem in vet_machine(folder)]


def test_what_the_way_in_settled_needs_no_branch(tmp_path: Path) -> None:
    trees = """trees:
  - {tree: t, title: T, look: a, when: {one: {go: u}, two: {go: u}, three: {conclude: c}}}
  - {tree: u, title: U, look: a, when: {one: {conclude: c}, two: {conclude: c}}}
"""
    assert told(tmp_path, trees) == []
    assert told(tmp_path, trees.replace("two: {go: u}", "two: {conclude: c}")) == [
        "14: two of 'a' cannot be met here; it was settled before"
    ]


def test_ways_from_several_trees_add_up(tmp_path: Path) -> None:
    trees = """trees:
  - {tree: t, title: T, look: a, when: {one: {go: u}, two: {go: v}, three: {conclude: c}}}
  - {tree: u, title: U, look: b, when: {one: {go: w}, two: {conclude: c}}}
  - {tree: v, title: V, look: b, when: {one: {conclude: c}, two: {go: w}}}
  - {tree: w, title: W, look: a, when: {one: {conclude: c}}}
"""
    assert told(tmp_path, trees) == ["16: no branch and no 'otherwise' for two of 'a'"]


def test_a_tree_that_leads_back_is_walked_to_its_end(tmp_path: Path) -> None:
    trees = """trees:
  - {tree: t, title: T, look: a, when: {one: {go: u}}, otherwise: {conclude: c}}
  - {tree: u, title: U, look: b, when: {one: {go: t}, two: {conclude: c}}}
"""
    lines = told(tmp_path, trees)
    assert any("trees lead back to one another: t, u, t" in line for line in lines)
    machine = load(tmp_path).machine
    assert machine is not None
    assert open_states(machine)[id(machine.trees["t"].root)] == {"one", "two", "three"}


def test_paths_mean_a_machine_a_folder_of_them_or_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("one", "two"):
        (tmp_path / name / "trees").mkdir(parents=True)
        (tmp_path / name / "machine.yaml").write_text(HEAD.replace("title: Ways", "titel: Ways"))
        (tmp_path / name / "trees" / "t.yaml").write_text("tree: t\ntitle: T\nlook: z\n")
    everything = [problem.file for problem in vet([Path()])]
    assert everything == [
        f"{name}/{file}" for name in ("one", "two") for file in ("machine.yaml",) * 2 + ("trees/t.yaml",) * 2
    ]
    assert {problem.file for problem in vet([Path("one")])} == {"one/machine.yaml", "one/trees/t.yaml"}
    assert {problem.file for problem in vet([Path("one/trees/t.yaml")])} == {"one/trees/t.yaml"}
    assert vet([Path("one"), Path("one")]) == vet([Path("one")])
    assert [str(problem) for problem in vet([Path("nowhere")])] == [
        "nowhere:1:1: error: no such folder (machine)",
    ]


def test_causes_with_one_remedy_need_not_be_told_apart(tmp_path: Path) -> None:
    twin = """  d: {title: D, part: p, often: rare, shows: {b: two, a: one}, remedy: REMEDY, proof: {a: two}}
remedies:
  all: {do: X, minutes: 1, access: outside}
"""
    cause = "remedy: {do: X, minutes: 1, access: outside}}\n"
    for remedy, count in (("all", 0), ("{do: Y, minutes: 1, access: outside}", 1)):
        text = HEAD.replace(cause, f"remedy: all}}\n{twin.replace('REMEDY', remedy)}")
        (tmp_path / "machine.yaml").write_text(text)
        assert sum(problem.rule == "twins" for problem in vet_machine(tmp_path)) == count


def test_a_cause_that_shows_only_the_normal_state_is_not_found(tmp_path: Path) -> None:
    lamp = "  lamp: {lamp: red, where: front, normal: dark}\n"
    dull = "  dull: {title: D, part: p, often: rare, shows: {lamp: {dark: always, lit: never}}}\n"
    (tmp_path / "machine.yaml").write_text(HEAD.replace("causes:\n", f"{lamp}causes:\n{dull}"))
    assert [p.text for p in vet_machine(tmp_path) if p.rule == "unfindable"] == [
        "'dull' shows nothing; it could not be found"
    ]
