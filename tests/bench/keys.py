"""How long a key takes to show: from pressing it to the repainted screen, in a terminal and without one.

In a terminal: a digit marks the first state of what is asked, `u` takes it back, by turns; once until banner and panel
are painted anew with it, once until the advice is, which is computed in between. In process: the same keys by Textual's
pilot, which adds its own waiting to both. Peer: a bare app of three panes that counts the keys it was pressed.
"""

from __future__ import annotations

import asyncio
import tempfile
import time
from itertools import cycle

from bare_app import Bare as BareApp
from pairs import ROOT, Pair, arguments, report
from sitting import WHO, Bare, Sitting
from textual.app import App
from textual.pilot import Pilot

PANEL, ADVICE = "ENERGISED", "NEXT"
"""What the first and the second painting after a key bring."""


async def press(pilot: Pilot[object], key: str) -> float:
    start = time.perf_counter()
    await pilot.press(key)
    return time.perf_counter() - start


async def by_pilot(app: App[object], names: tuple[str, ...], keys: tuple[str, ...], runs: int) -> list[float]:
    """Milliseconds of each of `keys`, by turns, `runs` in all, once `names` were pressed."""
    async with app.run_test(size=(80, 24)) as pilot:
        for name in names:
            await pilot.press(*("enter" if name == "\r" else name if len(name) == 1 else list(name)))
            await pilot.pause(0.3)
        await pilot.pause(1.5)
        turns = cycle(keys)
        taken = []
        for _ in range(runs):
            taken.append(await press(pilot, next(turns)) * 1000)
            await pilot.pause(0.2)
        return taken


def in_process(folder: str, runs: int) -> Pair:
    """Both apps by pilot; measured whole, then told one by one."""
    from pathlib import Path

    from diag.tui.app import DiagApp
    from diag.tui.app_context import AppContext

    app = DiagApp(AppContext(ROOT / "knowledge", Path(folder) / "pilot.sqlite3"), "tray-stacker")
    ours = iter(asyncio.run(by_pilot(app, WHO, ("1", "u"), runs + 1)))
    peer = iter(asyncio.run(by_pilot(BareApp(), (), ("1", "u"), runs + 1)))
    return Pair("a key, in process", lambda: next(ours), "bare app, in process", lambda: next(peer), "ms")


def main() -> None:
    asked = arguments(__doc__, runs=30)
    with tempfile.TemporaryDirectory() as folder, Sitting(folder) as sitting, Bare() as bare:
        keys, bare_keys = cycle("1u"), cycle("1u")

        def key(until: str) -> float:
            return sitting.key(next(keys), until) * 1000

        def bare_key() -> float:
            return bare.key(next(bare_keys), "pressed") * 1000

        peer = "bare app in a terminal"
        pairs = [
            Pair("a key, until the panel is repainted", lambda: key(PANEL), peer, bare_key, "ms", 50.0),
            Pair("a key, until the advice is repainted", lambda: key(ADVICE), peer, bare_key, "ms"),
            in_process(folder, asked.runs),
        ]
        report(pairs, asked.runs)


if __name__ == "__main__":
    main()
