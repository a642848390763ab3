"""For pytest, when `mutants.py` runs it: notes which functions each test calls, or puts the tests in a given order, or
runs some of the tests it has collected, again and again, each time with another fault.

Two variables of the environment name files: `MUTANTS_RECORD`, to be written, and `MUTANTS_ORDER`, to be read.
`MUTANTS_CPU` is the time of the processor, in seconds, after which the run is ended. `MUTANTS_SERVE` are two numbers of
open files, to be asked and to be answered by.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import importlib
import json
import os
import pkgutil
import resource
import signal
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType, FunctionType

import mutate
import pytest
from hypothesis import HealthCheck, Phase, settings

MEMORY = 4 << 30
"""Bytes that a run may take, so that a change that never stops growing harms nobody else."""

DEEPER = 3
"""How many times as deep as usual Python may go: a call that is noted counts several times."""
OWN_FAULT = 77
"""What a process ends with that could not run the tests, whatever the fault."""
CALLS = 300_000
"""Calls that are looked at in a test; one that makes more is taken to call all that it has loaded."""


def pytest_configure(config: pytest.Config) -> None:
    # A failure counts as it is: it need not be the smallest. And every run draws the same examples.
    settings.register_profile(
        "mutants",
        phases=(Phase.explicit, Phase.generate),
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=tuple(HealthCheck),
    )
    settings.load_profile("mutants")
    sys.setrecursionlimit(sys.getrecursionlimit() * DEEPER)
    if seconds := os.environ.get("MUTANTS_CPU"):
        signal.signal(signal.SIGXCPU, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds) + 5))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    if file := os.environ.get("MUTANTS_RECORD"):
        config.pluginmanager.register(Recorder(Path(file), config.rootpath))
    if files := os.environ.get("MUTANTS_SERVE"):
        config.pluginmanager.register(Server(*map(int, files.split())))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if file := os.environ.get("MUTANTS_ORDER"):
        place = {name: n for n, name in enumerate(json.loads(Path(file).read_text()))}
        others = [item for item in items if item.nodeid not in place]
        items[:] = sorted((item for item in items if item.nodeid in place), key=lambda item: place[item.nodeid])
        config.hook.pytest_deselected(items=others)


class Server:
    """Answers which test notices a fault. The tests are collected once, and each fault gets a process of its own that
    is forked from there, in which the changed functions have their new code."""

    def __init__(self, asked: int, answered: int) -> None:
        self.asked, self.answered = asked, answered

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        for room in {item.nodeid.split("/")[1] for item in session.items}:
            package = importlib.import_module(f"diag.{room}")
            for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
                importlib.import_module(module.name)
        gc.unfreeze()
        live = defaultdict(list)
        caches = []
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType):
                code = thing.__code__
                live[code.co_filename, code.co_qualname, code.co_firstlineno].append(thing)
            elif isinstance(thing, functools._lru_cache_wrapper):
                caches.append(thing)
        gc.freeze()
        with os.fdopen(self.asked) as asked, os.fdopen(self.answered, "w") as answered:
            answered.write("{}\n")
            answered.flush()
            for line in asked:
                ask = json.loads(line)
                file = str(session.config.rootpath / ask["file"])
                new, old = (mutate.functions(ask[source], file) for source in ("changed", "source"))
                changed = [(live[file, *key], code) for key, code in new.items() if key in old and old[key] != code]
                if changed and all(found for found, _ in changed):
                    tests = [(items[test], cpu) for test, cpu in ask["tests"]]
                    answer = _forked(tests, changed, caches, ask["clock"])
                else:  # what a module does as it is loaded
                    answer = {"outcome": "", "by": ""}
                answered.write(json.dumps(answer) + "\n")
                answered.flush()
        return True


def _forked(
    tests: list[tuple[pytest.Item, int]],
    changed: list[tuple[list[FunctionType], CodeType]],
    caches: list[functools._lru_cache_wrapper[object]],
    clock: float,
) -> dict[str, str]:
    """Run the tests with the changed functions until one fails, each with the seconds of the processor that it has."""
    told, tells = os.pipe()
    child = os.fork()
    if not child:
        try:
            os._exit(_run(tests, changed, caches, tells))
        finally:  # it never comes back from here
            os._exit(OWN_FAULT)
    os.close(tells)
    ends = time.monotonic() + clock
    while not (ended := os.waitpid(child, os.WNOHANG))[0] and time.monotonic() < ends:
        time.sleep(0.01)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    if not ended[0]:
        os.waitpid(child, 0)
    with os.fdopen(told) as said:
        by = said.read()
    code = os.waitstatus_to_exitcode(ended[1]) if ended[0] else -signal.SIGXCPU
    found = {0: "survived", -signal.SIGXCPU: "timed out", OWN_FAULT: ""}
    return {"outcome": found.get(code, "killed"), "by": by}


def _run(
    tests: list[tuple[pytest.Item, int]],
    changed: list[tuple[list[FunctionType], CodeType]],
    caches: list[functools._lru_cache_wrapper[object]],
    tells: int,
) -> int:
    """In the process of its own: 1 when a test fails, which is told, else 0."""
    os.setsid()
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    for functions, code in changed:
        for function in functions:
            function.__code__ = code
    for cached in caches:
        cached.cache_clear()
    first = First()
    tests[0][0].config.pluginmanager.register(first)
    followed = [*(test for test, _ in tests[1:]), None]
    for (test, cpu), after in zip(tests, followed, strict=True):
        ends = int(time.process_time()) + 1 + cpu
        resource.setrlimit(resource.RLIMIT_CPU, (ends, resource.RLIM_INFINITY))
        test.config.hook.pytest_runtest_protocol(item=test, nextitem=after)
        if first.failed:
            os.write(tells, first.failed.encode())
            return 1
    return 0


class First:
    """The first test that fails."""

    failed = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed = self.failed or report.nodeid


class Recorder:
    """Writes what each test of one file called, how long it took, and which modules were loaded in the end."""

    def __init__(self, file: Path, root: Path) -> None:
        self.file, self.inside = file, f"{root / 'diag'}{os.sep}"
        self.root = len(str(root)) + 1
        self.called: set[CodeType] = set()
        self.calls = 0
        self.tests: dict[str, dict[str, object]] = {}
        self.failed: set[str] = set()

    def _note(self, frame: FrameType, event: str, arg: object) -> None:
        self.called.add(frame.f_code)
        self.calls += 1
        if self.calls > CALLS:
            sys.settrace(None)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.called, self.calls, began = set(), 0, time.process_time()
        threading.settrace(self._note)
        sys.settrace(self._note)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            threading.settrace(None)  # type: ignore[arg-type]
            functions = {
                f"{code.co_filename[self.root :]}:{code.co_firstlineno}"
                for code in self.called
                if code.co_filename.startswith(self.inside)
            }
            self.tests[item.nodeid] = {
                "seconds": time.process_time() - began,
                "functions": sorted(functions),
                "cut": self.calls > CALLS,
            }

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)

    def pytest_sessionfinish(self) -> None:
        files = (getattr(module, "__file__", None) or "" for module in list(sys.modules.values()))
        loaded = sorted(name[self.root :] for name in files if name.startswith(self.inside))
        kept = {"tests": self.tests, "failed": sorted(self.failed), "loaded": loaded}
        self.file.write_text(json.dumps(kept))
