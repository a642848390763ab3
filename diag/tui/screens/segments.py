"""What a segment display shows, drawn segment by segment, where typing is not enough: half a character, a strange
shape, a digit that cannot be read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from threading import Lock

from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.worker import get_current_worker

from diag.case import displays
from diag.case.sighting import Sighting
from diag.case.snapshot import IN_DOUBT
from diag.machine.model import OTHER, Code, Indication
from diag.machine.say import CannotRead
from diag.panel import decode
from diag.panel.segments import ALL, DP, MOST_DIGITS
from diag.tui.digit_entry import DARK, Cell, DigitEntry, begin
from diag.tui.helps import SEGMENTS
from diag.tui.keys import HELP_F1, Key, bindings
from diag.tui.screens.base import Box
from diag.tui.widgets.couldbe import MOST, CouldBe, could_be_rows, rest
from diag.tui.widgets.digits import Digits, legend, signs
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, line, lines, text
from diag.tui.words import clean, cut, plain

LIGHT = Key("segment", "", "a–g", "segment", "Light that segment of the marked digit, or darken it again.")
FIGURE = Key("figure", "", "0–9", "figure", "The marked digit in the usual shape of that figure.")
POINT = Key("point", "full_stop,comma", ".", "point", "Light the point of the marked digit, or darken it again.")
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

IN_STEPS = "one digit, in steps: enter each as it comes, the dark gap too"
NOT_IN_FILE = "a code that is not in this file"
STORED = "Only what was seen is stored, not this order."
GROUP = "decode"
WIDTH = 62
"""Columns beside the small drawing."""

Shares = tuple[tuple[str, float], ...]


class Segments(Box[Sighting]):
    """Gives the sight that was drawn. `could_be`: what the states of a sight come to by all that is known so far."""

    HELP_DATA = SEGMENTS
    TABLE = TABLE
    BINDINGS = bindings("segments", (*TABLE, *EACH))

    def __init__(self, indication: Indication, could_be: Callable[[Sighting], Shares], start: str = "") -> None:
        """`start`: what was typed already."""
        super().__init__()
        self._indication, self._could_be = indication, could_be
        self._entry = begin(indication.characters, indication.scrolls, start)
        self._sighting: Sighting | None = None
        # One thread at a time; those that wait give up when something else is drawn by then.
        self._decoding, self._weighing = Lock(), Lock()

    def compose(self) -> ComposeResult:
        with Vertical(classes="box segments") as box:
            box.border_title = text(clean(self._indication.title or self._indication.label))
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
            return f"{IN_STEPS[:1].upper()}{IN_STEPS[1:]}."
        return "Make the drawing look like the display. The keys act on the marked digit."

    # ------------------------------------------------------------ what is entered

    def action_segment(self, letter: str) -> None:
        self._change(self._entry.point() if letter == "." else self._entry.segment(letter))

    def action_switch(self, at: int, letter: str) -> None:
        """A click on a segment of any digit."""
        self._entry = self._entry.choose(at)
        self.action_segment(letter)

    def action_point(self) -> None:
        self._change(self._entry.point())

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

    def action_step(self, by: int | str) -> None:
        if int(by) > 0 and self._entry.full and self._indication.scrolls:
            self.query_one(Status).hint(f"No more than {MOST_DIGITS} steps. What was entered is enough.")
            return
        self._change(self._entry.step(int(by)))

    def action_take(self) -> None:
        if not self._entry.entered:
            self.query_one(Status).warn("Nothing is entered yet. If the display is dark, space says so.")
            return
        try:
            sighting = self._sighting or self._sight(self._entry)
        except CannotRead as error:
            self.query_one(Status).warn(str(error))
            return
        self.dismiss(sighting)

    def _change(self, entry: DigitEntry) -> None:
        same = entry.means == self._entry.means
        self._entry = entry
        self.query_one("#segments-digits", Digits).show(entry)
        self.query_one(Status).say("")
        if not same:
            self._sighting = None
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
        """First by the sight alone; what is known of the machine may take a while."""
        worker = get_current_worker()
        tell = partial(self.call_later, self._tell, entry)
        with self._decoding:
            if worker.is_cancelled:
                return
            try:
                sighting = self._sight(entry)
            except CannotRead as error:
                tell([line(("! ", ".warn"), clean(str(error)))])
                return
            head = self._head(entry, sighting)
            tell(head + self._states(entry, sighting, None), sighting)
        if len(sighting.seen) == 1:
            return
        with self._weighing:
            if worker.is_cancelled:
                return
            shares = self._could_be(sighting)
        if not worker.is_cancelled:
            tell(head + self._states(entry, sighting, shares), sighting)

    def _sight(self, entry: DigitEntry) -> Sighting:
        if entry.steps:
            return displays.of_steps(self._indication, entry.seen, said(entry))
        return displays.of_digits(self._indication, entry.seen, said(entry))

    def _tell(self, entry: DigitEntry, rows: Sequence[Content], sighting: Sighting | None = None) -> None:
        """What was decoded, unless something else is drawn by now."""
        if self.is_attached and entry.means == self._entry.means:
            self._sighting = sighting
            self._show(*rows)

    def _head(self, entry: DigitEntry, sighting: Sighting) -> list[Content]:
        rows = [line(("Reads as  ", ".quiet"), (cut(clean(sighting.said), WIDTH - 10), ".strong"))]
        if sighting.fault and entry.whole:
            # Not before every digit was looked at: what was not entered yet is dark as well.
            rows.append(line(("▲ ", ".warn"), (sighting.fault, ".warn")))
        return rows

    def _states(self, entry: DigitEntry, sighting: Sighting, shares: Shares | None) -> list[Content]:
        found = self._found(entry, sighting, shares)
        if len(found) == 1:
            head = "That is:"
        elif shares is None:
            head = "It could be, the best likeness first:"
        else:
            head = "It could be, by what is known so far:"
        last = STORED if len(found) > 1 else ""
        more = rest(found)
        return [
            text(head, ".quiet"),
            *could_be_rows(found, WIDTH),
            text(f"  {more}. {last}" if more else f"  {last}", ".quiet"),
        ]

    def _show(self, *rows: Content) -> None:
        self.query_one("#segments-read", Written).write(lines(rows))

    def _found(self, entry: DigitEntry, sighting: Sighting, shares: Shares | None) -> list[CouldBe]:
        weights: Mapping[str, float] = sighting.seen
        if shares is not None:
            weights = {state: share for state, share in shares if state in sighting.seen}
        ranked = sorted(weights, key=lambda state: -weights[state])
        codes = self._codes(entry, ranked[:MOST])
        return [
            self._state(state, codes.get(state, ()), weights[state] if shares is not None else None) for state in ranked
        ]

    def _state(self, state: str, codes: tuple[Code, ...], share: float | None) -> CouldBe:
        if state == OTHER:
            return CouldBe("–", NOT_IN_FILE, share)
        shown = ", ".join(c.pattern.strip() or DARK for c in codes)
        meant = {c.means for c in codes}
        if len(meant) > 1:
            return CouldBe(shown, plain(state), share)
        means = "".join(meant) or self._indication.state(state).means
        return CouldBe(shown, means or plain(state), share)

    def _codes(self, entry: DigitEntry, states: Sequence[str]) -> dict[str, tuple[Code, ...]]:
        """The codes of each of these states that fit what is drawn, best first."""
        found = {state: [c for c in self._indication.codes if c.state == state] for state in states}
        pairs = [(c.pattern, c.pattern) for codes in found.values() if len(codes) > 1 for c in codes]
        if pairs:
            if entry.steps:
                fit = decode.step_likelihoods(entry.seen, pairs)
            else:
                fit = decode.likelihoods(entry.seen, pairs, digits=len(entry.seen))
            for state, codes in found.items():
                if len(codes) > 1:
                    best = max(fit[c.pattern] for c in codes)
                    likely = [c for c in codes if fit[c.pattern] >= IN_DOUBT * best]
                    found[state] = sorted(likely, key=lambda c: -fit[c.pattern])
        return {state: tuple(codes) for state, codes in found.items()}


def said(entry: DigitEntry) -> str:
    """What is drawn in words, with its points: `E.4`; the steps of one digit as `E, 0, 4, dark`."""
    if entry.steps:
        return ", ".join(_word(cell) or DARK for cell in entry.cells)
    return "".join(_word(cell) or " " for cell in entry.cells).rstrip() or "blank"


def _word(cell: Cell) -> str:
    """One digit in words; empty when it is dark."""
    if cell is None:
        return "?"
    word = displays.drawn((cell & ALL,)) if cell & ALL else ""
    return word + "." if cell & DP else word
