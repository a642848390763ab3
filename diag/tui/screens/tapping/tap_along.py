"""Tapping along with a flashing lamp: once each time it lights, and at once how well each of its states fits.

The box gives back an observation and posts nothing. What it shows are likelihoods of the taps, never a belief.
"""

from __future__ import annotations

import asyncio
import sys
import time
from collections.abc import Callable, Iterable

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content

from diag.case.observe.from_lamp import Tapped
from diag.case.observe.observation import Observation
from diag.machine.model import Indication
from diag.text import one_line
from diag.tui.key_table import HELP, Key, bindings
from diag.tui.screen_help import TAPPING
from diag.tui.screens.base import Box
from diag.tui.screens.tapping.rhythm import Claim
from diag.tui.screens.tapping.tap_parts import Fits, Likeness, Pad, TimeLine
from diag.tui.screens.tapping.tapping import Tapping
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, line, lines, text

TAP = Key("tap", "space", "space", "tap", "Once each time the lamp lights. A click on the pad does the same.")
LIGHTS = Key("lights", "j", "j", "lights", "Holding: the lamp lights. With the mouse: press on the pad.")
DARK = Key("dark", "k", "k", "goes dark", "Holding: the lamp goes dark. With the mouse: let go.")
HOLD = Key("switch", "h", "h", "hold instead", "Mark also when it goes dark, not only when it lights; and back.")
TAP_AGAIN = Key("switch", "h", "h", "tap instead", "")
STAYS_LIT = Key("claim('lit')", "l", "l", "stays lit", "It does not flash at all, and is lit.")
STAYS_DARK = Key("claim('dark')", "d", "d", "stays dark", "It does not flash at all, and is dark.")
FAST = Key("claim('fast')", "f", "f", "too fast", "It flashes too fast to tap along.")
ANEW = Key("anew", "backspace", "bksp", "start again", "Forget what was tapped.")
TAKE = Key("take", "enter", "↵", "take", "Take what the taps say now.")
BACK = Key("back", "escape", "esc", "back", "Leave it, with nothing entered.")
REST = (STAYS_LIT, STAYS_DARK, FAST, ANEW, TAKE, BACK, HELP)
TABLE = (TAP, HOLD, LIGHTS, DARK, *REST)
BY_TAPS = (TAP, HOLD, *REST)
BY_HOLDING = (LIGHTS, DARK, TAP_AGAIN, *REST)

TICK = 1 / 30
"""Seconds between two updates of what moves."""
AROUND = 14
"""Rows of the box that are not states, its keys on two rows included."""
BLANK = 3
"""Blank rows between the parts, where the screen has so many."""


