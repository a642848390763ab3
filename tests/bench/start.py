"""How long a person waits: the help, the ranking as one command, the first screen.

Each is a whole process, from the moment it is spawned. Peers: an interpreter that does nothing, one that imports the
same libraries, and a bare app of three panes in the same terminal.
"""

from __future__ import annotations

import subprocess
import sys
import time

from pairs import ROOT, Pair, arguments, report
from terminal import Terminal

HERE = ROOT / "tests" / "bench"
LIBRARIES = "import click, numpy, pydantic, yaml"
FIRST_SCREEN = "Tray stacker"
BARE_SCREEN = "bare app"


def process(*command: str) -> float:
    """Seconds that a command takes from spawn to end, which must be a good one."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *command], check=True, stdout=subprocess.DEVNULL, cwd=ROOT)
    return time.perf_counter() - start


def painted(text: str, *command: str) -> float:
    """Seconds from spawn until a terminal of 80 by 24 shows the text."""
    with Terminal([sys.executable, *command], cwd=ROOT) as terminal:
        return terminal.wait_for(text, 30.0) - terminal.started


def main() -> None:
    asked = arguments(__doc__, runs=15)
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
            f"python -c '{LIBRARIES}'",
            lambda: process("-c", LIBRARIES),
            limit=0.6,
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
    report(pairs, asked.runs)


if __name__ == "__main__":
    main()
