"""`diag doctor`, `diag help`, `diag completion` and `diag man`."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from terminal import Terminal

from diag import pages
from diag.case.case import Case
from diag.cli.config import KEYS
from diag.cli.group import COMMANDS, ENVIRONMENT, diag
from diag.cli.program.completion import SHELLS, VARIABLE
from diag.machine.find import shipped_folder
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety.types import Person

ROOT = Path(__file__).resolve().parents[2]
MACHINES = ROOT / "tests" / "machines"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home of its own, so that nothing of this user's is looked at or written."""
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(tmp_path))
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "DIAG_CONFIG", "XDG_DOCUMENTS_DIR"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


def run(*args: str) -> Result:
    return CliRunner().invoke(diag, args)


def doctor(*before: str) -> tuple[int, dict[str, object]]:
    result = run(*before, "doctor", "--json")
    assert result.stderr == ""
    return result.exit_code, json.loads(result.stdout)


# ------------------------------------------------------------ doctor


def test_a_sound_set_up_has_nothing_wrong_and_looking_makes_nothing(home: Path) -> None:
    code, found = doctor()
    assert (code, found["version"], found["wrong"]) == (0, 1, [])
    assert list(home.iterdir()) == []
    (shipped,) = found["knowledge"]  # type: ignore[misc]
    machines = len(list(shipped_folder().glob("*/machine.yaml")))
    assert shipped == {
        "folder": str(shipped_folder()),
        "said_in": "comes with diag",
        "machines": machines,
        "with_errors": [],
    }
    assert found["casebook"]["found"] is False  # type: ignore[index]
    assert all(found["packages"].values())  # type: ignore[attr-defined]
    text = run("doctor").stdout
    assert "Nothing is wrong." in text
    assert f"{machines} machines" in text