class TapAlong(Box[Observation]):
    """Gives the observation that the taps make, or None."""

    HELP_DATA = TAPPING
    TABLE = TABLE
    BINDINGS = bindings("tapping", TABLE)

    def __init__(self, indication: Indication, seconds: Callable[[], float], where: str = "") -> None:
        """`seconds`: a clock that only ever goes forward, for the taps and for what blinks; `where`: where the lamp is,
        if not as its file says."""
        super().__init__(classes="tapper")
        self._indication, self._seconds = indication, seconds
        self._where = one_line(where or indication.where)
        self._tapping = Tapping(indication)
        self._rhythm = self._tapping.rhythm
        self._weighing = False
        self._mouse = False

    # ------------------------------------------------------------ drawing

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            # As written text: a title of words alone would be read as markup.
            box.border_title = text(f"TAP ALONG · {one_line(self._indication.title)}")
            if self._where:
                yield Written(text(self._where, ".quiet"), id="tap-where")
            yield Written(id="tap-how")
            with Horizontal(id="tap-top"):
                yield Pad(self._at, id="tap-pad")
                yield Likeness(self._indication, self._seconds, id="tap-like")
            yield TimeLine(id="tap-strip")
            yield Fits(self._indication, id="tap-fits")
            yield Status(id="tap-status")
            yield KeyBar(BY_TAPS)

    def on_mount(self) -> None:
        self.set_interval(TICK, self._tick)
        self.call_after_refresh(self._show)

    def on_resize(self) -> None:
        self.call_after_refresh(self._show)

    def keys(self) -> Iterable[Key]:
        return BY_HOLDING if self._rhythm.hold else BY_TAPS

    def _tick(self) -> None:
        if self.app.animation_level != "none":
            self.query_one(Likeness).tick()
            self._show_strip()

    def _show(self) -> None:
        """Paints the whole box."""
        if not self.is_mounted:
            return
        self._space_out()
        self.query_one(KeyBar).show(self.keys())
        self.query_one("#tap-how", Written).write(self._how())
        pad = self.query_one(Pad)
        pad.set_class(self._mouse or self._rhythm.down is not None, "-down")
        pad.write(self._on_pad())
        self._show_strip()
        fit = self._tapping.fit
        self.query_one(Fits).show(fit.shares, fit.best, fit.head, self._room)
        self.query_one(Likeness).show(fit.best, fit.otherwise)
        self.query_one(Status).show(*self._tapping.told())

    def _space_out(self) -> None:
        """Blank rows between the parts, where there is room for them."""
        rows = self.app.size.height - AROUND - bool(self._where)
        blank = min(max(rows - len(self._indication.states), 0), BLANK)
        for n in range(1, BLANK + 1):
            self.set_class(blank >= n, f"-blank-{n}")
        self._room = max(rows - blank, 3)

    def _how(self) -> Content:
        if self._rhythm.hold:
            return line(
                ("j", ".key"), " when it lights, ", ("k", ".key"), " when it goes dark. With the mouse: hold while lit."
            )
        return line("Press ", ("space", ".key"), ", or click the pad, once each time it lights.")

    def _on_pad(self) -> Content:
        rhythm = self._rhythm
        head, now, one, more = "TAP HERE", "", "tap", "taps"
        if rhythm.hold:
            now = "now let go when it goes dark" if rhythm.down is not None else "hold while it is lit"
            head, one, more = "HOLD HERE", "press", "presses"
        count = f"{rhythm.count} {one if rhythm.count == 1 else more}" if rhythm.count else "none yet"
        return lines([text(head, ".strong"), Content(now), text(count, ".quiet")])

    def _show_strip(self) -> None:
        moves = self.app.animation_level != "none"
        self.query_one(TimeLine).show(*self._tapping.time_line(self._seconds() * 1000 if moves else None))

    # ------------------------------------------------------------ tapping

    def _at(self, event: events.InputEvent) -> float:
        """When it was pressed, in milliseconds: as the terminal was read, where that is told by the same clock."""
        same = self._seconds is time.monotonic and sys.platform != "win32"
        return (event.time if same else self._seconds()) * 1000

    def on_key(self, event: events.Key) -> None:
        """Keys that need their exact time are taken here, because a binding does not know it."""
        acts = {TAP.keys: self._tap, LIGHTS.keys: self._lights, DARK.keys: self._goes_dark}
        if event.key in acts:
            at = self._at(event)
            event.stop()
            event.prevent_default()
            acts[event.key](at)

    @on(Pad.Pressed)
    def pressed(self, event: Pad.Pressed) -> None:
        self._mouse = True
        if self._rhythm.hold:
            self._lights(event.at)
        else:
            self._tap(event.at)

    @on(Pad.Released)
    def released(self, event: Pad.Released) -> None:
        was, self._mouse = self._mouse, False
        if self._rhythm.hold and was:
            self._goes_dark(event.at)
        else:
            self._show()

    def _tap(self, at: float) -> None:
        if self._rhythm.hold:
            self.query_one(Status).hint("j when it lights, k when it goes dark; h goes back to tapping.")
            return
        self._rhythm.tap(at)
        self._changed()

    def _lights(self, at: float) -> None:
        if self._rhythm.hold:
            self._rhythm.lights(at)
            self._changed()

    def _goes_dark(self, at: float) -> None:
        if not self._rhythm.hold:
            return
        if self._rhythm.goes_dark(at):
            self._changed()
        else:
            self._show()
            self.query_one(Status).hint("First j, when it lights; then k, when it goes dark.")

    def action_tap(self) -> None:
        self._tap(self._seconds() * 1000)

    def action_lights(self) -> None:
        self._lights(self._seconds() * 1000)

    def action_dark(self) -> None:
        self._goes_dark(self._seconds() * 1000)

    def action_switch(self) -> None:
        self._mouse = False
        self._rhythm.switch()
        self._changed()

    def action_claim(self, claim: Claim) -> None:
        self._rhythm.say(claim)
        self._changed()

    def action_anew(self) -> None:
        self._rhythm.clear()
        self._changed()

    # ------------------------------------------------------------ weighing

    def _changed(self) -> None:
        """Paint what was tapped; weigh it in a thread, so that the next tap is not kept waiting."""
        tapped = self._tapping.changed()
        self._show()
        if tapped is not None and not self._weighing:
            self._weighing = True
            self.run_worker(self._weigh(tapped), group="weigh")

    async def _weigh(self, tapped: Tapped) -> None:
        found = await asyncio.to_thread(self._tapping.weigh, tapped)
        self._weighing = False
        if not self.is_mounted:
            return
        if self._tapping.weighed(tapped, found) is not None:
            self._changed()
        else:
            self._show()

    def action_take(self) -> None:
        if not self._rhythm.tapped:
            self.query_one(Status).warn("Nothing was tapped yet.")
            return
        found = self._tapping.take(self._seconds())
        if found is not None:
            self.dismiss(found)
        else:
            self._show()
