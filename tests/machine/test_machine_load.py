"""What reading a machine needs, and what it can do without."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diag.machine.load import NotAMachine, load, read


def test_a_broken_example_keeps_nobody_from_the_machine(tmp_path: Path, mixer_folder: Path) -> None:
    folder = tmp_path / "mixer"
    shutil.copytree(mixer_folder, folder)
    (folder / "examples").mkdir(exist_ok=True)
    (folder / "examples" / "broken.yaml").write_text("example: [", encoding="utf-8")
    with pytest.raises(NotAMachine, match=r"broken\.yaml"):
        read(folder)
    assert read(folder, examples=False).causes.keys() == read(mixer_folder).causes.keys()


def test_a_folder_whose_name_no_case_could_record(tmp_path: Path, mixer_folder: Path) -> None:
    for length, count in ((200, 0), (201, 1)):
        folder = tmp_path / ("m" * length)
        shutil.copytree(mixer_folder, folder)
        assert [p.text for p in load(folder).problems] == [
            "its name is longer than 200 characters; a case could not record it"
        ] * count


def test_work_inside_is_never_sent_outside_by_a_spelling(tmp_path: Path, mixer_folder: Path) -> None:
    """Of the words for access, `outside` is spelled most like `inside`: it must not be proposed for it."""
    folder = tmp_path / "mixer"
    shutil.copytree(mixer_folder, folder)
    for file in folder.rglob("*.yaml"):
        text = file.read_text(encoding="utf-8")
        file.write_text(text.replace("access: live", "access: inside"), encoding="utf-8")
    said = {p.text for p in load(folder).problems if "inside" in p.text}
    assert said == {
        "'access': unknown word 'inside'; known: outside, dead, live; inside an enclosure it is dead, or live"
    }
