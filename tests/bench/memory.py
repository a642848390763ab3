"""How much memory a session of the app takes at its peak, its advice computed and a few facts marked.

The peak resident set of the whole process, in a terminal of 80 by 24. Peer: a bare app of three panes, with the same
libraries imported.
"""

from __future__ import annotations

import tempfile

from pairs import Pair, arguments, report
from sitting import Bare, Sitting


def app() -> float:
    """Peak megabytes of a session with some facts marked and taken back, and the advice shown after each."""
    with tempfile.TemporaryDirectory() as folder, Sitting(folder) as sitting:
        for key in "11u1u1":
            sitting.key(key, "%")
        return sitting.leave()


def bare() -> float:
    with Bare("--with-libraries") as terminal:
        for key in "11u1u1":
            terminal.key(key, "pressed")
        return terminal.leave()


def main() -> None:
    asked = arguments(__doc__, runs=5)
    peer = "bare app of three panes, the same libraries imported"
    report([Pair("peak memory of a session of the app", app, peer, bare, "MB", 120.0)], asked.runs)


if __name__ == "__main__":
    main()
