"""What the room of the panel loads."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import diag.panel


def test_the_room_loads_nothing_heavy_and_opens_nothing() -> None:
    room = Path(diag.panel.__file__).parent
    names = [
        ".".join(("diag.panel", *path.relative_to(room).with_suffix("").parts))
        for path in sorted(room.rglob("*.py"))
        if path.stem != "__init__"
    ]
    assert len(names) > 10
    code = (
        f"import sys; import {', '.join(names)}; "
        "print(sorted({'numpy', 'textual', 'yaml', 'pydantic', 'click', 'sqlite3'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=room.parents[1])
    assert done.stdout.strip() == "[]"
