"""Kills a case at random moments and looks whether everything that was shown as recorded is there on resume.

    python tests/case/kill.py --times 200

A child process plays a scripted case on the mixer over and over and prints each entry after it was recorded. It is
killed with SIGKILL at a random moment. Then every printed entry must be in the casebook, word for word; the case must
resume, and at most one entry more may be there than was printed: the one that was recorded and not yet shown.
"""

from __future__ import annotations

import argparse
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
MIXER = ROOT / "tests" / "machines" / "mixer"
LONGEST = 0.4
"""Seconds after the first entry within which the kill comes, so that it meets every part of the script."""


def play(path: Path) -> None:
    """The child: cases without end, each entry printed when it is recorded."""
    from case_steps import Ticking

    from diag.case import events as e
    from diag.case.case import Case
    from diag.case.casebook import Casebook
    from diag.machine.load import read
    from diag.machine.model import Role
    from diag.safety import Act, Person

    machine = read(MIXER)
    book = Casebook(path)
    ann = Person("Ann", Role.ELECTRICIAN, authorised=True, qualified=True)

    def shown(case: Case, since: int) -> int:
        for entry in case.entries[since:]:
            assert isinstance(entry, e.Stamped)
            print(case.id, entry.model_dump_json(), flush=True)
        return len(case.entries)

    while True:
        case = Case.open(machine, ann, book=book, clock=Ticking())
        count = shown(case, 0)
        looks = (("supply-lamp", "lit"), ("box-display", "d1"), ("motor-warm", "cool"), ("ready-lamp", "dark"))
        for indication, text in looks:
            case.say(indication, text)
            count = shown(case, count)
        case.undo()
        case.cannot_tell("before-stop")
        case.post(e.Noted(text="Heard a bang; ünïcode — 電"))
        count = shown(case, count)
        while steps := case.state.steps["control-box"]:
            case.post(e.Gate(zone="control-box", act=steps[0].act, target=steps[0].target))
            count = shown(case, count)
        case.say("drive-fuse", "OL", check="test-drive-fuse")
        case.post(e.Remedied(remedy="drive-fuse-blown"))
        count = shown(case, count)
        case.post(e.Gate(zone="control-box", act=Act.BACK))
        count = shown(case, count)
        case.post(e.Closed(outcome="handed-over", to="Bob"))
        count = shown(case, count)


def kill_once(path: Path, rng: random.Random) -> tuple[int, int]:
    """One child on a new casebook: how many entries it showed, how many cases resumed. AssertionError on a loss."""
    child = subprocess.Popen(
        [sys.executable, str(Path(__file__).resolve()), "--play", str(path)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    assert child.stdout is not None
    first = child.stdout.readline()
    time.sleep(rng.random() * LONGEST)
    child.send_signal(signal.SIGKILL)
    rest = child.stdout.read()
    assert child.wait() == -signal.SIGKILL, "the child ended by itself"
    # A line that the kill cut off was not shown.
    lines = [line for line in (first + rest).split("\n")[:-1] if line]
    return len(lines), check(path, lines)


def check(path: Path, lines: list[str]) -> int:
    """Every line shown is an entry, and each case resumes; how many cases."""
    from diag.case.case import Case
    from diag.case.casebook import Casebook
    from diag.case.events import Stamped
    from diag.machine.load import read
    from diag.machine.model import Role
    from diag.safety import Person

    shown: dict[str, list[str]] = {}
    for line in lines:
        id, _, body = line.partition(" ")
        shown.setdefault(id, []).append(body)
    machine = read(MIXER)
    book = Casebook(path)
    bob = Person("Bob", Role.ENGINEER, authorised=True, qualified=True)
    kept = {line.id: book.events(line.id) for line in book.cases()}
    extra = sum(map(len, kept.values())) - len(lines)
    # Opening writes two entries at once, and undo and two answers stand together in the script.
    assert 0 <= extra <= 3, f"{extra} entries more than were shown"
    for id, bodies in shown.items():
        entries = kept[id]
        bodies_kept = [entry.model_dump_json() for entry in entries if isinstance(entry, Stamped)]
        assert bodies_kept[: len(bodies)] == bodies, f"case {id}: an entry that was shown is not there"
    for id in kept:
        case = Case.resume(id, machine, bob, book=book)
        assert case.state.problems == ()
        assert case.state.person == bob
    book.close()
    (whole,) = sqlite3.connect(path).execute("PRAGMA integrity_check").fetchone()
    assert whole == "ok"
    return len(kept)


def run(times: int, seed: int) -> str:
    """So many kills; the figure in one line. Raises AssertionError at the first loss."""
    rng = random.Random(seed)
    entries = cases = 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(times):
            shown, resumed = kill_once(Path(folder) / f"book-{number}.sqlite3", rng)
            entries += shown
            cases += resumed
    return f"{times} kills: all {entries} entries shown as recorded were there, {cases} cases resumed (seed {seed})"


def main() -> None:
    parser = argparse.ArgumentParser(description="Kill a case at random moments and look whether anything is lost.")
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--play", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    sys.path.insert(0, str(ROOT))
    if asked.play:
        play(asked.play)
    else:
        print(run(asked.times, asked.seed))


if __name__ == "__main__":
    main()
