"""How long a person waits: the help, the ranking as one command, the first screen.

Each is a whole process, from the moment it is spawned. Peers: an interpreter that does nothing, one that imports the
same libraries and makes one small pydantic model (which loads the larger half of pydantic), and a bare app of three
panes in the same terminal.

By default all of `diag` is compiled to bytecode first, as an installation leaves it. With `--uncompiled` nothing of
`diag` is: that is what a checkout costs at every start where PYTHONDONTWRITEBYTECODE is set. The first line says which
of the two is measured; the libraries are compiled in both.
"""

from __future__ import annotations

import argparse
import compileall
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pairs import ROOT, Pair, report
from terminal import Terminal

HERE = ROOT / "tests" / "bench"
LIBRARIES = """import click, numpy, pydantic, yaml
class Model(pydantic.BaseModel):
    name: str
    minutes: float = 1.0
Model(name="one")
"""
FIRST_SCREEN = "Tray stacker"
BARE_SCREEN = "bare app"


def process(*command: str) -> float:
    """Seconds that a command takes from spawn to end, which must be a good one."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *command], check=True, stdout=subprocess.DEVNULL, cwd=Path(__file__).parent)
    return time.perf_counter() - start


def painted(text: str, *command: str) -> float:
    """Seconds from spawn until a terminal of 80 by 24 shows the text."""
    with Terminal([sys.executable, *command], cwd=Path(__file__).parent) as terminal:
        return terminal.wait_for(text, 30.0) - terminal.started


def copied(into: Path) -> None:
    """A copy of `diag` without bytecode, to be run in place of the checkout's."""
    shutil.copytree(ROOT / "diag", into / "diag", ignore=shutil.ignore_patterns("__pycache__"))
    (into / "knowledge").symlink_to(ROOT / "knowledge")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=15, help="how often each is measured (default: %(default)s)")
    parser.add_argument("--uncompiled", action="store_true", help="without bytecode of diag")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as room:
        if asked.uncompiled:
            copied(Path(room))
            os.environ |= {"PYTHONPATH": room, "PYTHONDONTWRITEBYTECODE": "1"}
            print("without bytecode of diag: it is compiled anew at each start")
        else:
            compileall.compile_dir(ROOT / "diag", quiet=1)
            os.environ["PYTHONPATH"] = str(ROOT)
            os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
            print("with bytecode of diag, as an installation leaves it")
        measure(asked.runs)


def measure(runs: int) -> None:
    pairs = [
        Pair(
            "diag --help",
            lambda: process("-m", "diag", "--help"),
            "python -c 'import click'",
            lambda: process("-c", "import click"),
        ),
        Pair(
            "diag rank tray-stacker supply-lamp=dark",
            lambda: process("-m", "diag", "rank", "tray-stacker", "supply-lamp=dark"),
            "its libraries (click, numpy, pydantic, yaml) with one model",
            lambda: process("-c", LIBRARIES),
            limit=2.7,
            limit_of_ratio=True,
        ),
        Pair(
            "diag, until the first screen is painted",
            lambda: painted(FIRST_SCREEN, "-m", "diag"),
            "bare app of three panes",
            lambda: painted(BARE_SCREEN, str(HERE / "bare_app.py")),
            limit=1.0,
        ),
        Pair(
            "diag start tray-stacker, until its first screen is painted",
            lambda: painted(FIRST_SCREEN, "-m", "diag", "start", "tray-stacker"),
            "bare app of three panes",
            lambda: painted(BARE_SCREEN, str(HERE / "bare_app.py")),
            limit=1.0,
        ),
    ]
    report(pairs, runs)


if __name__ == "__main__":
    main()
