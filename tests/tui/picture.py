"""The README's picture, painted by the running app: `python tests/tui/picture.py` writes pictures/case.svg beside this.

A case of the tray stacker in a terminal of 118 by 34: marked is what a station lost on the motion network shows.
"""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path.insert(0, str(ROOT))

from diag.case.case import Case  # noqa: E402
from diag.machine.load import read  # noqa: E402
from diag.machine.model import Role  # noqa: E402
from diag.safety.types import Person  # noqa: E402
from diag.tui.app import DiagApp  # noqa: E402
from diag.tui.screens.case import CaseScreen  # noqa: E402
from diag.tui.session import Desk, Sitting  # noqa: E402

SIZE = (118, 34)
NIGHT = datetime(2026, 11, 25, 3, 12, tzinfo=UTC)
PERSON = Person("Jo Weber", Role.ELECTRICIAN, authorised=True, qualified=True)
FACTS = (
    ("danger-sign", "none"),
    ("phase-lamp", "lit"),
    ("dc-lamp", "lit"),
    ("feeds-lamp", "all-on"),
    ("rack-display", "3n2"),
    ("cycle-lamp", "dark"),
    ("head-lamp", "lit"),
    ("port-a-lamp", "traffic"),
)
ELSEWHERE = re.compile(r"\s*@font-face \{.*?\}\n|<!--.*?-->", re.DOTALL)


async def paint() -> str:
    """The case screen as SVG, without the fonts that it would fetch from elsewhere."""
    case = Case.open(read(ROOT / "knowledge" / "tray-stacker"), PERSON, clock=lambda: NIGHT)
    for indication, text in FACTS:
        case.say(indication, text)
    with tempfile.TemporaryDirectory() as folder:
        app = DiagApp(Desk(ROOT / "knowledge", Path(folder) / "casebook.sqlite3"))
        async with app.run_test(size=SIZE) as pilot:
            await app.push_screen(CaseScreen(Sitting(case, lambda: NIGHT, lambda: 0.0, {PERSON.name: PERSON})))
            await pilot.pause(2.0)
            return ELSEWHERE.sub("", app.export_screenshot(title="diag"))


if __name__ == "__main__":
    file = HERE / "pictures" / "case.svg"
    file.parent.mkdir(exist_ok=True)
    file.write_text(asyncio.run(paint()), encoding="utf-8")
    print(f"written: {file.relative_to(ROOT)}")
