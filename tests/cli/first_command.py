"""Runs a command that ends by opening the app, as a person would: waits for the machine on the screen, then quits.

`python3 tests/cli/first_command.py "COMMAND"`; exit code 0 when the app came up and closed in good order.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from terminal import Terminal

MACHINE = "Tray stacker"
INSTALL = 600.0
"""Seconds for everything up to the first screen, packages from a registry included."""
QUIT = "\x11"


def main(command: str) -> int:
    print(command)
    with Terminal(["bash", "-euo", "pipefail", "-c", command]) as terminal:
        moment = terminal.wait_for(MACHINE, INSTALL)
        print(f"the app shows {MACHINE!r} after {moment - terminal.started:.1f} s, set-up included")
        terminal.quiet(1.0)
        terminal.press(QUIT)
        return terminal.ended(20.0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
