"""Tapping along with a flashing lamp: once each time it lights, and at once how well each of its states fits.

The box gives back a sight and posts nothing. What it shows are likelihoods of the taps, never a belief.
"""

from __future__ import annotations

import asyncio
import sys
import time
from collections.abc import Callable, Iterable
from typing import Final

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content

from diag.case import lamps
from diag.case.lamps import Tapped, patterns
from diag.case.sighting import Sighting
from diag.machine.model import Indication
from diag.panel import taps
from diag.tui.helps import TAPPING
from diag.tui.keys import HELP, Key, bindings
from diag.tui.rhythm import Rhythm
from diag.tui.screens.base import Box
from diag.tui.signs import pattern_words
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.tapping import Fits, Likeness, Pad, Strip
from diag.tui.widgets.written import Written, line, lines, text
from diag.tui.words import clean, plain

TAP = Key("tap", "space", "space", "tap", "Once each time the lamp lights. A click on the pad does the same.")
LIGHTS = Key("lights", "j", "j", "lights", "Holding: the lamp lights. With the mouse: press on the pad.")
DARK = Key("dark", "k", "k", "goes dark", "Holding: the lamp goes dark. With the mouse: let go.")
HOLD = Key("switch", "h", "h", "hold instead", "Mark also when it goes dark, not only when it lights; and back.")
TAP_AGAIN = Key("switch", "h", "h", "tap instead", "")
STAYS_LIT = Key("stays('lit')", "l", "l", "stays lit", "It does not flash at all, and is lit.")
STAYS_DARK = Key("stays('dark')", "d", "d", "stays dark", "It does not flash at all, and is dark.")
FAST = Key("fast", "f", "f", "too fast", "It flashes too fast to tap along.")
ANEW = Key("anew", "backspace", "bksp", "start again", "Forget what was tapped.")
TAKE = Key("take", "enter", "↵", "take", "Take what the taps say now.")
BACK = Key("back", "escape", "esc", "back", "Leave it, with nothing entered.")
REST = (STAYS_LIT, STAYS_DARK, FAST, ANEW, TAKE, BACK, HELP)
TABLE = (TAP, HOLD, LIGHTS, DARK, *REST)
BY_TAPS = (TAP, HOLD, *REST)
BY_HOLDING = (LIGHTS, DARK, TAP_AGAIN, *REST)

ROUNDS: Final = taps.NEEDED - 0.2
"""Periods to tap, with what the lamp's own timer may be off."""
TICK = 1 / 30
"""Seconds between two looks at what moves."""
RUNS_ON = 2000.0
"""Milliseconds after the last tap for which the time line runs on; then it waits, so that it can be looked at."""
ENOUGH_TO_SAY = 4
"""Taps before it is said that the file does not know what they look like."""
APART = 0.4
"""Seconds between the two Enters that take a sight which the file does not know. A held key repeats faster."""
AROUND = 14
"""Rows of the box that are not states, its keys on two rows included."""
BLANK = 3
"""Blank rows between the parts, where the screen has so many."""


