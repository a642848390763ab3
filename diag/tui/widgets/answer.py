"""Where an answer is given: the indication that a key marks now, its states as numbered chips, or a line to type in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Input

from diag.machine.model import Indication, Kind
from diag.tui.signs import flashes, pattern_words, sign
from diag.tui.widgets.written import Written, clickable, line, lines, text
from diag.tui.words import clean, cut, plain, unit

DIGITS = 9
"""States that have a digit of their own; what is beyond is chosen from a list."""

GAP, NARROW = "   ", "  "
"""Between chips; the narrow one where they would take another row."""
ROWS = 2
"""Rows of chips."""


@dataclass(frozen=True, slots=True)
class Target:
    """What a key marks now."""

    indication: Indication
    source: str = "NEXT"
    """Whose turn it is: `NEXT`, `PANEL` or `FOUND`, as the strip is headed."""
    check: str = ""
    state: str = ""
    """The state that stands, to be told from the others."""
    before: str = ""
    """The answer will be recorded as found before this case, by this person."""
    of: str = ""
    """`2 of 4` for a check that gives several."""
    closed: str = ""
    """Why no answer is taken as done now; empty when one is."""
    shut: bool = False
    """The place for the answer is closed as well: it is inside, and the gate is not passed."""

    @property
    def open(self) -> bool:
        """An answer may be given: one of now, or one that was found before this case."""
        return not self.shut or bool(self.before)


class Typed(Input):
    """The line to type in. Escape gives the keys back."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "back", show=False)]

    class Left(Message):
        """Nothing more will be typed."""

    def action_leave(self) -> None:
        self.post_message(self.Left())


