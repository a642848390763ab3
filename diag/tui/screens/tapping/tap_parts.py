"""The parts of the box in which a person taps along with a lamp: a pad, a time line, a lamp to compare, the states."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import groupby

from textual import events
from textual.content import Content
from textual.message import Message

from diag.machine.model import Indication
from diag.text import bar, cut, one_line, percent
from diag.tui.looks.lamp_phases import Blink
from diag.tui.looks.signs import flashes, lamp_style, pattern_of, pattern_words, sign
from diag.tui.looks.wording import plain
from diag.tui.widgets.written import Written, line, lines, text

CELL = 100.0
"""Milliseconds that one character of the time line stands for."""
LEAD = "last 6 s "

BULB = {
    True: ("▗▟███▙▖", "███████", "▝▜███▛▘"),
    False: ("╭─────╮", "│     │", "╰─────╯"),
}
"""A lamp that gives light, and one that does not: full and hollow, so that it shows without colour."""
STILL = ("╭─────╮", "│ {} │", "╰─────╯")
"""A lamp that flashes, where nothing may move: its sign in the middle."""

BAR = 26
LEAST_WORDS = 16
"""Columns for the bars, where the states' words leave them so many, and for the words."""
NEVER = 1e-6


class Pad(Written):
    """What is pressed with the mouse. It tells the time of going down and of coming up, whatever is meant by it."""

    ALLOW_SELECT = False

    class Pressed(Message):
        def __init__(self, at: float) -> None:
            self.at = at
            super().__init__()

    class Released(Message):
        def __init__(self, at: float) -> None:
            self.at = at
            super().__init__()

    def __init__(self, at: Callable[[events.InputEvent], float], *, id: str | None = None) -> None:
        """`at`: the time of an event in milliseconds."""
        super().__init__(id=id)
        self._at = at

    def on_mouse_down(self, event: events.MouseDown) -> None:
        at = self._at(event)
        event.stop()
        self.capture_mouse()
        self.post_message(self.Pressed(at))

    def on_mouse_up(self, event: events.MouseUp) -> None:
        at = self._at(event)
        event.stop()
        self.release_mouse()
        self.post_message(self.Released(at))


class TimeLine(Written):
    """A time line of what was tapped, the latest at the right; a press is as long as it lasted."""

    def show(self, marks: Sequence[tuple[float, float]], now: float) -> None:
        """`marks`: from when to when, in milliseconds; `now`: the time at the right end."""
        cells = max(self.content_size.width - len(LEAD), 8)
        drawn = ["─"] * cells
        last = int(now // CELL)
        for start, end in marks:
            # Counted from a fixed beginning, so that marks move together and keep their distances.
            for cell in range(int(start // CELL), max(math.ceil(end / CELL), int(start // CELL) + 1)):
                at = cells - 1 - (last - cell)
                if 0 <= at < cells:
                    drawn[at] = "┃" if start == end else "█"
        parts = (("".join(part), ".rule" if empty else ".strong") for empty, part in groupby(drawn, key="─".__eq__))
        self.write(line((LEAD, ".quiet"), *parts))


class Likeness(Written):
    """A lamp that flashes as the best fitting state does, so that an eye can compare the two."""

    def __init__(self, indication: Indication, seconds: Callable[[], float], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._indication = indication
        self._blink = Blink(seconds)
        self._state = ""
        self._else = ""

    def show(self, state: str, otherwise: str = "") -> None:
        """The lamp in this state; without one the words `otherwise` in its place."""
        self._state, self._else = state, otherwise
        self._blink.watch([pattern_of(self._indication, state)] if state else [])
        self._blink.changed()  # what is painted now is what the next tick compares with
        self.paint()

    def tick(self) -> None:
        if self._state and self.app.animation_level != "none" and self._blink.changed():
            self.paint()

    def paint(self) -> None:
        if not self._state:
            self.write(lines([Content(""), text(self._else, ".quiet")]))
            return
        lamp, state = self._indication, self._state
        pattern = pattern_of(lamp, state)
        colour = self._blink.colour(pattern) or lamp.state(state).colour or lamp.colour
        still = flashes(pattern) and self.app.animation_level == "none"
        lit = still or self._blink.lit(pattern)
        mark = sign(lamp, state)
        bulb = [part.format(f" {mark.shape}{mark.mark}") for part in STILL] if still else BULB[lit]
        look = one_line(pattern_words(lamp, state)) or ("stays lit" if lit else "stays dark")
        room = max(self.content_size.width - 12, 8)
        rows = [text("Does it look like this?", ".quiet")]
        beside = (("", ""), (plain(state), ".strong"), (look, ""))
        for part, (words, style) in zip(bulb, beside, strict=True):
            rows.append(line("  ", (part, lamp_style(colour) if lit else ".quiet"), "  ", (cut(words, room), style)))
        self.write(lines(rows))


class Fits(Written):
    """The declared states in the order of the file, each with how well it fits."""

    def __init__(self, indication: Indication, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._indication = indication

    def show(self, shares: Mapping[str, float], best: str, head: str, room: int) -> None:
        """`shares`: of each state, summing to 1, empty while nothing is known; `best`: the state to point out;
        `head`: what they are shares of; `room`: rows for states."""
        width = self.content_size.width
        ids = list(self._indication.state_ids)
        shown = ids
        if len(ids) > room:
            ranked = sorted(ids, key=lambda s: -shares.get(s, 0.0))[: max(room - 1, 1)]
            shown = [s for s in ids if s in ranked]
        looks = {s: one_line(pattern_words(self._indication, s)) for s in shown}
        wide = max(len(plain(s)) for s in shown)
        most = max(wide + 2 + len(words) if words else len(plain(s)) for s, words in looks.items())
        column = min(most, max(width - 3 - 2 - BAR - 6, LEAST_WORDS))
        long = max(min(width - 3 - column - 2 - 6, width), 4)
        title = "States of this lamp"
        rows = [line((title, ".quiet"), (head.rjust(max(width - len(title), 0)), ".quiet"))]
        for state in shown:
            mark = sign(self._indication, state)
            name, words = plain(state), looks[state]
            if words and column >= wide + 2 + 8:
                name = name.ljust(wide)
            told = cut(f"{name}  {words}" if words else name, column)
            named = min(len(name), len(told))
            parts: list[str | tuple[str, str]] = [
                (mark.shape + mark.mark, mark.style),
                " ",
                (told[:named], ".strong" if state == best else ""),
                (told[named:].ljust(column - named), "" if state == best else ".quiet"),
            ]
            if shares:
                share = shares.get(state, 0.0)
                # No observation is impossible in any state, so that nothing here is ever 0 % or 100 %.
                words = percent(min(max(share, NEVER), 1 - NEVER if len(ids) > 1 else 1.0)).rjust(5)
                parts += ["  ", (bar(share, long), ".bar"), " ", (words, ".strong" if state == best else "")]
            rows.append(line(*parts))
        if len(shown) < len(ids):
            fewer = " that fit less well" if shares else ""
            rows.append(text(f"   and {len(ids) - len(shown)} more{fewer}", ".quiet"))
        self.write(lines(rows))
