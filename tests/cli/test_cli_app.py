"""`diag` and `diag start` in a real terminal: the first screen comes, the keys leave, a fault is one line."""

from __future__ import annotations

import os
import re
import signal
import sys
from pathlib import Path

import pytest
from terminal import Terminal

ROOT = Path(__file__).resolve().parents[2]
QUIT = "\x11"

FAULT = """
import sys
from diag.tui.screens.home import HomeScreen
def compose(self):
    raise RuntimeError("the lamp\\n fell off")
HomeScreen.compose = compose
sys.argv = ["diag"]
from diag.cli import main
main()
"""


@pytest.fixture
def home(tmp_path: Path) -> dict[str, str]:
    """An environment in which everything that is kept for a user lands in a folder of the test."""
    names = ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")
    book = tmp_path / "book.sqlite3"
    book.touch()  # one that is named has to be there
    return {**dict.fromkeys(names, str(tmp_path)), "DIAG_CASEBOOK": str(book)}


@pytest.mark.parametrize("args", [[], ["start", "tray-stacker"]])
@pytest.mark.parametrize("colour", [{}, {"NO_COLOR": "1"}])
def test_the_app_opens_and_closes(args: list[str], colour: dict[str, str], home: dict[str, str]) -> None:
    with Terminal([sys.executable, "-m", "diag", *args], env={**home, **colour}, cwd=ROOT) as terminal:
        terminal.wait_for("Tray stacker", 120)
        terminal.quiet(0.3, 3.0)
        terminal.press(QUIT)
        assert terminal.ended(20.0) == 0
        assert "Traceback" not in terminal.painted


def test_a_fault_of_the_app_is_one_line(home: dict[str, str]) -> None:
    with Terminal([sys.executable, "-c", FAULT], env=home, cwd=ROOT) as terminal:
        assert terminal.ended(30.0) == 1
        assert "diag: a fault in this program: RuntimeError: the lamp fell off" in terminal.painted
        assert "Traceback" not in terminal.painted
        assert "│" not in terminal.painted


def test_a_terminal_that_cannot_show_it_is_told() -> None:
    with Terminal([sys.executable, "-m", "diag"], env={"TERM": "dumb"}, cwd=ROOT) as terminal:
        assert terminal.ended(30.0) == 2
        assert "diag: the app needs a terminal that can show it" in terminal.painted


def test_whoever_leaves_is_told_how_to_go_on(home: dict[str, str]) -> None:
    with Terminal([sys.executable, "-m", "diag", "start", "tray-stacker"], env=home, cwd=ROOT) as terminal:
        terminal.wait_for("Type your name", 120)
        terminal.press("Ole\r")
        terminal.wait_for("Choose your role", 120)
        terminal.press("1\r")
        terminal.wait_for("Mark what the machine shows", 120)
        terminal.press(QUIT)
        assert terminal.ended(20.0) == 0
        assert re.search(
            r"Case (\d{4}-\w+) is still open\. To go on: diag start tray-stacker --case \1", terminal.painted
        )


@pytest.mark.parametrize("term", ["unknown", ""])
def test_a_terminal_of_which_nothing_is_known_is_told_in_one_line(term: str) -> None:
    with Terminal([sys.executable, "-m", "diag"], env={"TERM": term}, cwd=ROOT) as terminal:
        assert terminal.ended(30.0) == 2
        assert terminal.painted.count("\n") == 1


def test_a_theme_that_is_none_is_told_in_one_line(home: dict[str, str]) -> None:
    with Terminal([sys.executable, "-m", "diag"], env={**home, "DIAG_THEME": "lihgt"}, cwd=ROOT) as terminal:
        assert terminal.ended(30.0) == 2
        assert "DIAG_THEME: unknown theme 'lihgt'; nearest: 'light'" in terminal.painted


LEFT_ALTERNATE = "\x1b[?1049l"
"""The terminal shows again what stood there before the app."""
CURSOR_SHOWN = "\x1b[?25h"


def test_whoever_ends_it_from_outside_gets_the_terminal_back(home: dict[str, str]) -> None:
    with Terminal([sys.executable, "-m", "diag"], env=home, cwd=ROOT) as terminal:
        terminal.wait_for("Tray stacker", 120)
        terminal.quiet(0.3, 3.0)
        terminal.process.send_signal(signal.SIGTERM)
        assert terminal.ended(20.0) == 128 + signal.SIGTERM
        assert LEFT_ALTERNATE in terminal.sent
        assert terminal.sent.rindex(CURSOR_SHOWN) > terminal.sent.rindex("Tray stacker")
        assert "Traceback" not in terminal.painted


def test_it_can_be_put_aside_and_goes_on(home: dict[str, str]) -> None:
    with Terminal([sys.executable, "-m", "diag"], env=home, cwd=ROOT) as terminal:
        terminal.wait_for("Tray stacker", 120)
        terminal.quiet(0.3, 3.0)
        terminal.press("\x1a")
        pid, status = os.waitpid(terminal.process.pid, os.WUNTRACED)
        assert pid
        assert os.WIFSTOPPED(status)
        terminal.quiet(0.2, 2.0)
        assert LEFT_ALTERNATE in terminal.sent
        before = len(terminal.painted)
        terminal.process.send_signal(signal.SIGCONT)
        terminal.wait_for("Tray stacker", 120, after=before)
        terminal.press(QUIT)
        assert terminal.ended(20.0) == 0


def test_what_was_entered_stands_in_the_casebook_alone(home: dict[str, str], tmp_path: Path) -> None:
    """Once the app was left no file beside the casebook holds any of it."""
    with Terminal([sys.executable, "-m", "diag", "start", "tray-stacker"], env=home, cwd=ROOT) as terminal:
        terminal.wait_for("Type your name", 120)
        terminal.press("Ole\r")
        terminal.wait_for("Choose your role", 120)
        terminal.press("1\r")
        terminal.wait_for("Mark what the machine shows", 120)
        terminal.press(QUIT)
        assert terminal.ended(20.0) == 0
    assert (tmp_path / "book.sqlite3").stat().st_size > 4096
    assert not [file for file in tmp_path.glob("book.sqlite3-*") if file.stat().st_size]