class Answer(Vertical):
    """The strip below the panel. It shows a target, an act that waits for Enter, or nothing."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._head = Written(id="answer-head")
        self._chips = Written(id="answer-chips")
        self._prompt = Written(id="answer-prompt")
        self._after = Written(id="answer-after")
        self._below = Written(id="answer-below")
        self.typed = Typed(id="answer-typed", compact=True, select_on_focus=False, max_length=40)
        self._target: Target | None = None
        self._act: tuple[Content, Content] | None = None

    def compose(self) -> ComposeResult:
        yield self._head
        yield self._chips
        with Vertical(id="answer-line"):
            with Horizontal():
                yield self._prompt
                yield self.typed
                yield self._after
            yield self._below

    def show(self, target: Target) -> None:
        changed = self._target is None or target.indication is not self._target.indication
        self._target, self._act = target, None
        if changed:
            self.typed.value = ""
        typing = typed(target.indication) and target.open
        self.set_class(typing, "-typing")
        self.set_class(target.source == "PANEL", "-panel")
        if typing:
            self._prompt.write(_prompt(target))
        self._write()

    def ask(self, head: str, *rest: Content) -> None:
        """An act that waits: what it is, and what the keys do."""
        self._target = None
        self.remove_class("-typing", "-panel")
        self._act = (text(clean(head), ".strong"), Content(GAP).join(rest))
        self._write()

    def on_resize(self) -> None:
        self._write()

    def on_descendant_focus(self) -> None:
        self._write()

    def on_descendant_blur(self) -> None:
        self._write()

    def _write(self) -> None:
        width = max(self.size.width - 2, 20)
        if self._act is not None:
            self._head.write(self._act[0])
            self._chips.write(self._act[1])
        elif self._target is not None:
            self._head.write(_head(self._target, width))
            below = _below(self._target, width)
            if not self._target.open:
                self._chips.write(lines((below, _ways(self._target))))
            elif typed(self._target.indication):
                self._after.write(_beside(self._target, self.typed.has_focus))
                self._below.write(below)
            else:
                chips = _chips(self._target, width)
                self._chips.write(chips if "\n" in chips.plain else lines((chips, below)))


def way(indication: Indication) -> str:
    """The other way to read it off, in a word or two for the key `e`; empty when there is none."""
    match indication.kind:
        case Kind.LAMP if any(flashes(s.pattern) for s in indication.states):
            return "tap along"
        case Kind.DISPLAY:
            return "draw it"
        case Kind.CONTACT if indication.measured:
            return "measured"
        case Kind.READING:
            return "work it out" if indication.formula else "keypad"
    return ""


def typed(indication: Indication) -> bool:
    """It is answered by typing: readings, displays and alarm lists."""
    return indication.kind in (Kind.READING, Kind.DISPLAY, Kind.HISTORY)


def _head(target: Target, width: int) -> Content:
    indication = target.indication
    name = clean(indication.title or indication.label)
    if indication.label and clean(indication.label) not in name:
        name = f"{clean(indication.label)} · {name}"
    source = f"{target.source} {target.of}".strip()
    notes = []
    if target.before:
        notes.append(f"before this case, by {clean(target.before)}")
    tail = f"  {' · '.join(notes)}" if notes else f"  {clean(indication.where)}" if indication.where else ""
    room = width - len(source) - 2
    name = cut(name, room)
    tail = cut(tail, room - len(name)) if room - len(name) > 8 else ""
    return line((source, ".key"), "  ", (name, ".strong"), (tail, ".warn" if notes else ".quiet"))


def _chips(target: Target, width: int) -> Content:
    """The chips, with how a lamp looks in each state; without that where they would take more than two rows."""
    for words in (True, False):
        chips = [_chip(target, n, words) for n in range(min(len(target.indication.states), DIGITS))]
        if len(target.indication.states) > DIGITS:
            chips.append(clickable(line(("↵", ".key"), " all"), ("screen.list_states", ())))
        chips.append(clickable(line(("0", ".key"), " can't tell"), ("screen.cannot_tell", ())))
        if way(target.indication):
            chips.append(_way(target.indication))
        for gap in (GAP, NARROW):
            rows = _wrap(chips, width, len(gap))
            if len(rows) == 1 or (len(rows) <= ROWS and (gap == NARROW or not words)):
                return lines(Content(gap).join(row) for row in rows)
        if len(rows) <= ROWS:
            break
    return lines(Content(NARROW).join(row) for row in rows)


def _chip(target: Target, n: int, words: bool) -> Content:
    indication = target.indication
    state = indication.states[n]
    shape = sign(indication, state.id)
    more = pattern_words(indication, state.id) if words else ""
    label = plain(state.id) + (f" ({more})" if more and more != plain(state.id) else "")
    now = state.id == target.state
    part = line((str(n + 1), ".key"), " ")
    if indication.kind in (Kind.LAMP, Kind.CONTACT):
        part = line(part, (shape.shape + shape.mark, shape.style))
    return clickable(line(part, (label, ".chosen" if now else "")), ("screen.mark", (n + 1,)))


def _way(indication: Indication) -> Content:
    return clickable(line(("e", ".key"), f" {way(indication)}"), ("screen.read", ()))


def _wrap(chips: Sequence[Content], width: int, gap: int) -> list[list[Content]]:
    rows: list[list[Content]] = [[]]
    used = 0
    for chip in chips:
        if rows[-1] and used + gap + len(chip) > width:
            rows.append([])
            used = 0
        used += len(chip) + (gap if rows[-1] else 0)
        rows[-1].append(chip)
    return rows


def _prompt(target: Target) -> Content:
    indication = target.indication
    words = {Kind.DISPLAY: "code", Kind.HISTORY: "alarms"}.get(indication.kind, "reading")
    return line((" ↵ ", ".key"), f"{words} ")


def _beside(target: Target, typing: bool) -> Content:
    """What stands beside the line: unit and limits of a reading, or how to type a blank display; can't tell. While the
    line is typed in the letters are text, and the words can be clicked."""
    indication, parts, last = target.indication, list[Content](), list[Content]()
    if indication.kind is Kind.READING:
        parts.append(text(unit(indication.unit), ".strong"))
    elif indication.kind is Kind.HISTORY:
        parts.append(clickable(text("empty", ".link"), ("screen.say_empty", ())))
        last.append(text("the first one first", ".quiet"))
    else:
        size = f"{indication.characters} characters" if indication.characters > 1 else "1 character"
        last.append(text("in steps" if indication.scrolls else size, ".quiet"))
        if any(not code.pattern.strip() for code in indication.codes):
            parts.append(clickable(text("blank", ".link"), ("screen.say_blank", ())))
    ways = [("e", way(indication), "read"), ("l", "list", "list_states"), ("x", "can't tell", "cannot_tell")]
    for key, words, action in ways if way(indication) else ways[1:]:
        shown = text(words, ".link") if typing else line((key, ".key"), f" {words}")
        parts.append(clickable(shown, (f"screen.{action}", ())))
    if target.state:
        last.append(text(f"now: {plain(target.state)}", ".quiet"))
    # Where there is no room for all, what can be pressed is whole.
    return line("  ", Content(NARROW).join(parts + last))


def _ways(target: Target) -> Content:
    """What may be done where the place for an answer is closed."""
    parts = [clickable(line(("g", ".key"), " to the lockout"), ("screen.gate", ()))]
    parts.append(clickable(line(("b", ".key"), " it was found before this case"), ("screen.before", ())))
    parts.append(clickable(line(("x", ".key"), " can't tell"), ("screen.cannot_tell", ())))
    return Content(GAP).join(parts)


def _below(target: Target, width: int) -> Content:
    """The second row: why no answer is taken as done now, else the limits of a reading with their source."""
    indication = target.indication
    if target.closed and not target.before:
        return line(("✕ ", ".warn"), (cut(clean(target.closed), width - 2), ".warn"))
    if indication.kind is Kind.READING and indication.bands:
        source = f" · {clean(indication.source)}" if indication.source else ""
        return text(cut(limits(indication) + source, width), ".quiet")
    return Content("")


def limits(indication: Indication) -> str:
    """The bands of a reading as the file gives them: `absent < 5 ≤ low < 20.4 …`, for the help line."""
    return ", ".join(_band(b.state, b.low, b.high) for b in indication.bands)


def _band(state: str, low: float | None, high: float | None) -> str:
    name = plain(state)
    if low is None and high is None:
        return name
    if low is None:
        return f"{name} below {high:g}"
    return f"{name} above {low:g}" if high is None else f"{name} {low:g} to {high:g}"


def with_unit(target: Target | None, words: str) -> str:
    """A bare number with the unit that it was asked in, so that the record says what was measured."""
    if target is None or target.indication.kind is not Kind.READING or words.strip(" +-.,0123456789"):
        return words
    return f"{words.strip()} {target.indication.unit}".strip()
