"""The config file: what it may say, what goes before it, and one line for whatever is wrong in it."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from finish import finish

from diag.cli.config import KEYS, Config, config_path, read_config
from diag.cli.errors import WrongUsage
from diag.cli.group import diag
from diag.cli.settings import Settings
from diag.machine.find import shipped_folder

MACHINES = Path(__file__).resolve().parents[1] / "machines"
KINDS = Path(__file__).resolve().parents[1] / "kinds"


@pytest.fixture
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The file that DIAG_CONFIG names; not there yet."""
    file = tmp_path / "config.toml"
    monkeypatch.setenv("DIAG_CONFIG", str(file))
    return file


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, args)


def test_all_that_it_may_say(config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    config.write_text(
        'knowledge = ["~/plant/machines", "lines", "/srv/machines"]\nshipped = false\n'
        'casebook = "book.sqlite3"\nsheets = "~/sheets"\nshifts = ["06:00", "14:00", "22:00"]\ntheme = "light"\n',
        encoding="utf-8",
    )
    assert read_config() == Config(
        config,
        True,
        (tmp_path / "home" / "plant" / "machines", tmp_path / "lines", Path("/srv/machines")),
        False,
        tmp_path / "book.sqlite3",
        tmp_path / "home" / "sheets",
        ("06:00", "14:00", "22:00"),
        "light",
    )
    assert set(KEYS) == {"knowledge", "shipped", "casebook", "sheets", "shifts", "theme"}


def test_no_file_is_as_good_as_an_empty_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DIAG_CONFIG")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    if sys.platform == "linux":
        assert config_path() == tmp_path / "diag" / "config.toml"
        assert read_config() == Config(config_path())
        assert not read_config().found
        (tmp_path / "diag").mkdir()
        config_path().write_text("", encoding="utf-8")
        assert read_config() == Config(config_path(), True)


def test_the_null_device_says_nothing() -> None:
    assert read_config(Path(os.devnull)) == Config(Path(os.devnull), True)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('knowlege = ["x"]', "config.toml, line 1: unknown setting 'knowlege'; nearest: 'knowledge'"),
        ("# one\n\nzzz = 1", "config.toml, line 3: unknown setting 'zzz'; known: knowledge, shipped, casebook, sheets"),
        ("[shift]\nx = 1", "config.toml, line 1: unknown setting 'shift'; nearest: 'shifts'"),
        ('knowledge = "x"', 'line 1: wrong value for knowledge, which takes folders of machines: ["~/plant/machines"]'),
        ("knowledge = [1]", "line 1: wrong value for knowledge, which takes folders"),
        ('knowledge = [""]', "line 1: wrong value for knowledge, which takes folders"),
        ('knowledge = ["a\\u0000b"]', "line 1: wrong value for knowledge, which takes folders"),
        ('knowledge = ["a\\u001b[31mb"]', "line 1: wrong value for knowledge, which takes folders"),
        ('knowledge = ["~nobody-of-this-name/x"]', "line 1: wrong value for knowledge, which takes folders"),
        ('shipped = "no"', "line 1: wrong value for shipped, which takes true or false: whether the machines"),
        ("casebook = 5", "line 1: wrong value for casebook, which takes the file of the casebook"),
        ('casebook = ""', "line 1: wrong value for casebook, which takes the file of the casebook"),
        ('shifts = ["6:00"]', 'which takes the times at which the shifts begin: ["06:00", "14:00", "22:00"], in order'),
        ('shifts = ["14:00", "06:00"]', "in order and each once"),
        ('shifts = ["06:00", "06:00"]', "in order and each once"),
        ('shifts = ["24:00"]', "wrong value for shifts"),
        ('theme = "drak"', "line 1: unknown theme 'drak'; nearest: 'dark'"),
        ("knowledge = [", "config.toml: not TOML: "),
        ('theme = "light"\ntheme = "light"', "config.toml: not TOML: Cannot overwrite a value (at "),
        ("a = " + "[" * 20_000, "config.toml: n"),
        ("x" * 100_001, "the config file is larger than 100,000 bytes"),
    ],
)
def test_whatever_is_wrong_is_one_line(config: Path, text: str, says: str) -> None:
    config.write_text(text, encoding="utf-8")
    for args in (["vet"], ["cases"], ["rank", "tray-stacker"]):
        result = run(*args)
        assert (result.exit_code, result.stdout) == (2, ""), result.output
        assert says in result.stderr
        assert result.stderr.count("\n") == 1
        assert "\x1b" not in result.stderr


def test_a_file_that_cannot_be_one_is_one_line(config: Path) -> None:
    assert "there is no config file of this name (see DIAG_CONFIG)" in run("cases").stderr
    config.write_bytes(b"\xff\xfe\x00")
    assert "the config file is not UTF-8" in run("cases").stderr
    config.unlink()
    config.mkdir()
    assert "not an ordinary file" in run("cases").stderr
    config.rmdir()
    config.symlink_to(config.name)
    assert "cannot be read" in run("cases").stderr
    config.unlink()
    if hasattr(os, "mkfifo"):
        os.mkfifo(config)
        result = run("cases")
        assert result.exit_code == 2
        assert "not an ordinary file" in result.stderr


