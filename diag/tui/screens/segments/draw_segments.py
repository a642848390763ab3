"""What a segment display shows, drawn segment by segment, where typing is not enough: half a character, a strange
shape, a digit that cannot be read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from threading import Lock

from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.worker import get_current_worker

from diag.case.observe.observation import Observation
from diag.machine.model import Indication
from diag.machine.states.say import CannotRead
from diag.panel.display.segments import MOST_DIGITS
from diag.text import bar, cut, one_line, percent
from diag.tui.key_table import HELP_F1, Key, bindings
from diag.tui.screen_help import SEGMENTS
from diag.tui.screens.base import Box
from diag.tui.screens.segments.digit_entry import DigitEntry, begin
from diag.tui.screens.segments.digits import Digits, legend, signs
from diag.tui.screens.segments.drawn_code import MOST, CouldBe, Shares, could_be, observed
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, line, lines, text

LIGHT = Key("segment", "", "a–g", "segment", "Light that segment of the marked digit, or darken it again.")
FIGURE = Key("figure", "", "0–9", "figure", "The marked digit in the usual shape of that figure.")
POINT = Key("segment('.')", "full_stop,comma", ".", "point", "Light the point of the marked digit, or darken it again.")
ON = "To the next digit or step; past the last step one more is added, up to 8. A click on a digit goes there."
NEXT = Key("step(1)", "right", "→", "next digit", ON)
NEXT_STEP = Key("step(1)", "right", "→", "next step", ON)
BEFORE = Key("step(-1)", "left", "←", "before", "To the digit or step before.")
BLANK = Key("blank", "space", "space", "blank", "The marked digit is dark.")
UNREAD = Key("unread", "x", "x", "cannot be read", "The marked digit could not be read; x again takes that back.")
CLEAR = Key("clear", "backspace", "backspace", "clear all", "Begin again with nothing entered.")
TAKE = Key("take", "enter", "↵", "take", "Take what is drawn.")
BACK = Key("back", "escape", "esc", "back", "Leave everything as it was.")
TABLE = (LIGHT, FIGURE, POINT, BEFORE, NEXT, BLANK, UNREAD, CLEAR, TAKE, BACK, HELP_F1)
STEPS = tuple(NEXT_STEP if key is NEXT else key for key in TABLE)
EACH = (
    *(Key(f"segment('{c}')", c, "", "", "") for c in "abcdefg"),
    *(Key(f"figure({n})", str(n), "", "", "") for n in range(10)),
)
"""One key for each segment and each figure."""

STORED = "Only what was seen is stored, not this order."
GROUP = "decode"
WIDTH = 62
"""Columns beside the small drawing."""
BAR = 5
CODE = 12
"""Columns that a code may take."""


class Segments(Box[Observation]):
    """Gives the observation that was drawn. `could_be`: how likely its states are by all that is known so far."""

    HELP_DATA = SEGMENTS
    TABLE = TABLE
    BINDINGS = bindings("segments", (*TABLE, *EACH))

    def __init__(self, indication: Indication, could_be: Callable[[Observation], Shares], start: str = "") -> None:
        """`start`: what was typed already."""
        super().__init__()
        self._indication, self._could_be = indication, could_be
        self._entry = begin(indication.characters, indication.scrolls, start)
        self._observation: Observation | None = None
        # One thread at a time; those that wait give up when something else is drawn by then.
        self._decoding, self._weighing = Lock(), Lock()

    def compose(self) -> ComposeResult:
        with Vertical(classes="box segments") as box:
            box.border_title = text(one_line(self._indication.title or self._indication.label))
            yield Written(text(self._about()), id="segments-about")
            yield Digits(self._entry, id="segments-digits")
            with Horizontal(id="segments-below"):
                yield Written(id="segments-read")
                yield Written(legend(signs()), id="segments-legend")
            yield Status(id="segments-status")
            yield KeyBar(self.keys())

    def on_mount(self) -> None:
        self._look()

    def keys(self) -> Iterable[Key]:
        return STEPS if self._indication.scrolls else TABLE

    def _about(self) -> str:
        if self._indication.scrolls:
            return "One digit, in steps: enter each as it comes, the dark gap too."
        return "Make the drawing look like the display. The keys act on the marked digit."

    # ------------------------------------------------------------ what is entered

    def action_segment(self, letter: str) -> None:
        self._change(self._entry.point() if letter == "." else self._entry.segment(letter))

    def action_switch(self, at: int, letter: str) -> None:
        """A click on a segment of any digit."""
        self._entry = self._entry.choose(at)
        self.action_segment(letter)

    def action_figure(self, figure: int) -> None:
        self._change(self._entry.figure(figure))

    def action_blank(self) -> None:
        self._change(self._entry.blank())

    def action_unread(self) -> None:
        self._change(self._entry.unread())

    def action_clear(self) -> None:
        self._change(self._entry.clear())

    def action_choose(self, at: int) -> None:
        self._change(self._entry.choose(at))

    def action_step(self, by: int) -> None:
        if by > 0 and self._entry.full and self._indication.scrolls:
            self.query_one(Status).hint(f"No more than {MOST_DIGITS} steps. What was entered is enough.")
            return
        self._change(self._entry.step(by))

    def action_take(self) -> None:
        if not self._entry.entered:
            self.query_one(Status).warn("Nothing is entered yet. If the display is dark, space says so.")
            return
        try:
            observation = self._observation or observed(self._indication, self._entry)
        except CannotRead as error:
            self.query_one(Status).warn(str(error))
            return
        self.dismiss(observation)

    def _change(self, entry: DigitEntry) -> None:
        same = entry.means == self._entry.means
        self._entry = entry
        self.query_one("#segments-digits", Digits).show(entry)
        self.query_one(Status).say("")
        if not same:
            self._observation = None
            self._look()

    # ------------------------------------------------------------ what it may be

    def _look(self) -> None:
        """Decode what is drawn, apart from the drawing, which never waits for it."""
        if self._entry.entered:
            self._decode(self._entry)
        else:
            self.workers.cancel_group(self, GROUP)
            self._show(text("Nothing entered yet.", ".quiet"))

    @work(thread=True, exclusive=True, group=GROUP, exit_on_error=False)
    def _decode(self, entry: DigitEntry) -> None:
        """First by the observation alone; what is known of the machine may take a while."""
        worker = get_current_worker()
        tell = partial(self.call_later, self._tell, entry)
        with self._decoding:
            if worker.is_cancelled:
                return
            try:
                observation = observed(self._indication, entry)
            except CannotRead as error:
                tell([line(("! ", ".warn"), one_line(str(error)))])
                return
            head = self._head(entry, observation)
            tell(head + self._states(entry, observation, None), observation)
        if len(observation.seen) == 1:
            return
        with self._weighing:
            if worker.is_cancelled:
                return
            shares = self._could_be(observation)
        if not worker.is_cancelled:
            tell(head + self._states(entry, observation, shares), observation)

    def _tell(self, entry: DigitEntry, rows: Sequence[Content], observation: Observation | None = None) -> None:
        """What was decoded, unless something else is drawn by now."""
        if self.is_attached and entry.means == self._entry.means:
            self._observation = observation
            self._show(*rows)

    def _head(self, entry: DigitEntry, observation: Observation) -> list[Content]:
        rows = [line(("Reads as  ", ".quiet"), (cut(one_line(observation.said), WIDTH - 10), ".strong"))]
        if observation.fault and entry.whole:
            # Not before every digit was looked at: what was not entered yet is dark as well.
            rows.append(line(("▲ ", ".warn"), (observation.fault, ".warn")))
        return rows

    def _states(self, entry: DigitEntry, observation: Observation, shares: Shares | None) -> list[Content]:
        found = could_be(self._indication, entry, observation, shares)
        by = "the best likeness first" if shares is None else "by what is known so far"
        head = "That is:" if len(found) == 1 else f"It could be, {by}:"
        more = f"and {len(found) - MOST} more. " if len(found) > MOST else ""
        last = text(f"  {more}{STORED if len(found) > 1 else ''}", ".quiet")
        shown = found[:MOST]
        column = min(max((len(one_line(f.code)) for f in shown), default=0), CODE)
        return [text(head, ".quiet"), *(_row(f, column) for f in shown), last]

    def _show(self, *rows: Content) -> None:
        self.query_one("#segments-read", Written).write(lines(rows))


def _row(found: CouldBe, column: int) -> Content:
    """A state that it may be, with its code in so many columns."""
    lead: Content = text("  ")
    if found.share is not None:
        lead = line("  ", percent(found.share).rjust(5), " ", (bar(found.share, BAR), ".bar"), " ")
    code = cut(one_line(found.code), column).ljust(column)
    room = max(WIDTH - len(lead) - column - 2, 0)
    return line(lead, (code, ".strong"), "  ", cut(one_line(found.means), room))
