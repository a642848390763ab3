"""Which machines there are."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from diag.machine import find as find_module
from diag.machine.find import NoSuchMachine, find, knowledge_folders, listing, shipped_folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in {
        "packer": "format: 1\ntitle: 'Packer ''A'''   # the old one\nplace: Hall 2 # left\n",
        "oven": '\ufeff# comment\ntitle: "Oven 3"\nrest: [',
        "no-title": "place: Hall 1\n",
        "empty": "",
    }.items():
        (tmp_path / name).mkdir()
        (tmp_path / name / "machine.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "utf16").mkdir()
    (tmp_path / "utf16" / "machine.yaml").write_bytes("title: ä".encode("utf-16"))
    (tmp_path / "folder" / "machine.yaml").mkdir(parents=True)
    (tmp_path / "loop").mkdir()
    (tmp_path / "loop" / "machine.yaml").symlink_to("machine.yaml")
    (tmp_path / "escape").mkdir()
    (tmp_path / "escape" / "machine.yaml").write_text("title: a\x1b[31mb\n")
    (tmp_path / "modules").mkdir()
    (tmp_path / "notes.txt").write_text("x")
    return tmp_path


def test_a_list_survives_broken_machines(folder: Path) -> None:
    found = {machine.id: (machine.title, machine.place, machine.problem) for machine in listing(folder)}
    assert found == {
        "empty": ("empty", "", "its machine.yaml has no title"),
        "escape": ("a?[31mb", "", ""),
        "folder": ("folder", "", "its machine.yaml is not an ordinary file"),
        "loop": ("loop", "", "its machine.yaml is not an ordinary file"),
        "no-title": ("no-title", "Hall 1", "its machine.yaml has no title"),
        "oven": ("Oven 3", "", ""),
        "packer": ("Packer 'A'", "Hall 2", ""),
        "utf16": ("utf16", "", "its machine.yaml is not UTF-8"),
    }


def test_a_list_agrees_with_the_whole_file(mixer_folder: Path) -> None:
    (machine,) = listing(mixer_folder.parent)
    assert (machine.id, machine.title, machine.place, machine.problem) == ("mixer", "Dough mixer 4", "Dough room", "")


def test_a_folder_that_is_not_there_holds_none(tmp_path: Path) -> None:
    assert listing(tmp_path / "nowhere") == ()
    with pytest.raises(NoSuchMachine, match="there are no machines"):
        find("x", tmp_path / "nowhere")


def test_a_machine_is_found_by_id_in_any_case_and_by_path(folder: Path) -> None:
    assert find("packer", folder) == folder / "packer"
    assert find("Packer", folder) == folder / "packer"
    assert find(str(folder / "oven"), Path("/nowhere")) == folder / "oven"


def test_an_unknown_name_gets_the_nearest(folder: Path) -> None:
    with pytest.raises(NoSuchMachine, match="no machine 'paker'; nearest: packer") as error:
        find("paker", folder)
    assert error.value.nearest == ("packer",)
    with pytest.raises(NoSuchMachine, match="no machine 'zzzzzz'; known: empty, escape, folder"):
        find("zzzzzz", folder)
    with pytest.raises(NoSuchMachine):
        find("a\0b" * 500, folder)


def test_the_folders_given_go_before_the_variable_and_those_before_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAG_KNOWLEDGE", f"{tmp_path}{os.pathsep}{tmp_path / 'two'}")
    shipped = shipped_folder()
    assert (shipped / "tray-stacker" / "machine.yaml").exists()
    assert knowledge_folders([Path("x")]) == (Path("x"), shipped)
    assert knowledge_folders() == (tmp_path, tmp_path / "two", shipped)
    assert knowledge_folders(shipped=False) == (tmp_path, tmp_path / "two")
    assert knowledge_folders([tmp_path, shipped, tmp_path / "." / "x" / ".."]) == (tmp_path, shipped)
    monkeypatch.setenv("DIAG_KNOWLEDGE", "")
    assert knowledge_folders() == (shipped,)
    package = tmp_path / "diag"
    (package / "knowledge").mkdir(parents=True)
    monkeypatch.setattr(find_module, "__file__", str(package / "machine" / "find.py"))
    assert knowledge_folders() == (package / "knowledge",)


def test_of_two_machines_of_one_name_none_is_taken_and_both_are_told(tmp_path: Path) -> None:
    for site, ids in {"a": ("oven", "mixer"), "b": ("oven", "press"), "c": ("oven",)}.items():
        for id in ids:
            (tmp_path / site / id).mkdir(parents=True)
            (tmp_path / site / id / "machine.yaml").write_text(f"title: {id} of {site}\nplace: Hall\n")
    folders = [tmp_path / "a", tmp_path / "b", tmp_path / "nowhere", tmp_path / "c"]
    found = listing(folders)
    assert [(m.id, m.title) for m in found] == [
        ("mixer", "mixer of a"),
        ("oven", "oven of a"),
        ("press", "press of b"),
    ]
    assert [m.hides for m in found] == [(), (tmp_path / "b" / "oven", tmp_path / "c" / "oven"), ()]
    for name in ("oven", "Oven"):
        with pytest.raises(NoSuchMachine, match=r"several folders, '.*a/oven', '.*b/oven' and '.*c/oven'; rename"):
            find(name, folders)
    assert find(str(tmp_path / "c" / "oven"), folders) == tmp_path / "c" / "oven"
    assert [m.id for m in found if m.problem] == ["oven"]
    assert find("press", folders) == tmp_path / "b" / "press"


def test_where_no_folder_holds_a_machine_all_are_named(tmp_path: Path) -> None:
    with pytest.raises(NoSuchMachine, match=r"no machines in '.*one' and '.*two'"):
        find("x", [tmp_path / "one", tmp_path / "two"])
    with pytest.raises(NoSuchMachine, match="no machines in no folder"):
        find("x", [])


def test_many_names_are_told_in_order_and_their_number(tmp_path: Path) -> None:
    for number in range(15):
        (tmp_path / f"m{number:02}").mkdir()
        (tmp_path / f"m{number:02}" / "machine.yaml").write_text("title: T\n")
    with pytest.raises(NoSuchMachine) as error:
        find("qqqqqqqq", tmp_path)
    assert str(error.value).endswith("known: " + ", ".join(f"m{n:02}" for n in range(11)) + " and 4 more")


@pytest.mark.parametrize(
    ("written", "title"),
    [
        (r'title: "Caf\u00e9 \"2\""', 'Café "2"'),
        ("title: >\n  Folded\n  title", "Folded title"),
        ("title: |\n  As written", "As written"),
        ("title: Oven\n  number 3", "Oven number 3"),
        ('title: "Oven\n  number 3"', "Oven number 3"),
        ("title:\n  Below", "Below"),
        ("title: &name Oven", "Oven"),
        ("title: Oven\n  # a remark", "Oven"),
        ("title: >\n  Folded\nbroken: [", "Folded"),
    ],
)
def test_a_title_is_what_it_means_and_not_how_it_is_written(tmp_path: Path, written: str, title: str) -> None:
    (tmp_path / "x").mkdir()
    (tmp_path / "x" / "machine.yaml").write_text(f"format: 1\n{written}\nplace: Hall 2\n", encoding="utf-8")
    (machine,) = listing(tmp_path)
    assert (machine.title, machine.problem) == (title, "")


@pytest.mark.parametrize("written", ["title: # none", "title: {a: b}", "title: >", "title: >\nbroken: ["])
def test_a_sign_is_no_title(tmp_path: Path, written: str) -> None:
    (tmp_path / "x").mkdir()
    (tmp_path / "x" / "machine.yaml").write_text(f"{written}\n", encoding="utf-8")
    (machine,) = listing(tmp_path)
    assert (machine.title, machine.problem) == ("x", "its machine.yaml has no title")


@pytest.mark.parametrize("name", ["a\nb", "-x", "a\x1b[31m", "a  b", "a\u2028b"])
def test_a_folder_s_name_that_no_command_can_be_given_is_a_problem(tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    (tmp_path / name / "machine.yaml").write_text("title: Oven\n", encoding="utf-8")
    (machine,) = listing(tmp_path)
    assert machine.problem.startswith("its folder's name ")
