"""Kills a case and looks whether everything that was shown as recorded is there on resume.

    python tests/case/kill.py --times 1000

A child process plays a scripted case on the mixer over and over. It tells when it begins to record an entry, and what
the entry was once it is recorded. Every other time it is killed with SIGKILL at a random moment; else within moments of
beginning to record, so that the kill meets the commit. Then every entry that was shown must be in the casebook, word
for word; the chains must verify, the case must resume, and at most the entries of one more recording may be there: of
the one that was made and not yet shown.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diag.machine.model import Machine

ROOT = Path(__file__).resolve().parents[2]
MIXER = ROOT / "tests" / "machines" / "mixer"
LONGEST = 0.4
"""Seconds after the first entry within which a kill at a random moment comes."""
RECORDINGS = 60
"""A kill within a commit comes in one of so many recordings."""
COMMIT = 0.003
"""Seconds within which it comes then, from the beginning of the recording."""
BEGUN = "begun"


def play(path: Path, machine: Machine, out: int) -> None:
    """The child: cases without end; each recording told when it begins, and each entry when it is recorded."""
    from case_steps import Ticking

    from diag.case.case import Case
    from diag.case.log import events as e
    from diag.machine.model import Role
    from diag.record.casebook import Casebook
    from diag.record.engines.sqlite_engine import SqliteEngine
    from diag.safety import Act, Person, Phase
    from diag.safety.measured import pairs_of

    class Told(SqliteEngine):
        """Tells when a recording begins."""

        def write(self, work, stored):  # type: ignore[no-untyped-def]
            os.write(out, f"{BEGUN}\n".encode())
            return super().write(work, stored)

    book = Casebook(path)
    book.engine.__class__ = Told
    ann = Person("Ann", Role.ELECTRICIAN, authorised=True, qualified=True)

    def shown(case: Case, since: int) -> int:
        for entry in case.entries[since:]:
            assert isinstance(entry, e.Stamped)
            os.write(out, f"{case.id} {entry.model_dump_json()}\n".encode())
        return len(case.entries)

    def gate(case: Case, act: Act, target: str = "", values: Mapping[str, float] | None = None) -> int:
        case.post(e.Gate(zone="control-box", act=act, target=target, values=dict(values or {})))
        return shown(case, len(case.entries) - 1)

    while True:
        case = Case.open(machine, ann, book=book, clock=Ticking())
        count = shown(case, 0)
        looks = (("supply-lamp", "lit"), ("box-display", "d1"), ("motor-warm", "cool"), ("ready-lamp", "dark"))
        for indication, text in looks:
            case.say(indication, text)
            count = shown(case, count)
        case.undo()
        count = shown(case, count)
        case.cannot_tell("before-stop")
        count = shown(case, count)
        case.post(e.Noted(text="Heard a bang; ünïcode — 電"))
        count = shown(case, count)
        while steps := case.state.steps["control-box"]:
            asked = steps[0].asks == ("values",)
            pairs = pairs_of(machine.test_points[steps[0].target]) if asked else ()
            count = gate(case, steps[0].act, steps[0].target, dict.fromkeys(pairs, 0.0))
        case.say("drive-fuse", "OL", check="test-drive-fuse")
        count = shown(case, count)
        case.post(e.Remedied(remedy="drive-fuse-blown"))
        count = shown(case, count)
        gate(case, Act.BACK)
        while case.state.lockouts["control-box"].phase is not Phase.NONE:
            step = case.state.steps["control-box"][0]
            count = gate(case, step.act, step.target)
        case.post(e.Closed(outcome="handed-over", to="Bob"))
        count = shown(case, count)


def kill_once(path: Path, machine: Machine, rng: random.Random, commit: bool) -> tuple[int, int, bool]:
    """One child on a new casebook: how many entries it showed, how many cases resumed, and whether it was killed while
    it recorded. AssertionError on a loss."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.close(reading)
            play(path, machine, writing)
        except BaseException as error:
            os.write(2, f"the child ended by itself: {error!r}\n".encode())
        finally:
            os._exit(status)
    os.close(writing)
    wanted, lines = rng.randrange(2, RECORDINGS), b""
    end = None if commit else time.monotonic() + 60
    while True:
        ready, _, _ = select.select([reading], [], [], 60 if end is None else max(end - time.monotonic(), 0))
        if not ready:
            break
        chunk = os.read(reading, 65536)
        assert chunk, "the child ended by itself"
        if not commit and not lines:
            end = time.monotonic() + rng.random() * LONGEST
        lines += chunk
        if commit and lines.count(f"{BEGUN}\n".encode()) >= wanted:
            pause = time.monotonic() + rng.random() * COMMIT
            while time.monotonic() < pause:
                pass
            break
    os.kill(child, signal.SIGKILL)
    with os.fdopen(reading, "rb") as rest:
        lines += rest.read()
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the child ended by itself"
    # A line that the kill cut off was not shown.
    told = [line for line in lines.decode("utf-8", "replace").split("\n")[:-1] if line]
    shown = [line for line in told if line != BEGUN]
    return len(shown), check(path, machine, shown), bool(told) and told[-1] == BEGUN


def check(path: Path, machine: Machine, lines: list[str]) -> int:
    """Every line shown is an entry, the chains verify, and each case resumes; how many cases."""
    from diag.case.case import Case
    from diag.case.log.events import Stamped
    from diag.case.log.stored import cases_in, entries_of
    from diag.machine.model import Role
    from diag.record.casebook import Casebook
    from diag.record.verify.verifying import verify
    from diag.safety import Person

    shown: dict[str, list[str]] = {}
    for line in lines:
        id, _, body = line.partition(" ")
        shown.setdefault(id, []).append(body)
    bob = Person("Bob", Role.ENGINEER, authorised=True, qualified=True)
    with Casebook(path) as book:
        assert verify(book.engine).faults == ()
        kept = {line.id: entries_of(book, line.id) for line in cases_in(book)}
        extra = sum(map(len, kept.values())) - len(lines)
        assert 0 <= extra <= 2, f"{extra} entries more than were shown"  # Opening records two at once.
        for id, bodies in shown.items():
            entries = kept[id]
            bodies_kept = [entry.model_dump_json() for entry in entries if isinstance(entry, Stamped)]
            assert bodies_kept[: len(bodies)] == bodies, f"case {id}: an entry that was shown is not there"
        for id in kept:
            case = Case.resume(id, machine, bob, book=book)
            assert case.state.problems == ()
            assert case.state.person == bob
    (whole,) = sqlite3.connect(path).execute("PRAGMA integrity_check").fetchone()
    assert whole == "ok"
    return len(kept)


def run(times: int, seed: int) -> str:
    """So many kills; the figure in one line. Raises AssertionError at the first loss."""
    from diag.machine.load import read

    rng, machine = random.Random(seed), read(MIXER)
    entries = cases = within = 0
    for number in range(times):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "book.sqlite3"
            shown, resumed, recording = kill_once(path, machine, rng, commit=number % 2 == 1)
        entries += shown
        cases += resumed
        within += recording
    return (
        f"{times} kills, {within} of them while an entry was being recorded: all {entries} entries shown as recorded"
        f" were there, {cases} cases resumed (seed {seed})"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="Kill a case and look whether anything is lost.")
    parser.add_argument("--times", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    sys.path.insert(0, str(ROOT))
    print(run(asked.times, asked.seed))


if __name__ == "__main__":
    main()
