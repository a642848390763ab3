"""`pytest --sources` lists what the checks lean on, and runs none."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path


def test_sources_are_listed_and_nothing_runs() -> None:
    here = Path(__file__).parent
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "--sources", "-p", "no:cacheprovider", str(here / "test_machine_say.py")],
        capture_output=True,
        text=True,
        cwd=here.parent.parent,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    (row,) = [line for line in run.stdout.splitlines() if "IEC 61131-2" in line]
    assert "test_a_value_on_a_limit_belongs_to_the_normal_band" in row
    assert row.endswith("read in a summary of the standard")
    assert "passed" not in run.stdout
