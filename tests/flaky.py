"""Does a test fail now and then? Each test file runs alone, many times over, and whatever failed once is told.

    python tests/flaky.py tests/tui/test_tui_tapping.py
    python tests/flaky.py --times 20 tests/tui
    python tests/flaky.py --times 20 tests/tui/test_tui_tapping.py::test_pictures

Every run is a process of its own, with nothing else beside it, and goes on past a failure. A test that is random by
design (Hypothesis) draws other examples each time. Ends with 1 when anything failed.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("paths", nargs="*", default=["tests"], metavar="PATH", help="a folder, a file, a test")
    parser.add_argument("--times", type=int, default=20, help="how often each file runs (20)")
    args = parser.parse_args()
    bad = 0
    for name in [name for path in args.paths for name in files(path)]:
        failed, out = runs(name, args.times)
        bad += len(failed)
        print(f"{name}: {args.times} times, {'no test failed' if not failed else ''}", flush=True)
        for test, times in failed.most_common():
            print(f"  failed {times} of {args.times} times: {test}")
            print(f"    {out[test]}")
    return 1 if bad else 0


def files(path: str) -> list[str]:
    """The test files of a folder; a file or a single test as it is."""
    found = sorted((ROOT / path).rglob("test_*.py")) if (ROOT / path).is_dir() else []
    return [f.relative_to(ROOT).as_posix() for f in found] or [path]


def runs(name: str, times: int) -> tuple[Counter[str], dict[str, str]]:
    """How often each test failed, and what it said the last time. Raises SystemExit when the tests cannot be run."""
    failed: Counter[str] = Counter()
    said: dict[str, str] = {}
    command = [sys.executable, "-m", "pytest", "-n", "0", "-q", "-rfE", "--tb=no", "-p", "no:cacheprovider", name]
    for _ in range(times):
        run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
        if run.returncode not in (0, 1):
            raise SystemExit(f"{name} cannot be run:\n{run.stdout}{run.stderr}")
        for test, words in re.findall(r"^(?:FAILED|ERROR) (\S+)(?: - (.*))?$", run.stdout, re.MULTILINE):
            failed[test] += 1
            said[test] = words
    return failed, said


if __name__ == "__main__":
    sys.exit(main())
