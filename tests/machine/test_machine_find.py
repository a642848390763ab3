"""Which machines there are."""

from __future__ import annotations

from pathlib import Path

import pytest

from diag.machine import find as find_module
from diag.machine.find import NoSuchMachine, find, knowledge_folder, listing


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


def test_the_option_goes_before_the_variable_and_that_before_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAG_KNOWLEDGE", str(tmp_path))
    assert knowledge_folder(Path("x")) == Path("x")
    assert knowledge_folder() == tmp_path
    monkeypatch.setenv("DIAG_KNOWLEDGE", "")
    assert (knowledge_folder() / "tray-stacker" / "machine.yaml").exists()
    package = tmp_path / "diag"
    (package / "knowledge").mkdir(parents=True)
    monkeypatch.setattr(find_module, "__file__", str(package / "machine" / "find.py"))
    assert knowledge_folder() == package / "knowledge"
