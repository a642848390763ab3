"""What a command may load. Each is asked in a fresh interpreter."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

LIST = "import sys; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
RUN = "import sys; from diag.cli import main; sys.argv[1:] = {args!r}\ntry: main()\nexcept SystemExit: pass\nprint()\n"


def loaded(code: str, tmp_path: Path) -> set[str]:
    """The top-level modules loaded after this code."""
    done = subprocess.run(
        [sys.executable, "-c", code + LIST],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        timeout=600,
        env={"DIAG_CASEBOOK": str(tmp_path / "book.sqlite3"), "PATH": "", "PYTHONPATH": str(ROOT)},
    )
    return set(done.stdout.splitlines()[-1].split())


HEAVY = {"textual", "rich", "numpy", "pydantic", "yaml", "rapidfuzz", "sqlite3"}


@pytest.mark.parametrize(
    "args",
    [
        ["--help"],
        ["rank", "--help"],
        ["try", "--help"],
        ["start", "--help"],
        ["measure", "taps", "--help"],
        ["new", "--help"],
        ["list", "--help"],
        ["show", "--help"],
        ["doctor", "--help"],
        ["help", "--help"],
        ["completion", "bash"],
        ["man"],
    ],
)
def test_help_loads_next_to_nothing(args: list[str], tmp_path: Path) -> None:
    assert not HEAVY & loaded(RUN.format(args=args), tmp_path)


@pytest.mark.parametrize("args", [["rank", "tray-stacker", "supply-lamp=dark"], ["vet", "tray-stacker"], ["cases"]])
def test_commands_load_without_textual(args: list[str], tmp_path: Path) -> None:
    assert not {"textual", "rich"} & loaded(RUN.format(args=args), tmp_path)


@pytest.mark.parametrize(
    "args",
    [["cases"], ["vet", "--rules"], ["schema"], ["--knowledge", "tests/machines", "measure", "codes", "mixer"]],
)
def test_what_computes_nothing_loads_no_numpy(args: list[str], tmp_path: Path) -> None:
    assert "numpy" not in loaded(RUN.format(args=args), tmp_path)


@pytest.mark.parametrize("args", [["measure", "taps", "--runs", "1"], ["measure", "readings"]])
def test_what_knows_no_machine_loads_next_to_nothing(args: list[str], tmp_path: Path) -> None:
    assert not HEAVY & loaded(RUN.format(args=args), tmp_path)


def test_rooms_below_the_screens_load_without_textual(tmp_path: Path) -> None:
    rooms = sorted(
        folder.parent.name for folder in (ROOT / "diag").glob("*/__init__.py") if folder.parent.name != "tui"
    )
    modules = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for room in rooms
        for path in sorted((ROOT / "diag" / room).rglob("*.py"))
        if path.stem != "__init__"
    ]
    assert len(modules) > 150
    assert not {"textual", "rich"} & loaded("".join(f"import {module}\n" for module in modules), tmp_path)


def test_the_app_loads_without_numpy_until_advice_is_wanted(tmp_path: Path) -> None:
    """The first screen is painted from what loads here."""
    assert not {"numpy", "sqlite3"} & loaded("import diag.tui.app\n", tmp_path)
