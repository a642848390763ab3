"""Do the tests bite? Small faults are put into the code one at a time, and the tests have to notice each.

    python tests/mutants.py --count 300 --jobs 2
    python tests/mutants.py --count 20 --room safety
    python tests/mutants.py --count 40 --file case/log/replay.py

The faults (`mutate.py` says which kinds there are) are drawn by the seed over all files of `diag/reason`, `diag/case`
and `diag/safety`, at least one in each file. Each is put into a copy of this checkout, and the tests of its room and
the quick walks of the gate run there until one of them fails; those that call the changed function go first, the
quickest before all others. A first run without any fault notes which test calls what. A run that takes far more time of
the processor than it should is ended, counts as killed, and is told apart.

What survives is printed with the change. `tests/survivors.toml` lists faults that no test can notice, because nothing
that anybody can see depends on them, each with the reason; whatever else survives is a test that is missing.

Ends with 1 when fewer are killed than `GOALS` ask for, or a test fails without any fault.
"""

from __future__ import annotations

import argparse
import compileall
import contextlib
import hashlib
import json
import os
import queue
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from difflib import unified_diff
from pathlib import Path
from typing import Any

import mutate
from mutate import Mutant

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("reason", "case", "safety")
GOALS = {"all": 0.85, "safety": 0.95}
"""Shares of the faults that have to be killed, those of `survivors.toml` left out."""
ALWAYS = "safety"
"""The room whose quick tests run for every fault."""
SURVIVORS = ROOT / "tests" / "survivors.toml"
NOT_COPIED = (".git", ".venv", ".*_cache", ".hypothesis", "__pycache__", "*.egg-info", "build", "dist")
LEAST, TIMES = 10, 4
"""Seconds of the processor, and times what a test took without a fault, after which a run is ended."""
WAITING = 10
"""How many times as long as that a run may take by the clock, as the computer may be busy."""
QUICK = ("-m", "not slow")


@dataclass
class Trial:
    """One fault and what became of it."""

    file: str
    mutant: Mutant
    source: str
    outcome: str = ""
    """`killed`, `timed out`, `survived`, or `known` where it survived and `survivors.toml` gives a reason."""
    by: str = ""
    """The test that noticed it; for a survivor the reason, where there is one."""
    tests: int = 0
    seconds: float = 0.0

    @property
    def room(self) -> str:
        return self.file.split("/")[1]

    @property
    def where(self) -> str:
        return f"{self.file}:{self.mutant.line}"

    @property
    def words(self) -> tuple[str, str, str]:
        """What it is known by in `survivors.toml`: line numbers change, words hardly do."""
        return self.file, self.mutant.was(self.source), self.mutant.becomes(self.source)

    def diff(self) -> str:
        changed = self.mutant.applied(self.source)
        lines = unified_diff(self.source.splitlines(), changed.splitlines(), n=2, lineterm="")
        return "\n".join(list(lines)[2:])


@dataclass
class Recorded:
    """What the tests did without any fault."""

    seconds: dict[str, float] = field(default_factory=dict)
    """Of each test."""
    callers: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    """Function, as `file:first line`, to the tests that call it."""
    loaders: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    """Module's file to the test files that load it."""
    all_of: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    """Module's file to the tests that make so many calls that they are taken to call all of it."""
    failed: set[str] = field(default_factory=set)

    def order(self, trial: Trial, rooms: Iterable[str]) -> list[str]:
        """The tests to run, the likeliest to notice first.

        What one test works out another may find ready, so of a test file that calls the function at all every test
        runs. A file that calls nothing here does its work in processes of its own, and runs in any case."""
        at = f"{trial.file}:{mutate.function_at(trial.source, trial.mutant.line)}"
        if at.endswith(":0"):
            first = {t for key, tests in self.callers.items() if key.startswith(f"{trial.file}:") for t in tests}
            files = {_file(t) for t in first} | self.loaders.get(trial.file, set())
        else:
            first = self.callers.get(at, set()) | self.all_of.get(trial.file, set())
            files = {_file(t) for t in first}
        busy = {_file(t) for tests in self.callers.values() for t in tests}
        files |= {_file(t) for t in self.seconds} - busy
        inside = tuple(f"tests/{room}/" for room in rooms)
        chosen = [t for t in self.seconds if t.startswith(inside) and _file(t) in files and t not in self.failed]
        return sorted(chosen, key=lambda t: (t not in first, self.seconds[t], t))