def test_what_needs_none_of_it_works_with_a_broken_one(config: Path) -> None:
    config.write_text("knowledge = [", encoding="utf-8")
    assert run("--help").exit_code == 0
    assert run("schema", "--section", "panel").exit_code == 0


def test_several_folders_stand_side_by_side_and_the_shipped_one_behind_them(config: Path) -> None:
    config.write_text(f"knowledge = [{json.dumps(str(MACHINES))}, {json.dumps(str(KINDS))}]", encoding="utf-8")
    for machine in ("mixer", "bench", "tray-stacker"):
        assert run("rank", machine, "--json").exit_code == 0
    assert Settings().knowledge == (MACHINES, KINDS, shipped_folder())
    assert run("--no-shipped", "rank", "tray-stacker").exit_code == 2


def test_a_folder_that_is_away_is_told_when_a_machine_is_missed(config: Path, tmp_path: Path) -> None:
    config.write_text('knowledge = ["share/machines"]', encoding="utf-8")
    assert run("rank", "tray-stacker").exit_code == 0
    result = run("rank", "press")
    assert result.exit_code == 2
    assert f"; not there: the folder {tmp_path / 'share' / 'machines'}" in result.stderr


def test_the_command_line_goes_before_the_file(config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    config.write_text(f"knowledge = [{json.dumps(str(KINDS))}]\nshipped = false\ncasebook = 'a'", encoding="utf-8")
    assert Settings().knowledge == (KINDS,)
    assert Settings().casebook == tmp_path / "a"
    given = Settings((MACHINES,), tmp_path / "b", True)
    assert given.knowledge == (MACHINES, KINDS, shipped_folder())
    assert given.casebook == tmp_path / "b"
    assert run("rank", "tray-stacker").exit_code == 2
    assert run("--shipped", "rank", "tray-stacker").exit_code == 0
    monkeypatch.setenv("DIAG_SHIPPED", "1")
    assert run("rank", "tray-stacker").exit_code == 0
    assert run("--no-shipped", "rank", "tray-stacker").exit_code == 2
    monkeypatch.setenv("DIAG_SHIPPED", "perhaps")
    assert "DIAG_SHIPPED" in run("rank", "tray-stacker").stderr


def test_the_variable_may_name_several_folders(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    config.write_text("", encoding="utf-8")
    monkeypatch.setenv("DIAG_KNOWLEDGE", f"{MACHINES}{os.pathsep}{KINDS}")
    assert run("rank", "mixer").exit_code == 0
    assert run("rank", "bench").exit_code == 0
    assert run("rank", "tray-stacker").exit_code == 0


def test_a_new_machine_goes_into_the_first_folder_of_the_file(config: Path, tmp_path: Path) -> None:
    (tmp_path / "lines").mkdir()
    config.write_text('knowledge = ["lines"]', encoding="utf-8")
    result = run("new", "press")
    assert result.exit_code == 0
    assert (tmp_path / "lines" / "press" / "machine.yaml").exists()
    assert result.stdout.rstrip().endswith("At any time: diag vet press")
    finish(tmp_path / "lines" / "press")
    assert run("vet", "press").exit_code == 0


def test_reading_by_name_raises_what_the_command_tells(config: Path) -> None:
    config.write_text("thema = 1", encoding="utf-8")
    with pytest.raises(WrongUsage, match="nearest: 'theme'"):
        read_config()


@pytest.mark.parametrize("digits", ["1" * 10_000, "1_" * 5_000 + "1"])
def test_a_number_without_end_is_a_wrong_value_with_its_line(config: Path, digits: str) -> None:
    config.write_text(f'theme = "dark"\nshipped = {digits}\n', encoding="utf-8")
    result = run("list")
    assert result.exit_code == 2
    assert "line 2: wrong value for shipped" in result.stderr
    assert "fault" not in result.stderr
    assert "line 2: wrong value for shipped" in run("doctor", "--json").stdout


def test_an_empty_word_is_no_casebook_and_an_empty_variable_is_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    for command in ("cases", "doctor"):
        result = run("--casebook", "", command)
        assert (result.exit_code, result.stdout) == (2, "")
        assert result.stderr == "diag: --casebook needs the name of a file\n"
    assert run("--knowledge", "", "list").stderr == "diag: --knowledge needs the name of a folder\n"
    for empty in ("", " "):
        monkeypatch.setenv("DIAG_CASEBOOK", empty)
        assert run("cases").exit_code == 0
        assert json.loads(run("doctor", "--json").stdout)["casebook"]["said_in"] == "this user's own"
