"""Makes the README's picture from the running app: `python tests/tui/pictures.py` writes `pictures/case.svg` beside it.

The case is entered by keys as a person would, on the embedded tray stacker; the drawing names no font of the web.
"""

from __future__ import annotations

import asyncio
import os
import re
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from stage import ADA, Stage  # noqa: E402

SIZE = (140, 36)
CELL = 12.2
"""Width of a character in Textual's drawing."""

CASE = (
    *ADA,
    "1", "1", "enter", "=3n2", "enter",
    "slash", "=health", "enter", "3",
    "slash", "=stack light, yellow", "enter", "1",
    "slash", "=lamp feeds", "enter", "1",
    "slash", "=24 v supply unit, its", "enter", "1",
)  # fmt: skip
"""A station of the network was lost: the code, and what a look at the front adds."""


def tidy(svg: str) -> str:
    """Without fonts of the web, and with the blanks around a text turned into its place, as every viewer draws it."""
    svg = re.sub(r"@font-face \{.*?\}", "", svg, flags=re.DOTALL)
    svg = svg.replace("Fira Code", "DejaVu Sans Mono")

    def place(found: re.Match[str]) -> str:
        head, x, middle, length, tail, words = found.groups()
        blank = "&#160;"
        left = (len(words) - len(re.sub(rf"^(?:{blank})+", "", words))) // len(blank)
        words = re.sub(rf"^(?:{blank})+", "", words)
        right = (len(words) - len(re.sub(rf"(?:{blank})+$", "", words))) // len(blank)
        words = re.sub(rf"(?:{blank})+$", "", words)
        if not words:
            return ""
        x, length = f"{float(x) + CELL * left:g}", f"{float(length) - CELL * (left + right):g}"
        return f"{head}{x}{middle}{length}{tail}{words}</text>"

    pattern = r'(<text[^>]* x=")([\d.]+)("[^>]* textLength=")([\d.]+)("[^>]*>)([^<]*)</text>'
    return re.sub(pattern, place, svg)


async def picture(stage: Stage) -> str:
    async with stage.run("tray-stacker", size=SIZE) as hand:
        await hand.press(*CASE)
        return tidy(hand.app.export_screenshot(title="diag"))


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_STATE_HOME"] = folder
        stage = Stage(HERE.parents[1] / "knowledge", Path(folder) / "cases.sqlite3")
        svg = asyncio.run(picture(stage))
    out = HERE / "pictures" / "case.svg"
    out.parent.mkdir(exist_ok=True)
    out.write_text(svg, encoding="utf-8")
    print(out)


if __name__ == "__main__":
    main()
