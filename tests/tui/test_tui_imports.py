"""The first screen is painted before the mathematics, the casebook and the machine files are loaded."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

LATE = ("numpy", "sqlite3", "yaml", "pydantic", "rapidfuzz", "diag.machine.load", "diag.case.case", "diag.reason")


def test_the_first_paint_loads_nothing_heavy() -> None:
    code = (
        "import asyncio, sys\n"
        "from pathlib import Path\n"
        "from diag.tui.app import DiagApp\n"
        "from diag.tui.app_context import AppContext\n"
        "from diag.tui.screens.home import HomeScreen\n"
        "HomeScreen._look = lambda self: None\n"
        "async def main():\n"
        "    async with DiagApp(AppContext(Path('nowhere'))).run_test() as pilot:\n"
        "        await pilot.pause()\n"
        "asyncio.run(main())\n"
        f"print([name for name in {LATE!r} if name in sys.modules])\n"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=600, cwd=root
    )
    assert done.stdout.strip() == "[]"