def main() -> int:
    args = _arguments()
    rooms = (args.room,) if args.room else ROOMS
    trials = draw(rooms, args.count, args.seed, args.file)
    if not trials:
        print("There is nothing to change.")
        return 1
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        copies = [Path(folder) / f"copy-{n}" for n in range(args.jobs)]
        shutil.copytree(ROOT, copies[0], ignore=shutil.ignore_patterns(*NOT_COPIED))
        compileall.compile_dir(copies[0] / "diag", quiet=2, workers=1)
        recorded = record(copies, sorted({t.room for t in trials} | {ALWAYS}))
        for name in sorted(recorded.failed):
            print(f"left out, as it fails without any fault: {name}")
        for copy in copies[1:]:
            shutil.rmtree(copy, ignore_errors=True)
            shutil.copytree(copies[0], copy)
        run_all(trials, copies, recorded)
    told = survivors()
    for trial in trials:
        if trial.outcome == "survived" and trial.words in told:
            trial.outcome, trial.by = "known", told[trial.words]
    print_all(trials, time.monotonic() - began)
    if args.json:
        args.json.write_text(json.dumps([_as_object(t) for t in trials], indent=1, ensure_ascii=False))
    return 1 if recorded.failed or _short_of_goal(trials) else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--room", choices=ROOMS, help="faults in this room only")
    parser.add_argument("--file", default="", metavar="PART", help="only files whose path has this in it")
    parser.add_argument("--count", type=int, default=300, help="how many faults (300)")
    parser.add_argument("--seed", type=int, default=1, help="which ones (1)")
    parser.add_argument("--jobs", type=int, default=2, help="how many at the same time (2)")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write what became of each fault into this file")
    return parser.parse_args()


# ---------------------------------------------------------------- drawing


def draw(rooms: Iterable[str], count: int, seed: int, part: str = "") -> list[Trial]:
    """Faults by the seed: one in every file that can hold one, the others by how many a file can hold.

    In a file the kind is drawn first, so that the many constants do not crowd out the few boundaries. When there are
    more files than faults, the files are drawn as well."""
    rng = random.Random(seed)
    files = sorted(f for room in rooms for f in (ROOT / "diag" / room).rglob("*.py"))
    named = {f.relative_to(ROOT).as_posix(): f.read_text(encoding="utf-8") for f in files}
    open_ = {name: mutate.mutants(source) for name, source in named.items() if part in name}
    open_ = {name: list(found) for name, found in open_.items() if found}
    shares = {name: len(found) for name, found in open_.items()}
    names = sorted(open_)
    turns = rng.sample(names, min(count, len(names)))
    trials: list[Trial] = []
    while open_ and len(trials) < count:
        left = sorted(open_)
        name = turns.pop() if turns else rng.choices(left, [shares[n] for n in left])[0]
        kind = rng.choice(sorted({m.kind for m in open_[name]}))
        mutant = rng.choice([m for m in open_[name] if m.kind == kind])
        # Another change of the same stretch would tell little that this one does not.
        open_[name] = [m for m in open_[name] if (m.start, m.end) != (mutant.start, mutant.end)]
        if not open_[name]:
            del open_[name]
        if mutate.stands(mutant, named[name]):
            trials.append(Trial(name, mutant, named[name]))
        elif name not in {t.file for t in trials} and name in open_:
            turns.append(name)
    return sorted(trials, key=lambda t: (t.file, t.mutant.line, t.mutant.start))


# ---------------------------------------------------------------- running


