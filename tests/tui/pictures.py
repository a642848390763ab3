"""Makes the README's picture from the running app: `python tests/tui/pictures.py` writes `pictures/case.svg` beside it.

The case is entered by keys as a person would, on the embedded tray stacker; the drawing names no font of the web.
"""

from __future__ import annotations

import asyncio
import os
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parents[1])]

from resting import Resting  # noqa: E402
from stage import ADA, Stage  # noqa: E402

from diag.machine.load import read  # noqa: E402
from diag.machine.model import Kind, Machine  # noqa: E402

SIZE = (119, 34)
CELL = 12.2
"""Width of a character in Textual's drawing."""

SEEN = """
    danger-sign=none rack-display=4A1 supply-lamp=lit stack-red=dark stack-yellow=lit stack-blue=dark stack-green=dark
    stack-white=dark homed-lamp=lit permit-lamp=dark restore-lamp=dark phase-lamp=lit dc-lamp=lit feeds-lamp=all-on
    chain1-lamp=lit chain2-lamp=lit guards-relay-lamp=lit health-lamp=dark cycle-lamp=dark notice-lamp=lit
    in-module-lamp=lit out-module-lamp=lit wide-module-lamp=lit line-module-lamp=lit head-lamp=lit
    port-a-lamp=traffic port-b-lamp=traffic repeats-lamp=dark cell-lamp=dark amp1-able=lit amp3-able=lit amp4-able=lit
    changed=nothing comes-back=now-and-then axis-named=shuttle amp2-able=faulty
"""
"""An amplifier trips now and then, though nothing was changed. The flashes of its lamp will tell two causes apart.
The other lamps are as the machine file has them under such a cause."""


def keys(machine: Machine) -> Iterator[str]:
    """The keys that find each indication and mark it as in SEEN."""
    for fact in SEEN.split():
        name, said = fact.split("=")
        indication = machine.indications[name]
        yield from ("slash", f"={indication.title}", "enter")
        if indication.kind is Kind.DISPLAY:
            yield from (f"={said}", "enter")
        else:
            yield str([state.id for state in indication.states].index(said) + 1)


def tidy(svg: str) -> str:
    """Without fonts of the web and buttons of a window; blanks become places, so that every viewer draws it alike."""
    svg = re.sub(r"@font-face \{.*?\}|<!--.*?-->|<g[^>]*>\s*(<circle[^>]*/>\s*)+</g>", "", svg, flags=re.DOTALL)
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
        await hand.press(*ADA, *keys(read(stage.knowledge / "tray-stacker")))
        return tidy(hand.app.export_screenshot(title="diag"))


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_STATE_HOME"] = folder
        stage = Stage(HERE.parents[1] / "knowledge", Path(folder) / "cases.sqlite3")
        with asyncio.Runner(loop_factory=Resting) as runner:
            svg = runner.run(picture(stage))
    out = HERE / "pictures" / "case.svg"
    out.parent.mkdir(exist_ok=True)
    out.write_text(svg, encoding="utf-8")
    print(out)


if __name__ == "__main__":
    main()
