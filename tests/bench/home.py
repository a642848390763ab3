"""The first screen over 500 approved machines: when their names stand there, and when the words of those in sight do.

Each is a whole process in a terminal of 80 by 24, from the moment it is spawned: until the first name is painted, and
until no row in sight says any more that it was not read yet. Peers: a process that only lists the same folder, by the
room that the screen uses, and the bare app of three panes. `--machine` names the folder that is copied 500 times, by
default the small machine of the tests; `--machine knowledge/kiln-transfer` takes one that ships.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pairs import ROOT, Pair, arguments, report
from terminal import Terminal

MACHINES = 500
NOT_READ, READ = "not read yet", " approved"
"""Beside a machine, before and after its approval was looked at."""
IN_SIGHT = 12
"""Rows of the list in a terminal of 80 by 24, or a few less."""
NAMES, WORDS = 0.5, 0.8
"""Seconds that the project promises."""
APPROVE = ("approve", "m000", "--by", "maintenance training", "--on", "2026-11-24")


def plant(folder: Path, machine: Path) -> None:
    """The machine under 500 names, each approved as it stands."""
    first = folder / "m000"
    shutil.copytree(machine, first)
    if (machine.parent / "modules").is_dir():
        shutil.copytree(machine.parent / "modules", folder / "modules")
    call = [sys.executable, "-m", "diag", "--knowledge", str(folder), *APPROVE]
    subprocess.run(call, check=True, stdout=subprocess.DEVNULL, cwd=ROOT)
    for n in range(1, MACHINES):
        shutil.copytree(first, folder / f"m{n:03}")


def listed(folder: Path) -> float:
    """Seconds of a process that lists the folder and ends."""
    code = "import sys, pathlib, diag.machine.find as f; print(len(f.listing(pathlib.Path(sys.argv[1]))))"
    call = [sys.executable, "-c", code, str(folder)]
    start = time.perf_counter()
    done = subprocess.run(call, check=True, capture_output=True, text=True, cwd=ROOT)
    taken = time.perf_counter() - start
    assert int(done.stdout) == MACHINES
    return taken


def painted(folder: Path, words: bool) -> float:
    """Seconds until the names stand there, or until the words beside all of them in sight do."""
    with Terminal([sys.executable, "-m", "diag", "--knowledge", str(folder), "--no-shipped"], cwd=ROOT) as terminal:
        at = terminal.wait_for(NOT_READ, 30.0)
        while words and terminal.painted.rpartition(NOT_READ)[2].count(READ) < IN_SIGHT:
            at = terminal.wait_for(READ, 30.0, after=len(terminal.painted))
        return at - terminal.started


def bare() -> float:
    """Seconds until the bare app is painted."""
    with Terminal([sys.executable, str(ROOT / "tests" / "bench" / "bare_app.py")], cwd=ROOT) as terminal:
        return terminal.wait_for("bare app", 30.0) - terminal.started


def main() -> None:
    asked = arguments(__doc__, runs=10, machine=ROOT / "tests" / "machines" / "mixer")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        plant(folder, asked.machine)
        lists = "a process that lists the folder"
        pairs = [
            Pair("names", lambda: painted(folder, False), lists, lambda: listed(folder), limit=NAMES),
            Pair("words in sight", lambda: painted(folder, True), lists, lambda: listed(folder), limit=WORDS),
            Pair("words in sight", lambda: painted(folder, True), "bare app of three panes", bare, limit=WORDS),
        ]
        report(pairs, asked.runs)


if __name__ == "__main__":
    main()
