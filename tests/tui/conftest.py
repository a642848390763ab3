"""A stage for the app: a computer of its own, a clock that a test sets, and the screen as plain lines."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from stage import Stage


@pytest.fixture(autouse=True)
def own_computer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """No state of this computer, no colour setting and no time zone of it reaches a test."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("DIAG_CASEBOOK", raising=False)
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    (tmp_path / "desk").mkdir()
    monkeypatch.chdir(tmp_path / "desk")
    yield
    os.environ.pop("TZ", None)
    time.tzset()


@pytest.fixture(autouse=True)
def let_go_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """A letter that could begin a code waits no longer than the pilot."""
    monkeypatch.setattr("diag.tui.screens.case.parts.typed_keys.HOLD", 0.01)


@pytest.fixture
def stage(tmp_path: Path, mixer_folder: Path) -> Stage:
    """The app over the mixer and an empty casebook."""
    return Stage(mixer_folder.parent, tmp_path / "cases.sqlite3")


@pytest.fixture
def stacker(tmp_path: Path) -> Stage:
    """The app over the machines that come with it, and an empty casebook."""
    return Stage(Path(__file__).parents[2] / "knowledge", tmp_path / "cases.sqlite3")


@pytest.fixture
def bench(tmp_path: Path) -> Stage:
    """The app over a machine with one of each kind of entry, and an empty casebook."""
    return Stage(Path(__file__).parents[1] / "kinds", tmp_path / "cases.sqlite3")


@pytest.fixture(autouse=True)
def wait_for_entries(monkeypatch: pytest.MonkeyPatch) -> None:
    """A busy computer is no held casebook: a key waits for its entry as long as that takes."""
    monkeypatch.setattr("diag.tui.storing.MOMENT", 60.0)
