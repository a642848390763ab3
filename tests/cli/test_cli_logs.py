"""`--verbose` and `--log-file`: what was read and how long it took, and nothing of what anybody said."""

from __future__ import annotations

import re
import stat
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from diag.cli import logs
from diag.cli.group import diag

MACHINES = Path(__file__).resolve().parents[1] / "machines"


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(MACHINES), *args])


def test_every_file_that_was_read_is_told_with_the_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYDANTIC_DISABLE_PLUGINS", "__all__")  # as `diag.cli.main` does
    result = run("--verbose", "rank", "mixer", "supply-lamp=dark")
    assert result.exit_code == 0
    assert "Likely causes" in result.stdout
    lines = result.stderr.splitlines()
    assert all(re.match(r"diag: \[\d+\.\d{3} s\] \S", line) for line in lines), lines
    read = [line.split(" read ")[1] for line in lines if " read " in line]
    assert set(read) == {str(MACHINES / "mixer" / "machine.yaml")}
    assert any(f"folders of machines: {MACHINES}" in line for line in lines)
    assert "ended with exit code 0" in lines[-1]


def test_without_it_nothing_is_told() -> None:
    run("--verbose", "cases")
    assert run("rank", "mixer").stderr == ""
    assert not logs.log.handlers


def test_the_log_file_is_added_to_and_only_its_owner_reads_it(tmp_path: Path) -> None:
    file = tmp_path / "diag.log"
    assert run("--log-file", str(file), "rank", "mixer", "supply-lamp=dark").stderr == ""
    first = file.read_text(encoding="utf-8")
    assert re.match(r"\d{4}-\d\d-\d\d \S+ \[\d", first)
    if sys.platform != "win32":
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert run("--log-file", str(file), "rank", "mixr").exit_code == 2
    both = file.read_text(encoding="utf-8")
    assert both.startswith(first)
    assert "ended with exit code 2" in both


def test_nothing_that_anybody_said_stands_in_it(tmp_path: Path) -> None:
    file = tmp_path / "diag.log"
    for args in (["rank", "mixer", "supply-lamp=dark"], ["approve", "mixr", "--by", "Jo Weber"], ["rank", "secret-1"]):
        run("--log-file", str(file), *args)
    text = file.read_text(encoding="utf-8")
    for word in ("supply-lamp", "dark", "Weber", "secret"):
        assert word not in text


def test_a_fault_is_told_by_its_place_and_not_by_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("what Jo Weber wrote")

    monkeypatch.setattr("diag.cli.machines.folder", broken)
    file = tmp_path / "diag.log"
    assert run("--log-file", str(file), "rank", "mixer").exit_code == 1
    text = file.read_text(encoding="utf-8")
    assert "a fault in this program: RuntimeError" in text
    assert "rank.py" in text
    assert "Weber" not in text


def test_a_log_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    result = run("--log-file", str(tmp_path / "no" / "where.log"), "cases")
    assert result.exit_code == 1
    assert result.stderr.count("\n") == 1
    assert "No such file" in result.stderr
    assert run("--log-file", str(tmp_path), "cases").exit_code == 2


def test_a_path_that_would_steer_the_terminal_is_told_clean(tmp_path: Path) -> None:
    folder = tmp_path / "a\x1b[31mb\nc"
    folder.mkdir()
    result = CliRunner().invoke(diag, ["--verbose", "--no-shipped", "--knowledge", str(folder), "rank", "x"])
    assert "\x1b" not in result.stderr
    assert all(line.startswith("diag: ") for line in result.stderr.splitlines())


def test_the_app_s_screen_is_not_written_on() -> None:
    logs.start(True, None)
    try:
        logs.leave_the_screen()
        assert not logs.log.handlers
    finally:
        logs.end(0)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_told_once_and_the_command_goes_on() -> None:
    result = run("--log-file", "/dev/full", "list")
    assert result.exit_code == 0
    assert result.stdout == run("list").stdout
    assert result.stderr == "diag: the log cannot be written to /dev/full: no space left on device\n"
    assert run("--log-file", "/dev/full", "rank", "mixr").exit_code == 2


def test_a_dash_is_no_log_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for word in ("-", ""):
        result = run("--log-file", word, "list")
        assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)
        assert "--log-file needs the name of a file" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_path_that_is_far_too_long_is_cut(tmp_path: Path) -> None:
    result = run("--log-file", str(tmp_path / ("a" * 5000)), "list")
    assert result.exit_code == 1
    assert "File name too long" in result.stderr
    assert len(result.stderr) < 300
