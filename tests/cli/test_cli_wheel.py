"""The wheel carries its machines: an installed diag finds them from any folder."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest
from finish import finish

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
        timeout=600,
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
        timeout=600,
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
        (ROOT / "diag" / "write", "write"),
        (ROOT / "diag" / "pages", "pages"),
    ):
        suffixes = (".yaml", ".tcss", ".py", ".md")
        held = [file for file in folder.rglob("*") if file.is_file() and file.suffix in suffixes]
        assert held, folder
        for file in held:
            assert (installed / "diag" / inside / file.relative_to(folder)).is_file(), file


def test_it_shows_its_pages(installed: Path) -> None:
    show = "from diag import pages; print([title for _, title in pages.topics()], pages.page('trainer'))"
    shown = subprocess.run(
        [sys.executable, "-c", show], cwd=installed.parent, env={"PYTHONPATH": str(installed)}, capture_output=True
    )
    assert b"Write your own machine" in shown.stdout, shown.stderr


def test_it_holds_nothing_else(installed: Path) -> None:
    assert {part.name for part in installed.iterdir()} == {"diag", next(installed.glob("diag-*.dist-info")).name}
    files = [file for file in (installed / "diag").rglob("*") if file.is_file() and "__pycache__" not in file.parts]
    assert {file.suffix for file in files} == {".py", ".yaml", ".tcss", ".md"}


def test_it_makes_a_new_machine_and_the_schemas_for_it(installed: Path) -> None:
    made = run(installed, "new", "press", "--in", "machines")
    assert made.returncode == 0, made.stderr
    finish(installed.parent / "machines" / "press")
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
    assert own == {"click", "numpy", "platformdirs", "pydantic", "pyyaml", "rapidfuzz", "rich", "textual"}
    extras = {line.split("extra == ")[1].strip("'") for line in needs if "extra ==" in line}
    assert extras == {"dev", "crosscheck", "plant"}


def test_the_source_archive_holds_what_is_needed_and_no_more(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", str(tmp_path)],
        cwd=ROOT,
        check=True,
        capture_output=True,
        timeout=600,
    )
    (archive,) = tmp_path.glob("diag-*.tar.gz")
    with tarfile.open(archive) as parts:
        names = [name.split("/", 1)[1] for name in parts.getnames()]
    top = {name.split("/")[0] for name in names}
    # The build adds this file where the tree has one; a tree copied without its history has none.
    assert top - {".gitignore"} == {
        "DEVELOPERS.md",
        "PKG-INFO",
        "README.md",
        "constraints.txt",
        "diag",
        "knowledge",
        "pyproject.toml",
        "tests",
    }
    assert "knowledge/tray-stacker/machine.yaml" in names
    assert "tests/tui/pictures/case.svg" in names
    assert [name for name in names if "__pycache__" in name or "_cache" in name] == []
