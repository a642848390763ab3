"""How long advice on one fact more takes, against an older revision: the tray stacker, and machines of some hundred
causes.

    python tests/bench/growth.py OLD_CHECKOUT

Both revisions read the same files, by turns, each in a process of its own. A run is a few cases of a few facts; its
figure is the median processor time of a fact and the advice after it. OLD_CHECKOUT is a folder with the older `diag`,
such as `git worktree add OLD_CHECKOUT REVISION` makes; its tray stacker is the one that both read.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
SIZES = (200, 600, 1500)
CASES, FACTS = 3, 6
WHO = "the benchmark"


def of_one(folder: Path) -> float:
    """Seconds of processor time for a fact and the advice after it, by the `diag` that Python finds."""
    from diag.case.case import Case
    from diag.machine.load import read
    from diag.machine.model import Role
    from diag.safety.types import Person

    machine = read(folder, examples=False)
    taken = []
    for seed in range(CASES):
        rng = random.Random(f"facts {seed}")
        shows = machine.causes[rng.choice(sorted(machine.causes))].shows
        told = [(id, max(row, key=row.__getitem__)) for id, row in shows.items() if id in machine.indications][:FACTS]
        others = [id for id in sorted(machine.indications) if id not in shows]
        told += [(id, machine.indications[id].normal) for id in rng.sample(others, FACTS - len(told))]
        case = Case.open(machine, Person(WHO, Role("electrician")))
        case.advice()
        for indication, state in told:
            start = time.process_time()
            case.say(indication, state, before=WHO)
            case.advice()
            taken.append(time.process_time() - start)
    return median(taken)


def run(checkout: Path, folder: Path) -> float:
    """The same, by the `diag` of a checkout, in a process of its own."""
    environment = {**os.environ, "PYTHONPATH": str(checkout), "OPENBLAS_NUM_THREADS": "1"}
    asked = [sys.executable, str(Path(__file__).resolve()), "--one", str(folder)]
    return float(subprocess.run(asked, check=True, capture_output=True, text=True, env=environment, cwd=folder).stdout)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("old", nargs="?", type=Path, metavar="OLD_CHECKOUT")
    parser.add_argument("--runs", type=int, default=3, help="how often each is measured (default: %(default)s)")
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one is not None:
        print(of_one(asked.one))
        return
    if asked.old is None:
        parser.error("name the checkout of the older revision")
    sys.path.insert(0, str(ROOT))
    from diag.measure.growth_machine import machine

    old, now = asked.old.resolve(), ROOT
    medians: dict[str, tuple[float, float]] = {}
    with tempfile.TemporaryDirectory() as room:
        folders = {"tray-stacker": old / "knowledge" / "tray-stacker"}
        for causes in SIZES:
            folders[f"{causes} causes"] = folder = Path(room) / f"causes-{causes}"
            folder.mkdir()
            (folder / "machine.yaml").write_text(machine(causes), encoding="utf-8")
        for name, folder in folders.items():
            pairs = [(run(old, folder), run(now, folder)) for _ in range(asked.runs)]
            medians[name] = median(a for a, _ in pairs), median(b for _, b in pairs)
            ratio = median(b / a for a, b in pairs)
            before, after = (f"{1000 * seconds:.1f} ms" for seconds in medians[name])
            print(f"{name}: {before} before, {after} now; ratio {ratio:.3f}; {asked.runs} runs each", flush=True)
    for which, number in (("before", 0), ("now", 1)):
        grown = medians[f"{SIZES[-1]} causes"][number] / medians[f"{SIZES[0]} causes"][number]
        print(f"from {SIZES[0]} to {SIZES[-1]} causes, {which}: {grown:.1f} times the time")


if __name__ == "__main__":
    main()
