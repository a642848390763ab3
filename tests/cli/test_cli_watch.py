"""`diag vet --watch`: the files are looked at again after each change, until ctrl+c."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import IO

import pytest
from click.testing import CliRunner

from diag.cli.files.watching import EVERY, changes, stamp
from diag.cli.group import diag

ROOT = Path(__file__).resolve().parents[2]
START = "start: first-look"


@pytest.fixture
def mixer(tmp_path: Path, mixer_folder: Path) -> Path:
    shutil.copytree(mixer_folder, tmp_path / "machines" / "mixer")
    return tmp_path / "machines" / "mixer"


def test_a_change_is_seen_and_nothing_is_told_without_one(mixer: Path) -> None:
    looks: list[str] = []
    steps = iter(("nothing", "nothing", "changed", "added", "module", "taken away", "other file", "end"))

    class End(Exception):
        pass

    def wait(seconds: float) -> None:
        assert seconds == EVERY
        step = next(steps)
        looks.append(step)
        match step:
            case "changed":
                (mixer / "machine.yaml").write_text((mixer / "machine.yaml").read_text() + "# more\n")
            case "added":
                (mixer / "trees").mkdir()
                (mixer / "trees" / "more.yaml").write_text("")
            case "module":
                (mixer.parent / "modules").mkdir()
                (mixer.parent / "modules" / "lamp.yaml").write_text("")
            case "taken away":
                (mixer / "trees" / "more.yaml").unlink()
            case "other file":
                (mixer / "notes.txt").write_text("")
            case "end":
                raise End

    seen = changes(lambda: [mixer], wait)
    with contextlib.suppress(End):
        for _ in seen:
            looks.append("LOOK")
    assert looks == [
        "LOOK",
        "nothing",
        "nothing",
        "changed",
        "LOOK",
        "added",
        "LOOK",
        "module",
        "LOOK",
        "taken away",
        "LOOK",
        "other file",
        "end",
    ]


def test_a_folder_that_is_not_there_has_no_files(tmp_path: Path) -> None:
    assert stamp([tmp_path / "nowhere"]) == {}


def _lines_until(out: IO[str], ending: str) -> list[str]:
    lines = []
    for line in out:
        lines.append(line.rstrip())
        if line.rstrip().endswith(ending):
            return lines
    raise AssertionError(lines)


def test_it_goes_on_until_ctrl_c_and_ends_with_the_last_exit_code(mixer: Path) -> None:
    file = mixer / "machine.yaml"
    good = file.read_text()
    assert START in good
    running = subprocess.Popen(
        [sys.executable, "-m", "diag", "vet", str(mixer), "--watch"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "200"},
        # A shell starts what it runs in the background deaf to ctrl+c, and children inherit that.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    try:
        assert running.stdout is not None
        first = _lines_until(running.stdout, "watching; ctrl+c ends")
        assert first[-2].startswith("1 machine: no errors")
        file.write_text(good.replace(START, "start: frist-look"))
        second = _lines_until(running.stdout, "watching; ctrl+c ends")
        assert any("'first-look'" in line and "error" in line for line in second)
        running.send_signal(signal.SIGINT)
        assert running.wait(timeout=60) == 1
        assert running.stderr is not None
        assert running.stderr.read() == ""
    finally:
        running.kill()
        running.communicate()


@pytest.mark.parametrize("other", [["--json"], ["--sarif"], ["--rules"], ["--explain", "yaml"], ["--prove"]])
def test_it_goes_alone(other: list[str]) -> None:
    result = CliRunner().invoke(diag, ["vet", "--watch", *other])
    assert result.exit_code == 2
    assert "--watch shows problems as lines" in result.output
