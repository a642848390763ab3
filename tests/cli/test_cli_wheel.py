"""The wheel carries its machines: an installed diag finds them from any folder."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that holds the package as the wheel does; its dependencies are this environment's."""
    made = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(made)],
        cwd=ROOT,
        check=True,
        capture_output=True,
        timeout=120,
    )
    (wheel,) = made.glob("diag-*.whl")
    with zipfile.ZipFile(wheel) as parts:
        parts.extractall(made / "site")
    return made / "site"


def run(installed: Path, *args: str) -> subprocess.CompletedProcess[str]:
    env = {k: v for k, v in os.environ.items() if not k.startswith("DIAG_")}
    return subprocess.run(
        [sys.executable, "-m", "diag", *args],
        cwd=installed.parent,
        env={**env, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_it_finds_its_machines_from_any_folder(installed: Path) -> None:
    done = run(installed, "rank", "tray-stacker", "supply-lamp=dark", "--json")
    assert done.returncode == 0, done.stderr
    assert '"machine": "tray-stacker"' in done.stdout
    checked = run(installed, "vet", "--json")
    assert checked.returncode == 0, checked.stdout
    shown = run(installed, "rank", "no-such-machine")
    assert "known: chilled-conveyor, kiln-transfer, pump-set, tray-stacker" in shown.stderr


def test_it_holds_every_file_of_the_machines_and_of_the_app(installed: Path) -> None:
    for folder, inside in (
        (ROOT / "knowledge", "knowledge"),
        (ROOT / "diag" / "tui", "tui"),
        (ROOT / "diag" / "skeleton", "skeleton"),
    ):
        for file in folder.rglob("*"):
            if file.is_file() and file.suffix in (".yaml", ".tcss", ".py"):
                assert (installed / "diag" / inside / file.relative_to(folder)).is_file(), file


def test_it_makes_a_new_machine_and_the_schemas_for_it(installed: Path) -> None:
    made = run(installed, "new", "press", "--in", "machines")
    assert made.returncode == 0, made.stderr
    assert run(installed, "vet", "machines/press").stdout == "1 machine: no errors, no other remarks\n"
    assert run(installed, "try", "machines/press").stdout.endswith("3 examples, 0 wrong\n")
    written = run(installed, "schema", "--out", "machines")
    assert written.returncode == 0, written.stderr
    assert (installed.parent / "machines" / "panel.schema.json").is_file()


def test_it_names_what_it_needs_and_where_it_starts(installed: Path) -> None:
    (info,) = installed.glob("diag-*.dist-info")
    assert "diag = diag.cli:main" in (info / "entry_points.txt").read_text()
    needs = [line for line in (info / "METADATA").read_text().splitlines() if line.startswith("Requires-Dist:")]
    own = {re.split(r"[<>=~! ]", line.removeprefix("Requires-Dist: "))[0] for line in needs if "extra ==" not in line}
    assert own == {"click", "numpy", "platformdirs", "pydantic", "pyyaml", "rapidfuzz", "textual"}
