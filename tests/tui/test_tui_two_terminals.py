"""Two processes in two terminals of their own, on one casebook: what happens between a paint and a key."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from terminal import Terminal

from diag.case.log.events import Gate, Stamped
from diag.case.log.stored import cases_in, entries_of
from diag.record.casebook import Casebook

ROOT = Path(__file__).resolve().parents[2]
LONG = 60.0
"""Seconds that a busy machine may take to paint anything."""
READ = 1.5
"""Seconds after which whoever sits there has read what is asked, and no key counts as too quick."""


class Plant:
    """Terminals at one machine, and what the casebook keeps of it."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self.book, self._stack = folder / "book.sqlite3", stack
        self._env = {"PYTHONPATH": str(ROOT), "HOME": str(folder), "XDG_STATE_HOME": str(folder), "LC_ALL": "C.UTF-8"}
        with Casebook(self.book):
            pass

    def sits_down(self, name: str, *answer: str) -> Terminal:
        """An electrician at the mixer; `answer`: the keys to the question about an open case."""
        command = [sys.executable, "-m", "diag", "--no-shipped", "--knowledge", str(ROOT / "tests" / "machines")]
        command += ["--casebook", str(self.book), "start", "mixer"]
        at = self._stack.enter_context(Terminal(command, env=self._env, cwd=ROOT))
        at.wait_for("WHO IS AT THE MACHINE", LONG)
        at.quiet(0.5)
        for keys in (name, "\r", "2", "a", "l", "\r", *answer):
            at.press(keys)
            at.quiet(0.4)
        at.wait_for(f"{name} · electrician", LONG)
        at.quiet(READ)
        return at

    @property
    def case(self) -> str:
        with Casebook(self.book, only_read=True) as book:
            return cases_in(book)[-1].id

    def gates(self, name: str) -> list[Gate]:
        """What this person has confirmed at a gate."""
        with Casebook(self.book, only_read=True) as book:
            entries = [e for line in cases_in(book) for e in entries_of(book, line.id)]
        return [e.event for e in entries if isinstance(e, Stamped) and e.by == name and isinstance(e.event, Gate)]


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Plant]:
    with ExitStack() as stack:
        yield Plant(tmp_path, stack)


def press(at: Terminal, *keys: str) -> None:
    for key in keys:
        at.press(key)
        at.quiet(READ)


def test_what_one_enters_stands_at_the_other(plant: Plant) -> None:
    ada = plant.sits_down("Ada")
    eva = plant.sits_down("Eva", "1")
    seen = len(ada.painted)
    press(eva, "1")
    ada.wait_for("Eva: SUPPLY", LONG, after=seen)


def test_a_key_that_came_before_the_paint_of_a_change_confirms_nothing(plant: Plant) -> None:
    """Ada's program stands still while Eva takes the step that both are shown; Ada's key waits in her terminal."""
    ada = plant.sits_down("Ada")
    eva = plant.sits_down("Eva", "1")
    press(ada, "g", "\r")
    assert len(plant.gates("Ada")) == 1
    press(eva, "g")
    os.kill(ada.process.pid, signal.SIGSTOP)
    press(eva, "\r")
    assert len(plant.gates("Eva")) == 1
    ada.press("\r")
    before, seen = plant.gates("Ada"), len(ada.painted)
    os.kill(ada.process.pid, signal.SIGCONT)
    ada.wait_for("Eva", LONG, after=seen)
    ada.quiet(READ)
    assert plant.gates("Ada") == before, "a step that nobody saw was confirmed"


def test_power_that_comes_back_in_a_second_case_is_no_longer_dead_here(plant: Plant) -> None:
    """A terminal killed with locks on leaves them; another one, in another case, shows them and never ENERGISED."""
    ada = plant.sits_down("Ada")
    press(ada, "g", *["\r"] * 4)
    with Casebook(plant.book, only_read=True) as book:
        locked = bool(cases_in(book)[0].locks)
    os.killpg(ada.process.pid, signal.SIGKILL)
    bo = plant.sits_down("Bo", "2")
    assert locked
    assert "ENERGISED" not in bo.painted[bo.painted.rindex("Bo · electrician") :]
