"""The trials are loaded by `diag measure` alone."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COMMAND = "diag/cli/measuring/measure.py"


def imported(path: Path) -> set[str]:
    """Every module that a file names in an import, inside functions too."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def test_only_its_command_imports_the_room() -> None:
    outside = [path for path in (ROOT / "diag").rglob("*.py") if path.parent.name != "measure"]
    assert len(outside) > 200
    users = {
        path.relative_to(ROOT).as_posix()
        for path in outside
        if any(name == "diag.measure" or name.startswith("diag.measure.") for name in imported(path))
    }
    assert users == {COMMAND}


def test_no_other_command_and_no_screen_loads_it() -> None:
    code = (
        "import importlib, sys\n"
        "from diag.cli.group import COMMANDS\n"
        "for row in COMMANDS.values(): importlib.import_module(f'diag.cli.{row.module}')\n"
        "import diag.tui.app, diag.vet.run\n"
        "print(sorted(name for name in sys.modules if name.startswith('diag.measure')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]", "the command itself loads it once a measure is called"