def record(copies: list[Path], rooms: list[str]) -> Recorded:
    """Which test calls what. Kept until anything in the checkout changes."""
    files = [f for room in rooms for f in sorted((ROOT / "tests" / room).glob("test_*.py"))]
    kept = ROOT / ".pytest_cache" / f"mutants-{_digest()}.json"
    known: dict[str, Any] = json.loads(kept.read_text()) if kept.exists() else {}
    todo = [f.relative_to(ROOT).as_posix() for f in files if f.relative_to(ROOT).as_posix() not in known]
    if todo:
        print(f"Running {len(todo)} test files without any fault, to see which test calls what.", flush=True)

        def one(name: str) -> None:
            out = copies[0].parent / f"{name.replace('/', '-')}.json"
            env = _environment(copies[0], MUTANTS_RECORD=out)
            run = subprocess.run(_pytest([name]), cwd=copies[0], env=env, capture_output=True, text=True)
            assert out.exists(), f"{name} cannot be run:\n{run.stdout}{run.stderr}"
            known[name] = json.loads(out.read_text())
            kept.write_text(json.dumps(known))

        kept.parent.mkdir(exist_ok=True)
        for old in set(kept.parent.glob("mutants-*.json")) - {kept}:
            old.unlink()
        with ThreadPoolExecutor(len(copies)) as pool:
            list(pool.map(one, todo))
    found = Recorded()
    for name in (f.relative_to(ROOT).as_posix() for f in files):
        for test, did in known[name]["tests"].items():
            found.seconds[test] = did["seconds"]
            for function in did["functions"]:
                found.callers[function].add(test)
            for module in known[name]["loaded"] if did["cut"] else ():
                found.all_of[module].add(test)
        for module in known[name]["loaded"]:
            found.loaders[module].add(name)
        found.failed |= set(known[name]["failed"])
    return found


def run_all(trials: list[Trial], copies: list[Path], recorded: Recorded) -> None:
    """Every fault, as many at a time as there are copies; in no order, so that the first few tell about all."""
    free: queue.Queue[Servers] = queue.Queue()
    for copy in copies:
        free.put(Servers(copy))
    done = 0

    def one(trial: Trial) -> None:
        nonlocal done
        servers = free.get()
        try:
            run_one(trial, servers, recorded)
        finally:
            free.put(servers)
        done += 1
        told = f"{done:4}/{len(trials)}  {trial.outcome:9}  {trial.seconds:5.1f} s"
        print(f"{told}  {trial.where}  {trial.mutant.kind}", flush=True)

    with ThreadPoolExecutor(len(copies)) as pool:
        list(pool.map(one, random.Random(len(trials)).sample(trials, len(trials))))
    for _ in copies:
        free.get().end()


class Servers:
    """Those of one copy, by the rooms whose tests they hold."""

    def __init__(self, copy: Path) -> None:
        self.copy = copy
        self._by_rooms: dict[frozenset[str], Server] = {}

    def of(self, rooms: frozenset[str]) -> Server:
        """One that is ready; the copy has to be without a fault."""
        if rooms not in self._by_rooms:
            self._by_rooms[rooms] = Server(self.copy, sorted(rooms))
        return self._by_rooms[rooms]

    def end(self) -> None:
        for server in self._by_rooms.values():
            server.end()


