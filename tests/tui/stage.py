"""Drives the app as a person does: keys and clicks, and what the screen then says."""

from __future__ import annotations

import os
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from still import on_stage, still
from textual.pilot import Pilot

from diag.case.casebook import Casebook
from diag.case.events import Event, Stamped
from diag.tui.app import DiagApp
from diag.tui.session import Desk

NIGHT = datetime(2026, 11, 25, 3, 12, tzinfo=UTC)
GOLDENS = Path(__file__).parent / "goldens"
NAMES = {
    " ": "space",
    "/": "slash",
    "-": "minus",
    ".": "full_stop",
    ",": "comma",
    "_": "underscore",
    "%": "percent_sign",
}
ADA = ("=Ada Brandt", "enter", "2", "a", "l", "enter")
"""Ada, an electrician who may lock out and work live."""
OLE = ("=Ole", "enter", "1", "enter")
"""Ole, an operator."""
EVA = ("=Eva", "enter", "3", "a", "l", "enter")
"""Eva, an engineer."""


@dataclass
class Clock:
    """Stands still until a test sets it on."""

    now: datetime = NIGHT

    def __call__(self) -> datetime:
        return self.now

    def on(self, minutes: float) -> None:
        self.now += timedelta(minutes=minutes)


@dataclass
class Seconds:
    """Another second each time it is asked: nobody is ever too quick, and what blinks is in its lit phase."""

    count: int = 0
    still: bool = False

    def __call__(self) -> float:
        self.count += 0 if self.still else 1
        return float(self.count * 12)


@dataclass
class Stage:
    knowledge: Path
    book: Path
    clock: Clock = field(default_factory=Clock)
    seconds: Seconds = field(default_factory=Seconds)
    ahead: float = 0.0
    """Seconds of looking further ahead; a test that is about it says so."""

    @asynccontextmanager
    async def run(self, machine: str = "", *, case: str = "", size: tuple[int, int] = (80, 24)) -> AsyncIterator[Hand]:
        """The app, opened on a machine, on a case, or on the list."""
        desk = Desk(self.knowledge, self.book, self.clock, self.seconds, self.ahead)
        app = DiagApp(desk, machine, case)
        async with app.run_test(size=size) as pilot:
            hand = Hand(app, pilot)
            on_stage.append(app)
            try:
                await hand.settle()
                yield hand
            finally:
                on_stage.remove(app)

    def events(self, case: str) -> list[Event]:
        """What the casebook keeps of a case."""
        return [e.event for e in Casebook(self.book).events(case) if isinstance(e, Stamped)]

    def kinds(self, case: str) -> list[str]:
        return [e.kind for e in self.events(case)]


@dataclass
class Hand:
    """The hand at the keys and on the mouse."""

    app: DiagApp
    pilot: Pilot[int]

    async def settle(self) -> None:
        """Until nothing is being worked out any more."""
        await still()
        while any(not worker.is_finished for worker in self.app.workers):
            await self.app.workers.wait_for_complete()
            await still()

    async def press(self, *keys: str) -> None:
        """Keys by name; `=words` types them."""
        for key in keys:
            for one in [NAMES.get(c, c) for c in key[1:]] if key.startswith("=") else [key]:
                await self.pilot.press(one)
            await self.settle()

    @property
    def lines(self) -> list[str]:
        """The screen as it is seen, without its colours."""
        return [strip.text.rstrip() for strip in self.app.screen._compositor.render_strips()]

    @property
    def text(self) -> str:
        return "\n".join(self.lines)

    @property
    def words(self) -> str:
        """The same on one line, so that it does not matter where a sentence breaks."""
        return " ".join(re.sub("[│┃]", " ", self.text).split())

    @property
    def box(self) -> str:
        """The words of the box that stands over the screen."""
        x, y, width, height = self.app.screen.query_one(".box").region
        return " ".join(" ".join(row[x + 1 : x + width - 1] for row in self.lines[y : y + height]).split())

    @property
    def status(self) -> str:
        """The line that says what was done, or why not."""
        from diag.tui.widgets.status import Status

        return self.app.screen.query_one(Status).content.plain

    @property
    def keys(self) -> str:
        """The footer, on one line."""
        from diag.tui.widgets.keybar import KeyBar

        bar = self.app.screen.query_one(KeyBar).region
        return "  ".join(filter(None, (row.rstrip() for row in self.lines[bar.y : bar.bottom])))

    def _shown_in_full(self, words: str) -> bool:
        return words in " ".join(row[41:].strip("│ ─") for row in self.lines[2:6])

    async def turn_to(self, words: str) -> None:
        """Turn from alternative to alternative until these words are what is shown in full."""
        for _ in range(5):
            if self._shown_in_full(words):
                return
            await self.press("a")
        raise AssertionError(f"{words!r} is not offered:\n{self.text}")

    async def turn_to_by_mouse(self, words: str) -> None:
        """The same with clicks."""
        for _ in range(5):
            if self._shown_in_full(words):
                return
            await self.click("a other")
        raise AssertionError(f"{words!r} is not offered:\n{self.text}")

    def where(self, words: str, nth: int = 1) -> tuple[int, int]:
        """Column and row at which these words stand. Raises AssertionError with the screen when they do not."""
        found = [(m.start(), y) for y, row in enumerate(self.lines) for m in re.finditer(re.escape(words), row)]
        assert len(found) >= nth, f"no {words!r} on:\n{self.text}"
        return found[nth - 1]

    async def click(self, words: str, nth: int = 1) -> None:
        """A click on words of the screen."""
        await self.pilot.click(offset=self.where(words, nth))
        await self.settle()


def golden(hand: Hand, name: str) -> None:
    """The screen is as it was approved; with DIAG_GOLDENS=new the present one is kept as approved."""
    width, height = hand.app.size
    file = GOLDENS / f"{name}-{width}x{height}.txt"
    if os.environ.get("DIAG_GOLDENS") == "new":
        file.write_text(hand.text + "\n", encoding="utf-8")
    assert file.exists(), f"{file.name} is missing: DIAG_GOLDENS=new makes it"
    assert hand.text + "\n" == file.read_text(encoding="utf-8"), f"{file.name} differs; DIAG_GOLDENS=new keeps this one"
