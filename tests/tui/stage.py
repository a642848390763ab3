"""Drives the app as a person does: keys and clicks, and what the screen then says."""

from __future__ import annotations

import os
import re
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import monotonic

from still import LONGEST, key_event, painted, put_off, still
from textual import events
from textual.pilot import Pilot
from textual.worker import WorkerCancelled

from diag.case.log.events import Event, Stamped
from diag.case.log.stored import entries_of
from diag.record.casebook import Casebook
from diag.tui.app import DiagApp
from diag.tui.app_context import AppContext

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
VOLTS = ("=0 0 0 0 0 0 V", "enter")
"""What the meter reads at the mixer's test point when it is dead."""
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
    ahead: float = 0.0
    """What a test adds while it stands still."""

    def __call__(self) -> float:
        self.count += 0 if self.still else 1
        return self.count * 12 + self.ahead


@dataclass
class Stage:
    knowledge: Path
    book: Path
    clock: Clock = field(default_factory=Clock)
    seconds: Seconds = field(default_factory=Seconds)
    ahead: float = 0.0
    """Seconds of looking further ahead; a test that is about it says so."""
    recorded: bool = True
    """Whether the cases are kept."""
    shifts: tuple[str, ...] = ()
    """When the shifts of the site begin."""
    follows: bool = False
    """Whether a screen shows at once what others enter; a test that is about it says so."""

    @asynccontextmanager
    async def run(
        self, machine: str = "", *, case: str = "", size: tuple[int, int] = (80, 24), wait: bool = True
    ) -> AsyncIterator[Hand]:
        """The app, opened on a machine, on a case, or on the list. Without `wait` what is read in threads may be still
        to come."""
        context = AppContext(self.knowledge, self.book, self.clock, self.seconds, self.ahead, Path.cwd(), self.recorded)
        context.follows, context.shifts = self.follows, self.shifts
        app = DiagApp(context, machine, case)
        with put_off.watching():
            async with app.run_test(size=size) as pilot:
                hand = Hand(app, pilot)
                if wait:
                    await hand.settle()
                yield hand

    def events(self, case: str) -> list[Event]:
        """What the casebook keeps of a case."""
        return [e.event for e in entries_of(Casebook(self.book), case) if isinstance(e, Stamped)]

    def kinds(self, case: str) -> list[str]:
        return [e.kind for e in self.events(case)]


@dataclass
class Hand:
    """The hand at the keys and on the mouse."""

    app: DiagApp
    pilot: Pilot[int]

    async def settle(self) -> None:
        """Until nothing is being worked out any more."""
        await still(self.pilot)
        while any(not worker.is_finished for worker in self.app.workers):
            # What others enter begins a newer weighing, which calls off the one before.
            with suppress(WorkerCancelled):
                await self.app.workers.wait_for_complete()
            await still(self.pilot)

    async def until(self, holds: Callable[[], bool]) -> None:
        """Until something holds that comes by itself, such as what a ticking clock paints."""
        end = monotonic() + LONGEST
        while not holds():
            assert monotonic() < end, f"it never came to hold on:\n{self.text}"
            await self.pilot.pause(0)

    async def press(self, *keys: str) -> None:
        """Keys by name; `=words` types them."""
        for key in keys:
            for one in [NAMES.get(c, c) for c in key[1:]] if key.startswith("=") else [key]:
                await self.key(one)
            await self.settle()

    async def key(self, name: str) -> None:
        """One key by its name; what is worked out in a thread may still be on its way afterwards."""
        self.app.post_message(key_event(name))
        await still(self.pilot)

    @property
    def lines(self) -> list[str]:
        """The screen as it is seen, without its colours."""
        return painted(self.app)

    @property
    def text(self) -> str:
        """What a person reads: a space that keeps a line from breaking looks like any other."""
        return "\n".join(self.lines).replace("\u00a0", " ")

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
        await self.click_at(*self.where(words, nth))

    async def click_at(self, x: int, y: int) -> None:
        """A click on a place of the screen."""
        await self.mouse_down(x, y)
        await self.mouse_up(x, y)
        await self.settle()

    async def resize(self, width: int, height: int) -> None:
        """The terminal takes another size."""
        await self.pilot.resize_terminal(width, height)
        await self.settle()

    async def mouse_down(self, x: int, y: int) -> None:
        """Press the left button on a place of the screen."""
        await self._mouse(events.MouseDown, x, y)

    async def mouse_up(self, x: int, y: int) -> None:
        """Let it go again."""
        await self._mouse(events.MouseUp, x, y)

    async def _mouse(self, kind: type[events.MouseEvent], x: int, y: int) -> None:
        at = {"delta_x": 0, "delta_y": 0, "button": 1, "shift": False, "meta": False, "ctrl": False}
        self.app.post_message(kind(None, x, y, **at, screen_x=x, screen_y=y, style=None))
        await still(self.pilot)


def golden(hand: Hand, name: str) -> None:
    """The screen is as it was approved; with DIAG_GOLDENS=new the present one is kept as approved."""
    width, height = hand.app.size
    file = GOLDENS / f"{name}-{width}x{height}.txt"
    if os.environ.get("DIAG_GOLDENS") == "new":
        file.write_text(hand.text + "\n", encoding="utf-8")
    assert file.exists(), f"{file.name} is missing: DIAG_GOLDENS=new makes it"
    assert hand.text + "\n" == file.read_text(encoding="utf-8"), f"{file.name} differs; DIAG_GOLDENS=new keeps this one"