class TapAlong(Box[Sighting]):
    """Gives the sight that the taps make, or None."""

    HELP_DATA = TAPPING
    TABLE = TABLE
    BINDINGS = bindings("tapping", TABLE)

    def __init__(self, indication: Indication, seconds: Callable[[], float], where: str = "") -> None:
        """`seconds`: a clock that only ever goes forward, for the taps and for what blinks; `where`: where the lamp is,
        if not as its file says."""
        super().__init__(classes="tapper")
        self._indication, self._seconds = indication, seconds
        self._where = clean(where or indication.where)
        self._rhythm = Rhythm()
        self._sighting: Sighting | None = None
        self._of: Tapped | None = None
        """What the sighting is of; other than what is tapped while that is still being weighed."""
        self._weighing = False
        self._mouse = False
        self._asked: float | None = None
        """When Enter was first pressed on a sight that the file does not know."""

    # ------------------------------------------------------------ drawing

    def compose(self) -> ComposeResult:
        with Vertical(classes="box") as box:
            # As written text: a title of words alone would be read as markup.
            box.border_title = text(f"TAP ALONG · {clean(self._indication.title)}")
            if self._where:
                yield Written(text(self._where, ".quiet"), id="tap-where")
            yield Written(id="tap-how")
            with Horizontal(id="tap-top"):
                yield Pad(self._at, id="tap-pad")
                yield Likeness(self._indication, self._seconds, id="tap-like")
            yield Strip(id="tap-strip")
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
        """Paint all of it."""
        if not self.is_mounted:
            return
        self._space_out()
        self.query_one(KeyBar).show(self.keys())
        self.query_one("#tap-how", Written).write(self._how())
        pad = self.query_one(Pad)
        pad.set_class(self._mouse or self._rhythm.down is not None, "-down")
        pad.write(self._on_pad())
        self._show_strip()
        self._show_fits()
        self._tell()

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
        if not rhythm.hold:
            return lines([text("TAP HERE", ".strong"), Content(""), text(_count(rhythm.count, "tap"), ".quiet")])
        now = "now let go when it goes dark" if rhythm.down is not None else "hold while it is lit"
        return lines([text("HOLD HERE", ".strong"), Content(now), text(_count(rhythm.count, "press", "es"), ".quiet")])

    def _show_strip(self) -> None:
        marks, down = self._rhythm.marks, self._rhythm.down
        last = down if down is not None else marks[-1][1] if marks else 0.0
        now = last
        if self.app.animation_level != "none" and last:
            now = min(max(self._seconds() * 1000, last), last + RUNS_ON)
        if down is not None:
            marks = (*marks, (down, max(now, down + 1)))
        self.query_one(Strip).show(marks, now)

    def _show_fits(self) -> None:
        found = self._sighting
        shares: dict[str, float] = {}
        if found is not None:
            whole = sum(found.seen.values())
            shares = {s: found.seen.get(s, 0.0) / whole for s in self._indication.state_ids}
        head = ""
        if found is not None:
            what = "that fits" if self._rhythm.claim else "the presses fit" if self._rhythm.hold else "the taps fit"
            head = f"how well {what}" + (": none well" if found.note else "")
        if found is None:
            otherwise = "A lamp flashes here as the best fitting state does, to compare."
        else:
            otherwise = "No state of this lamp looks like that." if found.note else ""
        best = max(shares, key=lambda s: shares[s]) if shares and not otherwise else ""
        self.query_one(Fits).show(shares, best, head, self._room)
        self.query_one(Likeness).show(best, otherwise)

    # ------------------------------------------------------------ what it says

    def _tell(self) -> None:
        """One line: what hinders, what to do next, or that it is enough."""
        status, rhythm, found = self.query_one(Status), self._rhythm, self._sighting
        if rhythm.repeats:
            status.warn("Tap the key, do not hold it.")
        elif found is None:
            status.hint(f"Tap along for about {taps.NEEDED} rounds. How well each state fits shows at once.")
        elif found.note and not rhythm.claim and rhythm.count < ENOUGH_TO_SAY and self._asked is None:
            status.hint("So far no state of this lamp fits. Go on tapping.")
        elif found.note:
            again = " Enter once more takes it all the same." if self._asked is not None else ""
            status.warn(found.note + again)
        elif lamps.settled(self._indication, found):
            self._tell_best(status, found)
        else:
            self._tell_open(status, found)

    def _tell_best(self, status: Status, found: Sighting) -> None:
        best = found.doubtful[0]
        pattern = patterns(self._indication.states)[best]
        if self._rhythm.claim or not pattern.changes or self._rhythm.rounds(pattern) >= ROUNDS:
            status.say(f"Enough: {self._named(best)} stands out.")
        else:
            status.hint(f"So far {self._named(best)} stands out. Go on a little.")

    def _tell_open(self, status: Status, found: Sighting) -> None:
        one, other = sorted(found.doubtful[:2], key=self._indication.state_ids.index)
        known = patterns(self._indication.states)
        both = f"{self._named(one)} and {self._named(other)}"
        if known[one].phases == known[other].phases:
            status.hint(f"{both} flash alike: tapping cannot tell them apart.")
        elif self._rhythm.claim or self._rhythm.rounds(known[found.doubtful[0]]) >= 2 * taps.NEEDED:
            status.hint(f"Not to be told apart so far: {both}. Enter takes it as doubtful.")
        else:
            status.hint(f"Go on{'' if self._rhythm.hold else ' tapping'}: {both} both fit.")

    def _named(self, state: str) -> str:
        words = pattern_words(self._indication, state)
        return f"{plain(state)} ({clean(words)})" if words and words != plain(state) else plain(state)

    # ------------------------------------------------------------ tapping

    def _at(self, event: events.InputEvent) -> float:
        """When it was pressed, in milliseconds: as the terminal was read, where that is told by the same clock."""
        same = self._seconds is time.monotonic and sys.platform != "win32"
        return (event.time if same else self._seconds()) * 1000

    def on_key(self, event: events.Key) -> None:
        """What needs the time of the key itself goes before the bindings, which do not know it."""
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

    def action_stays(self, looks: str) -> None:
        self._rhythm.say("lit" if looks == "lit" else "dark")
        self._changed()

    def action_fast(self) -> None:
        self._rhythm.say("fast")
        self._changed()

    def action_anew(self) -> None:
        self._rhythm.clear()
        self._changed()

    # ------------------------------------------------------------ weighing

    def _changed(self) -> None:
        """Paint what was tapped; weigh it in a thread, so that the next tap is not kept waiting."""
        self._asked = None
        tapped = self._rhythm.tapped
        if tapped is None:
            self._sighting = self._of = None
        self._show()
        if tapped is not None and tapped != self._of and not self._weighing:
            self._weighing = True
            self.run_worker(self._weigh(tapped), group="weigh")

    async def _weigh(self, tapped: Tapped) -> None:
        self._weighed(tapped, await asyncio.to_thread(lamps.of_taps, self._indication, tapped))

    def _weighed(self, tapped: Tapped, found: Sighting) -> None:
        self._weighing = False
        if not self.is_mounted:
            return
        now = self._rhythm.tapped
        if now is not None:
            self._sighting, self._of = found, tapped
            if now != tapped:
                self._changed()
            else:
                self._show()

    def action_take(self) -> None:
        tapped = self._rhythm.tapped
        if tapped is None:
            self.query_one(Status).warn("Nothing was tapped yet.")
            return
        if tapped != self._of or self._sighting is None:
            self._sighting, self._of = lamps.of_taps(self._indication, tapped), tapped
        now = self._seconds()
        if self._sighting.note and (self._asked is None or now - self._asked < APART):
            self._asked = now
            self._show()
            return
        self.dismiss(self._sighting)


def _count(number: int, one: str, more: str = "s") -> str:
    return f"{number} {one if number == 1 else one + more}" if number else "none yet"
