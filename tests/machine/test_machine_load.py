"""What reading a machine needs, and what it can do without."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diag.machine.load import NotAMachine, read


def test_a_broken_example_keeps_nobody_from_the_machine(tmp_path: Path, mixer_folder: Path) -> None:
    folder = tmp_path / "mixer"
    shutil.copytree(mixer_folder, folder)
    (folder / "examples").mkdir(exist_ok=True)
    (folder / "examples" / "broken.yaml").write_text("example: [", encoding="utf-8")
    with pytest.raises(NotAMachine, match=r"broken\.yaml"):
        read(folder)
    assert read(folder, examples=False).causes.keys() == read(mixer_folder).causes.keys()
