"""How soon one terminal shows what another one enters: from the moment when it is stored to the painted screen.

The app runs in a terminal of its own on a machine with an open case; this process enters facts in that case, by turns,
through the same door, as a colleague at another terminal would. Peer: the same wait when nothing is polled, that is the
time which the app takes from a key of its own to the paint.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from itertools import cycle
from pathlib import Path

from pairs import ROOT, Pair, arguments, report
from record.server import Server, available
from sitting import WHO
from terminal import Terminal

NAME = "Colleague"
LONG = 30.0


def main() -> None:
    runs = arguments(__doc__, runs=100).runs
    with tempfile.TemporaryDirectory() as folder:
        print("SQLite:")
        follow(runs, folder, Path(folder) / "book.sqlite3")
    if available():
        with tempfile.TemporaryDirectory() as folder, Server() as server:
            print("PostgreSQL:")
            follow(runs, folder, server.address())


def follow(runs: int, folder: str, place: Path | str) -> None:
    """On a casebook in this place, which is made; `folder` is for what the app remembers."""
    from diag.case.case import Case
    from diag.machine.load import read
    from diag.machine.model import Role
    from diag.record.casebook import Casebook
    from diag.safety import Person

    machine = read(ROOT / "knowledge" / "tray-stacker", examples=False)
    with Casebook(place) as book:
        case = Case.open(machine, Person("First", Role.OPERATOR), book=book)
        lamp = next(i for i in machine.indications.values() if i.kind == "lamp")
        states = cycle(lamp.state_ids[:2])
        command = [
            sys.executable,
            "-m",
            "diag",
            "--casebook",
            str(place),
            "start",
            "tray-stacker",
            "--case",
            case.id,
        ]
        env = {"PYTHONPATH": str(ROOT), "XDG_STATE_HOME": folder}
        with Terminal(command, env=env, cwd=ROOT) as screen:
            screen.wait_for("WHO IS AT THE MACHINE", LONG)
            screen.quiet(0.5)
            for keys in WHO:
                screen.press(keys)
                screen.quiet(0.4)
            screen.quiet(2.0)
            here = Case.resume(case.id, machine, Person(NAME, Role.OPERATOR), book=book)

            taken: list[float] = []

            def ours() -> float:
                screen.quiet(0.5)
                seen = len(screen.painted)
                here.say(lamp.id, next(states))
                stored = time.perf_counter()
                taken.append((screen.wait_for(f"{NAME}:", LONG, after=seen) - stored) * 1000)
                return taken[-1]

            turns = cycle("1u")

            def peer() -> float:
                screen.quiet(0.5)
                seen = len(screen.painted)
                pressed = screen.press(next(turns))
                return (screen.wait_for("✓", LONG, after=seen) - pressed) * 1000

            report([Pair("an entry of another terminal, painted", ours, "a key of its own, painted", peer, "ms")], runs)
            late = sorted(taken)
            within, load = late[int(len(late) * 0.95) - 1], " ".join(f"{one:.1f}" for one in os.getloadavg())
            print(f"    95 of 100 within {within:.0f} ms, the slowest {late[-1]:.0f} ms; load {load}")


if __name__ == "__main__":
    main()