class Server:
    """The tests of some rooms, collected and waiting in a copy; `mutants_plugin.Server` is its other end."""

    def __init__(self, copy: Path, rooms: list[str]) -> None:
        files = [f for room in rooms for f in sorted((copy / "tests" / room).glob("test_*.py"))]
        (asked, asks), (answers, answered) = os.pipe(), os.pipe()
        self._log = copy.parent / f"{copy.name}-{'-'.join(rooms)}.txt"
        with self._log.open("wb") as log:
            self._child = subprocess.Popen(
                _pytest([f.relative_to(copy).as_posix() for f in files]),
                cwd=copy,
                env=_environment(copy, MUTANTS_SERVE=f"{asked} {answered}", PYTHONDONTWRITEBYTECODE=1),
                stdout=log,
                stderr=log,
                pass_fds=(asked, answered),
                start_new_session=True,
            )
        os.close(asked)
        os.close(answered)
        self._asks, self._answers = os.fdopen(asks, "w"), os.fdopen(answers)
        self._answer()  # it says when all is collected

    def ask(self, trial: Trial, limits: dict[str, int], clock: int) -> dict[str, str]:
        """What became of the fault, and by which test; no outcome where this cannot tell. `limits`: the tests, each
        with the seconds of the processor that it may take; `clock`: seconds for all of them."""
        changed = trial.mutant.applied(trial.source)
        ask = {"file": trial.file, "source": trial.source, "changed": changed, "tests": list(limits.items())}
        self._asks.write(json.dumps({**ask, "clock": clock}) + "\n")
        self._asks.flush()
        return self._answer()

    def _answer(self) -> dict[str, str]:
        line = self._answers.readline()
        if not line:
            raise SystemExit(f"The tests cannot be run:\n{self._log.read_text()}")
        answer: dict[str, str] = json.loads(line)
        return answer

    def end(self) -> None:
        self._asks.close()
        self._answers.close()
        _end(self._child)


def run_one(trial: Trial, servers: Servers, recorded: Recorded) -> None:
    """Put the fault in, run the tests until one fails, and take it out again."""
    tests = recorded.order(trial, {trial.room, ALWAYS})
    trial.tests = len(tests)
    if not tests:
        trial.outcome, trial.by = "survived", "no test runs this"
        return
    limit = int(LEAST + TIMES * sum(recorded.seconds[t] for t in tests))
    server = servers.of(frozenset({trial.room, ALWAYS}))
    path, began = servers.copy / trial.file, time.monotonic()
    for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
        compiled.unlink()
    path.write_text(trial.mutant.applied(trial.source), encoding="utf-8")
    try:
        limits = {test: int(LEAST + TIMES * recorded.seconds[test]) for test in tests}
        answer = server.ask(trial, limits, limit * WAITING)
        trial.outcome, trial.by = answer["outcome"], answer["by"]
        if not trial.outcome:
            _run_alone(trial, servers.copy, tests, limit)
    finally:
        path.write_text(trial.source, encoding="utf-8")
    trial.seconds = time.monotonic() - began