def test_it_says_who_said_what(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    config = home / "c.toml"
    (home / "lines").mkdir()
    config.write_text('knowledge = ["lines"]\ncasebook = "b.sqlite3"\nsheets = "out"\nshifts = ["06:00"]\n')
    monkeypatch.setenv("DIAG_CONFIG", str(config))
    code, found = doctor("--knowledge", str(MACHINES))
    assert code == 0
    assert found["config"] == {
        "file": str(config),
        "found": True,
        "read": True,
        "shifts": ["06:00"],
        "theme": "dark",
    }
    folders = [(Path(f["folder"]), f["said_in"], f["machines"]) for f in found["knowledge"]]  # type: ignore[attr-defined]
    assert folders[:2] == [(MACHINES, "the command line", 1), (home / "lines", "the config file", 0)]
    assert (found["casebook"]["said_in"], found["sheets"]["said_in"]) == ("the config file", "the config file")  # type: ignore[index]
    monkeypatch.setenv("DIAG_KNOWLEDGE", str(MACHINES))
    monkeypatch.setenv("DIAG_CASEBOOK", str(home / "x.sqlite3"))
    _, found = doctor()
    assert found["knowledge"][0]["said_in"] == "DIAG_KNOWLEDGE"  # type: ignore[index]
    assert found["casebook"]["said_in"] == "DIAG_CASEBOOK"  # type: ignore[index]


def test_each_thing_that_is_wrong_is_told_and_the_rest_is_looked_at(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = home / "site"
    (site / "press").mkdir(parents=True)
    (site / "press" / "machine.yaml").write_text("title: Press\nnonsense: 1\n")
    config = home / "c.toml"
    config.write_text("knowledge = 5\n")
    (home / "notes").write_text("not a casebook " * 100)
    monkeypatch.setenv("DIAG_CONFIG", str(config))
    code, found = doctor("--knowledge", str(site), "--casebook", str(home / "notes"))
    assert code == 1
    text = "\n".join(found["wrong"])  # type: ignore[arg-type]
    assert "c.toml, line 1: wrong value for knowledge, which takes folders of machines" in text
    assert f"press in {site} cannot be used: diag vet press tells why" in text
    assert f"the casebook {home / 'notes'} cannot be read" in text
    assert len(found["wrong"]) == 3  # type: ignore[arg-type]
    result = run("--knowledge", str(site), "--casebook", str(home / "notes"), "doctor")
    assert result.exit_code == 1
    assert result.stdout.count("WRONG:") == 3
    assert result.stdout.rstrip().endswith("Wrong: 3")


def test_a_theme_that_there_is_not_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAG_THEME", "drak")
    code, found = doctor()
    assert (code, found["wrong"]) == (1, ["DIAG_THEME: unknown theme 'drak'; nearest: 'dark'"])


def test_a_folder_that_is_gone_is_wrong(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    config = home / "c.toml"
    config.write_text('knowledge = ["gone"]\ncasebook = "nowhere/b.sqlite3"\nsheets = "c.toml"\n')
    monkeypatch.setenv("DIAG_CONFIG", str(config))
    code, found = doctor()
    assert code == 1
    gone, book, sheets = found["wrong"]  # type: ignore[misc]
    assert f"{home / 'gone'} is not a folder; the config file names it" in gone
    assert "there is no folder" in book
    assert "is not a folder, so no sheet can be written" in sheets


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="this user may read everything")
def test_a_folder_that_may_not_be_read_is_wrong(home: Path) -> None:
    (home / "shut").mkdir(mode=0o000)
    try:
        code, found = doctor("--knowledge", str(home / "shut"))
    finally:
        (home / "shut").chmod(0o700)
    assert code == 1
    assert "may not be read" in found["wrong"][0]  # type: ignore[index]


def test_the_casebook_is_told_with_its_size_and_who_may_open_it(home: Path, mixer: Machine) -> None:
    path = home / "book.sqlite3"
    book = Casebook(path)
    Case.open(mixer, Person("Jo Weber", Role.OPERATOR), book=book)
    book.close()
    path.chmod(0o644)
    _, found = doctor("--casebook", str(path))
    told = found["casebook"]
    assert isinstance(told, dict)
    assert (told["reads"], told["writes"], told["cases"]) == (True, True, 1)
    assert told["bytes"] == path.stat().st_size
    if os.name == "posix":
        assert told["mode"] == "0644"
        assert "names of persons" in told["others"]
    path.chmod(0o600)
    assert "others" not in doctor("--casebook", str(path))[1]["casebook"]  # type: ignore[operator]
    assert "Weber" not in run("--casebook", str(path), "doctor").stdout


def test_a_machine_that_is_in_two_folders_is_wrong_and_both_are_told(home: Path) -> None:
    shutil.copytree(MACHINES / "mixer", home / "other" / "mixer")
    code, found = doctor("--knowledge", str(MACHINES), "--knowledge", str(home / "other"))
    assert code == 1
    assert f"machines/mixer' and '{home / 'other' / 'mixer'}'" in found["wrong"][0]  # type: ignore[index]
    (hidden,) = found["hidden"]  # type: ignore[misc]
    assert hidden == {
        "machine": "mixer",
        "read": str(MACHINES / "mixer"),
        "hidden": [str(home / "other" / "mixer")],
    }


# ------------------------------------------------------------ help


def test_every_page_is_listed_and_shown_as_it_is() -> None:
    listed = run("help").stdout
    for name, title in pages.topics():
        assert name in listed
        assert title in listed
        result = run("help", name)
        assert result.exit_code == 0
        assert result.stdout.split() == pages.page(name).split()
        found = json.loads(run("help", name, "--json").stdout)
        assert (found["version"], found["topic"], found["text"]) == (1, name, pages.page(name))
    assert [t["topic"] for t in json.loads(run("help", "--json").stdout)["topics"]] == [n for n, _ in pages.topics()]


def test_the_name_of_a_command_shows_its_own_help() -> None:
    for name in COMMANDS:
        if name not in dict(pages.topics()):
            assert run("help", name).stdout == run(name, "--help").stdout


@pytest.mark.parametrize("topic", ["trainr", "../pages/trainer", "a\x1b[31m\nb", "", "__init__"])
def test_an_unknown_topic_is_one_line(topic: str) -> None:
    result = run("help", topic)
    assert result.exit_code == 2
    assert "unknown topic" in result.stderr
    assert result.stderr.count("\n") == 1
    assert "\x1b" not in result.stderr


def test_an_unknown_topic_is_told_with_the_nearest_or_with_all_topics() -> None:
    assert "unknown topic 'trainr'; nearest: 'trainer'" in run("help", "trainr").stderr
    assert "unknown topic 'handovr'; nearest: 'handover'" in run("help", "handovr").stderr
    assert f"known: {', '.join(name for name, _ in pages.topics())}" in run("help", "zzzzzz").stderr


@pytest.mark.parametrize("more", [{}, {"NO_COLOR": "1"}])
def test_on_a_terminal_a_page_is_set_for_reading(more: dict[str, str]) -> None:
    with Terminal([sys.executable, "-m", "diag", "help", "trainer"], env=more, cwd=ROOT) as terminal:
        assert terminal.ended(30.0) == 0
        painted, sent = terminal.painted, terminal.sent
    assert "Write your own machine" in painted
    assert "\n# " not in painted
    assert "```" not in painted
    assert bool(re.search(r"\x1b\[[\d;]*3\d", sent)) != bool(more)


@pytest.mark.parametrize(
    ("before", "env", "styled"),
    [
        ([], {}, True),
        ([], {"NO_COLOR": "1"}, False),
        ([], {"NO_COLOR": ""}, True),
        ([], {"TERM": "dumb"}, False),
        (["--color", "never"], {}, False),
        (["--color", "always"], {"NO_COLOR": "1"}, True),
    ],
)
def test_headings_stand_out_on_a_terminal_unless_told_otherwise(
    before: list[str], env: dict[str, str], styled: bool
) -> None:
    with Terminal([sys.executable, "-m", "diag", *before, "rank", "pump-set"], env=env, cwd=ROOT) as terminal:
        assert terminal.ended(30.0) == 0
        assert ("\x1b[" in terminal.sent) == styled


def test_no_colour_goes_into_a_pipe_unless_it_is_asked_for() -> None:
    assert "\x1b" not in run("rank", "pump-set").stdout
    assert "\x1b[1mLikely causes\x1b[0m" in run("--color", "always", "rank", "pump-set").stdout


def test_text_wraps_at_the_width_of_the_terminal() -> None:
    for columns in (60, 130):
        command = [sys.executable, "-m", "diag", "rank", "tray-stacker", "supply-lamp=dark"]
        with Terminal(command, columns=columns, env={"COLUMNS": ""}, cwd=ROOT) as terminal:
            assert terminal.ended(30.0) == 0
            widest = max(len(line) for line in terminal.painted.splitlines())
        assert columns - 15 <= widest <= columns


# ------------------------------------------------------------ completion


def completed(*words: str, before: tuple[str, ...] = (), env: dict[str, str] | None = None) -> list[str]:
    """What bash would be told for these words, the last of which is being typed."""
    all_words = ["diag", *before, *words]
    asked = {"COMP_WORDS": "\n".join(all_words), "COMP_CWORD": str(len(all_words) - 1), VARIABLE: "bash_complete"}
    env = {**os.environ, **asked, **(env or {})}
    done = subprocess.run([sys.executable, "-m", "diag"], cwd=ROOT, env=env, capture_output=True, text=True)
    assert done.stderr == ""
    return [line.partition(",")[2] for line in done.stdout.splitlines() if line]


def test_commands_machines_facts_and_roles_are_completed(mixer: Machine) -> None:
    ours = ("--no-shipped", "--knowledge", str(MACHINES))
    assert completed("ra") == ["rank"]
    assert set(completed("")) == set(COMMANDS)
    assert completed("rank", "mi", before=ours) == ["mixer"]
    assert completed("rank", "mixer", "", before=ours) == [f"{id}=" for id in mixer.indications]
    states = [s.id for s in mixer.indications["supply-lamp"].states]
    # Some shells part a word at the "=", some do not.
    assert completed("rank", "mixer", "supply-lamp=", before=ours) == [f"supply-lamp={s}" for s in states]
    assert completed("rank", "mixer", "supply-lamp", "=", before=ours) == states
    assert completed("rank", "mixer", "supply-lamp", "=", "da", before=ours) == ["dark"]
    assert completed("rank", "mixer", "supply-lamp", "=", "dark", "ready", before=ours) == ["ready-lamp="]
    assert completed("rank", "mixer", "--role", "e", before=ours) == ["electrician", "engineer"]
    assert completed("show", "mixer", "supply-u", before=ours) == ["supply-unit-failed"]
    assert "dc-supply" in completed("show", "dc", before=ours)
    assert completed("list", "ca") == ["causes"]
    # Behind the machine stands the word itself, with which the shell goes on as a path.
    for command in ("vet", "try", "approve"):
        assert completed(command, "mi", before=ours) == ["mixer", "mi"]
    assert completed("measure", "codes", "mi", before=ours) == ["mixer"]
    assert set(completed("help", "")) == {name for name, _ in pages.topics()}


def test_cases_are_completed_and_those_of_the_machine_alone_where_it_is_named(home: Path, mixer: Machine) -> None:
    path = home / "book.sqlite3"
    book = Casebook(path)
    case = Case.open(mixer, Person("Jo", Role.OPERATOR), book=book)
    book.close()
    ours = ("--casebook", str(path))
    assert completed("handover", "", before=ours) == [case.id]
    assert completed("start", "mixer", "--case", "", before=ours) == [case.id]
    assert completed("start", "tray-stacker", "--case", "", before=ours) == []


def test_what_is_broken_completes_nothing_and_says_nothing(home: Path) -> None:
    (home / "notes").write_text("no casebook " * 100)
    assert completed("handover", "", before=("--casebook", str(home / "notes"))) == []
    assert completed("rank", "no-such", "") == []
    assert completed("no-such", "x") == []
    (home / "c.toml").write_text("[")
    assert completed("rank", "", env={"DIAG_CONFIG": str(home / "c.toml")}) == []
    (home / "a\nb").mkdir()
    (home / "a\nb" / "machine.yaml").write_text("title: T\n")
    assert completed("rank", "a", before=("--no-shipped", "--knowledge", str(home))) == []


@pytest.mark.parametrize("shell", SHELLS)
def test_the_script_is_printed_or_written_where_it_is_told(home: Path, shell: str) -> None:
    printed = run("completion", shell).stdout
    assert VARIABLE in printed
    result = run("completion", shell, "--install")
    assert result.exit_code == 0
    where = Path(result.stdout.splitlines()[0].removeprefix("written to "))
    assert home in where.parents
    assert where.read_text(encoding="utf-8") == printed
    assert run("completion", shell, "--install").exit_code == 0
    where.write_text("mine")
    refused = run("completion", shell, "--install")
    assert refused.exit_code == 2
    assert "is there already" in refused.stderr
    assert where.read_text() == "mine"


def test_the_shell_left_out_is_the_user_s(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHELL", "/bin/fish")
    assert run("completion").stdout == run("completion", "fish").stdout
    monkeypatch.delenv("SHELL")
    assert "which shell? bash, zsh, fish" in run("completion").stderr
    assert "unknown shell 'csh'" in run("completion", "csh").stderr


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash")
def test_bash_completes_with_it() -> None:
    """The script in a real bash, with the words as bash parts them."""
    script = f"""
diag() {{ {sys.executable} -m diag "$@"; }}
env() {{ local words; while [[ $1 == *=* ]]; do words+=("$1"); shift; done; shift
    command env "${{words[@]}}" {sys.executable} -m diag; }}
{run("completion", "bash").stdout}
compopt() {{ echo "compopt $*"; }}
COMP_WORDS=(diag rank pump-set ""); COMP_CWORD=2; COMP_WORDS[2]=pum; _diag_completion diag; echo "${{COMPREPLY[@]}}"
COMP_WORDS=(diag he); COMP_CWORD=1; _diag_completion diag; echo "${{COMPREPLY[@]}}"
"""
    done = subprocess.run(["bash", "--norc", "-c", script], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.stderr == ""
    assert done.stdout.splitlines() == ["pump-set", "help"]


# ------------------------------------------------------------ man


def every_command(ctx: click.Context) -> list[click.Context]:
    """The command and all commands below it."""
    found = [ctx]
    if isinstance(ctx.command, click.Group):
        for name in ctx.command.list_commands(ctx):
            command = ctx.command.get_command(ctx, name)
            assert command is not None
            found += every_command(click.Context(command, info_name=name, parent=ctx))
    return found


def test_the_manual_page_has_every_command_option_variable_and_setting() -> None:
    text = run("man").stdout
    plain = text.replace(r"\-", "-")
    for ctx in every_command(click.Context(diag, info_name="diag")):
        if ctx.parent is not None:
            assert f"\n.SS {ctx.command_path}\n" in plain
        for parameter in ctx.command.get_params(ctx):
            for option in parameter.opts:
                assert not option.startswith("-") or option in plain
    for name in (*ENVIRONMENT, *KEYS):
        assert rf"\fB{name}\fR" in plain
    for line in text.splitlines():
        assert not line.startswith("'")
        assert not line.startswith(".") or line.split()[0] in (".TH", ".SH", ".SS", ".TP", ".PP", ".nf", ".fi")
    assert "\b" not in text


@pytest.mark.skipif(shutil.which("groff") is None, reason="no groff")
def test_the_manual_page_can_be_set() -> None:
    done = subprocess.run(
        ["groff", "-man", "-Tutf8", "-ww", "-P-c"], input=run("man").stdout, capture_output=True, text=True, timeout=60
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "diag rank tray-stacker supply-lamp=dark" in done.stdout


def test_doctor_tells_of_a_folder_and_a_casebook_that_every_other_command_refuses(home: Path) -> None:
    file = home / "file"
    file.touch()
    circle = home / "circle"
    circle.symlink_to(circle)
    for before, told in (
        (("--knowledge", str(file)), f"{file} is not a folder; the command line names it as a folder of machines"),
        (("--knowledge", str(home / "gone")), "gone is not a folder"),
        (("--casebook", str(home)), f"the casebook {home} cannot be read: it is not an ordinary file"),
        (("--casebook", str(circle)), "it is not an ordinary file"),
        (("--casebook", str(home / ("a" * 300))), "cannot be read: File name too long"),
    ):
        code, found = doctor(*before)
        assert code == 1
        assert told in found["wrong"][0]  # type: ignore[index]
        assert run(*before, "list" if before[0] == "--knowledge" else "cases").exit_code != 0


def test_doctor_tells_of_what_may_not_be_read(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, book = home / "machines", home / "book"
    folder.mkdir()
    book.write_text("x")
    allowed = os.access
    shut = (str(folder), str(book))
    monkeypatch.setattr(os, "access", lambda path, *more, **how: str(path) not in shut and allowed(path, *more, **how))
    code, found = doctor("--knowledge", str(folder), "--casebook", str(book))
    assert code == 1
    assert f"{folder} may not be read" in found["wrong"][0]  # type: ignore[index]
    assert any("the casebook" in wrong for wrong in found["wrong"])  # type: ignore[attr-defined]
    assert run("--knowledge", str(folder), "list").exit_code == 2
