"""The command itself: help without loading anything, names that are nearly right, one line for every error."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from diag.cli.group import COMMANDS, Commands, diag

ROOT = Path(__file__).resolve().parents[2]


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, args)


def process(
    *args: str | bytes, env: dict[str, str] | None = None, **more: object
) -> subprocess.CompletedProcess[bytes]:
    """`python -m diag` in a fresh interpreter."""
    return subprocess.run(
        [sys.executable, "-m", "diag", *args],
        cwd=ROOT,
        env={**os.environ, **(env or {})},
        timeout=60,
        **{"capture_output": True, "stdin": subprocess.DEVNULL, **more},
    )


def one_line(result: Result, code: int) -> str:
    """The one line of an error."""
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    assert result.stderr.startswith("diag: ")
    assert result.stderr.count("\n") == 1
    return result.stderr.removeprefix("diag: ").strip()


def test_help_lists_every_command_with_what_its_own_help_says() -> None:
    shown = run("--help").stdout
    context = click.Context(diag)
    for name, (_, short) in COMMANDS.items():
        command = diag.get_command(context, name)
        assert command is not None
        assert command.name == name
        assert f"  {name}" in shown
        assert short.split(".")[0][:30] in shown
        own = run(name, "--help")
        assert own.exit_code == 0
        assert own.stdout.startswith(f"Usage: diag {name}")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["strt"], "unknown command 'strt'; nearest: 'start'"),
        (["casse"], "unknown command 'casse'; nearest: 'cases'"),
        (["start", "tray-staker"], "no machine 'tray-staker'; nearest: tray-stacker"),
        (["start"], "Missing argument 'MACHINE'. (see diag start --help)"),
        (["cases", "--jsn"], "No such option '--jsn'"),
        (["rank", "x", "--knowledge", "y"], "--knowledge goes before the command: diag --knowledge ... COMMAND"),
        (["--knowledge", "/no/such/folder", "cases"], "Directory '/no/such/folder' does not exist."),
        (["try", "--simulate", "0"], "Invalid value for '--simulate'"),
    ],
)
def test_wrong_usage_is_one_line_with_the_nearest_name(args: list[str], says: str) -> None:
    assert says in one_line(run(*args), 2)


def test_no_terminal_no_app() -> None:
    assert "terminal" in one_line(run(), 2)
    assert "terminal" in one_line(run("start", "tray-stacker"), 2)


def test_a_folder_without_machines_says_so(tmp_path: Path) -> None:
    assert "no machines in" in one_line(run("--knowledge", str(tmp_path), "start", "x"), 2)


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """`diag cases` raises what the test names."""

    @click.command("cases")
    def command() -> None:
        raise request.param

    monkeypatch.setattr(Commands, "get_command", lambda self, context, name: command)


@pytest.mark.parametrize(
    ("failing", "code", "says"),
    [
        (KeyboardInterrupt(), 130, "stopped"),
        (PermissionError(13, "Permission denied", "/secret/casebook"), 1, "/secret/casebook: Permission denied"),
        (ValueError("two\nlines \x1b[31mred"), 1, "a fault in this program: ValueError: two lines  [31mred"),
        (RecursionError("deep"), 1, "a fault in this program"),
    ],
    indirect=["failing"],
)
@pytest.mark.usefixtures("failing")
def test_whatever_goes_wrong_is_one_line(code: int, says: str) -> None:
    result = run("cases")
    assert result.exit_code == code
    assert " ".join(says.split()) in " ".join(result.stderr.split())
    assert result.stderr.strip().count("\n") == 0
    assert "Traceback" not in result.stderr
    assert "\x1b" not in result.stderr


@pytest.mark.parametrize("failing", [ValueError("inside")], indirect=True)
@pytest.mark.usefixtures("failing")
def test_who_looks_after_the_program_can_see_where(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAG_TRACE", "1")
    assert isinstance(run("cases").exception, ValueError)


def test_bytes_that_are_no_text_are_taken_calmly() -> None:
    for args in ([b"caf\xe9"], [b"start", b"\xff\xfe"], [b"rank", b"tray-stacker", b"\xe9=\xe9"]):
        done = process(*args)
        assert done.returncode == 2
        assert done.stderr.count(b"\n") == 1
        assert b"Traceback" not in done.stderr


def test_a_reader_that_went_away_is_no_trouble() -> None:
    read, write = os.pipe()
    os.close(read)
    done = process("--help", stdout=write, stderr=subprocess.PIPE, capture_output=False)
    os.close(write)
    assert done.stderr == b""
    assert done.returncode == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_full_disk_is_one_line() -> None:
    with Path("/dev/full").open("wb") as full:
        done = process("--help", stdout=full, stderr=subprocess.PIPE, capture_output=False)
    assert done.returncode == 1
    assert done.stderr.count(b"\n") == 1


def test_closed_output_is_one_line() -> None:
    done = subprocess.run(
        f"exec {sys.executable} -m diag cases >&-", shell=True, cwd=ROOT, stderr=subprocess.PIPE, timeout=60
    )
    assert done.returncode == 1
    assert done.stderr.startswith(b"diag: standard output is closed")