def _run_alone(trial: Trial, copy: Path, tests: list[str], limit: int) -> None:
    """Load the module with its fault, and run the tests until one fails."""
    order = copy.parent / f"{copy.name}-order.json"
    order.write_text(json.dumps(tests))
    child = subprocess.Popen(
        _pytest(["-x", *sorted({_file(t) for t in tests})]),
        cwd=copy,
        env=_environment(copy, MUTANTS_ORDER=order, MUTANTS_CPU=limit, PYTHONDONTWRITEBYTECODE=1),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    trial.by = ""
    try:
        said, _ = child.communicate(timeout=limit * WAITING)
    except subprocess.TimeoutExpired:
        said = ""
        trial.outcome = "timed out"
    finally:
        _end(child)
    if child.returncode == -signal.SIGXCPU or trial.outcome:
        trial.outcome = "timed out"
    elif child.returncode == 0:
        trial.outcome = "survived"
    elif child.returncode in (3, 4, 5):
        raise SystemExit(f"The tests cannot be run with {trial.where}:\n{said}")
    else:
        trial.outcome = "killed"
        noticed = [line for line in said.splitlines() if line.startswith(("FAILED ", "ERROR "))]
        trial.by = noticed[0].split(" ", 1)[1].split(" - ")[0] if noticed else "it does not load"


def _end(child: subprocess.Popen[Any]) -> None:
    """What the tests started goes with them."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child.pid, signal.SIGKILL)
    child.wait()


def _pytest(more: list[str]) -> list[str]:
    own = ["-p", "mutants_plugin", "-p", "no:cacheprovider", "-o", "addopts=", "-n", "0", "-q", "-rfE", "--tb=no"]
    return [sys.executable, "-m", "pytest", *own, *QUICK, *more]


def _environment(copy: Path, **more: object) -> dict[str, str]:
    own = {"PYTHONPATH": f"{copy}{os.pathsep}{copy / 'tests'}", "OPENBLAS_NUM_THREADS": "1", "PYTHONHASHSEED": "0"}
    return {**os.environ, **own, **{name: str(value) for name, value in more.items()}}


def _digest() -> str:
    """Of all that the tests may depend on."""
    found = hashlib.sha256()
    for top in ("diag", "tests", "knowledge", "pyproject.toml"):
        for file in sorted([ROOT / top, *(ROOT / top).rglob("*")]):
            if file.is_file() and "__pycache__" not in file.parts and file != SURVIVORS:
                found.update(f"{file.relative_to(ROOT)}\0".encode() + file.read_bytes())
    return found.hexdigest()[:16]


def _file(test: str) -> str:
    return test.split("::", 1)[0]


# ---------------------------------------------------------------- telling


def survivors() -> dict[tuple[str, str, str], str]:
    """What is known to survive, as file, line and changed line, to the reason."""
    if not SURVIVORS.exists():
        return {}
    rows = tomllib.loads(SURVIVORS.read_text(encoding="utf-8")).get("survivor", [])
    return {(row["file"], row["was"], row["becomes"]): row["reason"] for row in rows}


def print_all(trials: list[Trial], seconds: float) -> None:
    for title, outcome in (("Survived, and no test knows why", "survived"), ("Survived for a known reason", "known")):
        found = [t for t in trials if t.outcome == outcome]
        print(f"\n{title}: {len(found)}" if found else "")
        for trial in found:
            print(f"\n{trial.where}  {trial.mutant.kind}, {trial.tests} tests{f'; {trial.by}' if trial.by else ''}")
            print(trial.diff())
    print("\nBy file")
    _table([(t.file, t) for t in trials])
    print("\nBy room")
    _table([(t.room, t) for t in trials] + [("all", t) for t in trials])
    print(f"\n{len(trials)} faults in {seconds / 60:.0f} minutes")


def _table(rows: list[tuple[str, Trial]]) -> None:
    wide = max(len(name) for name, _ in rows)
    print(f"{'':{wide}}  faults  killed  timed out  survived  known   share")
    for name in dict.fromkeys(name for name, _ in rows):
        found = [t for n, t in rows if n == name]
        count = Counter(t.outcome for t in found)
        share = _share(found)
        print(
            f"{name:{wide}}  {len(found):6}  {count['killed']:6}  {count['timed out']:9}  {count['survived']:8}"
            f"  {count['known']:5}   {'-' if share is None else f'{share:.1%}'}"
        )


def _share(trials: list[Trial]) -> float | None:
    """How many of those that could be noticed were."""
    able = [t for t in trials if t.outcome != "known"]
    return sum(t.outcome in ("killed", "timed out") for t in able) / len(able) if able else None


def _short_of_goal(trials: list[Trial]) -> bool:
    shares = {"all": _share(trials), **{room: _share([t for t in trials if t.room == room]) for room in ROOMS}}
    short = False
    for name, goal in GOALS.items():
        share = shares[name]
        if share is not None and share < goal:
            print(f"{name}: {share:.1%} killed, and {goal:.0%} are asked for")
            short = True
    return short


def _as_object(trial: Trial) -> dict[str, object]:
    return {
        "file": trial.file,
        "line": trial.mutant.line,
        "kind": trial.mutant.kind,
        "was": trial.mutant.was(trial.source),
        "becomes": trial.mutant.becomes(trial.source),
        "outcome": trial.outcome,
        "by": trial.by,
        "tests": trial.tests,
        "seconds": round(trial.seconds, 1),
    }


if __name__ == "__main__":
    sys.exit(main())
