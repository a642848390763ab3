"""The command itself: help without loading anything, names that are nearly right, one line for every error."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from diag.cli.group import COMMANDS, ENVIRONMENT, Commands, diag
from diag.cli.json_output import VERSION

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
        timeout=600,
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
    for name, row in COMMANDS.items():
        command = diag.get_command(context, name)
        assert command is not None
        assert command.name == name
        assert f"  {name}" in shown
        assert row.short.split(".")[0][:30] in shown
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
    assert "no machines in" in one_line(run("--knowledge", str(tmp_path), "--no-shipped", "start", "x"), 2)


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


@pytest.mark.parametrize("args", [["--help"], ["rank", "tray-stacker"], ["cases", "--json"], ["rank", "--help"]])
def test_a_reader_that_went_away_is_no_trouble(args: list[str]) -> None:
    read, write = os.pipe()
    os.close(read)
    done = process(*args, stdout=write, stderr=subprocess.PIPE, capture_output=False)
    os.close(write)
    assert done.stderr == b""
    assert done.returncode == 0


def test_the_first_line_alone_can_be_taken() -> None:
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", f"{sys.executable} -m diag rank tray-stacker supply-lamp=dark | head -1"],
        cwd=ROOT,
        capture_output=True,
        timeout=600,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b"Tray stacker 2")
    assert done.stdout.count(b"\n") == 1


@pytest.mark.parametrize(
    ("args", "code", "says"),
    [
        (["rank", "tray-staker", "--json"], 2, "no machine 'tray-staker'; nearest: tray-stacker"),
        (["rank", "--json", "tray-stacker", "x=y"], 2, "unknown indication 'x'"),
        (["cases", "--json", "--no-such"], 2, "No such option '--no-such'"),
        (["--casebook", "pyproject.toml", "cases", "--json"], 1, "is not a casebook"),
        (["strt", "--json"], 2, "unknown command 'strt'; nearest: 'start'"),
        (["new", "a\x1b[31m\nb", "--json"], 2, "No such option '--json'"),
        (["rank", "a\x1b[31m\nb", "--json"], 2, "no machine 'a"),
    ],
)
def test_with_json_an_error_is_an_object_on_standard_output(args: list[str], code: int, says: str) -> None:
    result = run(*args)
    assert (result.exit_code, result.stderr) == (code, "")
    found = json.loads(result.stdout)
    assert set(found) == {"version", "error"}
    assert (found["version"], found["error"]["exit_code"]) == (VERSION, code)
    assert says in found["error"]["message"]
    assert "\x1b" not in found["error"]["message"]
    assert "\n" not in found["error"]["message"]


def test_what_stands_behind_two_dashes_is_no_option() -> None:
    assert one_line(run("rank", "tray-staker", "--", "--json"), 2)


@pytest.mark.parametrize("flag", ["-V", "--version"])
def test_the_version_is_told(flag: str) -> None:
    assert re.fullmatch(r"diag (\d+\.\d+\.\d+\S*|unknown)\n", run(flag).stdout)


def test_the_help_tells_every_variable_and_every_exit_code() -> None:
    shown = " ".join(run("--help").stdout.split())
    for name in ENVIRONMENT:
        assert name in shown
    assert "0 fine, 1 found something wrong, 2 wrong usage, 130 stopped" in shown
    # The variables that the program reads are the ones that the help tells.
    read = {
        name
        for path in (ROOT / "diag").rglob("*.py")
        for name in re.findall(r"\bDIAG_[A-Z]+\b", path.read_text(encoding="utf-8"))
    }
    assert {name for name in ENVIRONMENT if name.startswith("DIAG_")} == read


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_full_disk_is_one_line() -> None:
    with Path("/dev/full").open("wb") as full:
        done = process("--help", stdout=full, stderr=subprocess.PIPE, capture_output=False)
    assert done.returncode == 1
    assert done.stderr.count(b"\n") == 1


def test_closed_output_is_one_line() -> None:
    done = subprocess.run(
        f"exec {sys.executable} -m diag cases >&-", shell=True, cwd=ROOT, stderr=subprocess.PIPE, timeout=600
    )
    assert done.returncode == 1
    assert done.stderr.startswith(b"diag: standard output is closed")
