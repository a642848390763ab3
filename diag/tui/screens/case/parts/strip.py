"""What the strip says, as plain pieces: the indication that is asked for with its answers, an act that waits, a call, a
stop, the end."""

from __future__ import annotations

from dataclasses import dataclass

from diag.case.snapshot import Action, CaseState
from diag.machine.model import Indication, Kind
from diag.text import cut, one_line
from diag.tui.looks.pieces import Piece, Pieces, broken, columns, joined, key_piece
from diag.tui.looks.signs import pattern_words, sign
from diag.tui.looks.wording import plain, unit
from diag.tui.screens.case.parts.asked import Asked, limits

GAP, NARROW = "   ", "  "
"""Between chips; the narrow one where they would take another row."""
ROWS = 2
"""Rows of chips."""
INWARD = ("lock", "live", "restore", "isolate")
"""What is in the way of an act, and is opened at the lockout screen."""
WAYS_IN = (
    key_piece("g", "to the lockout", "gate"),
    key_piece("b", "it was found before this case", "before"),
    key_piece("x", "can't tell", "cannot_tell"),
)
"""What may be done where the place for an answer is closed."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Either an indication that is asked for, or an act with what the keys do about it."""

    asked: Asked | None = None
    act: str = ""
    ways: tuple[Pieces, ...] = ()

    @property
    def typing(self) -> bool:
        """There is a line to type in."""
        return self.asked is not None and self.asked.typed and self.asked.open

    def head(self, width: int) -> Pieces:
        asked = self.asked
        if asked is None:
            return (Piece(one_line(self.act), ".strong"),)
        label, name = one_line(asked.indication.label), one_line(asked.indication.title or asked.indication.label)
        if label not in name:
            name = f"{label} · {name}"
        source = f"{asked.source} {asked.of}".strip()
        before = f"before this case, by {one_line(asked.before)}" if asked.before else ""
        tail = f"  {before or one_line(asked.indication.where)}" if before or asked.indication.where else ""
        room = width - len(source) - 2
        name = cut(name, room)
        tail = cut(tail, room - len(name)) if room - len(name) > 8 else ""
        return (
            Piece(source, ".key"),
            Piece("  "),
            Piece(name, ".strong"),
            Piece(tail, ".warn" if before else ".quiet"),
        )

    def answers(self, width: int) -> tuple[Pieces, ...]:
        """The rows below the head, where nothing is typed."""
        if self.asked is None:
            return (joined(self.ways, GAP),)
        if not self.asked.open:
            return (self.below(width), joined(WAYS_IN, GAP))
        chips = _chips(self.asked, width)
        return chips if len(chips) > 1 else (*chips, self.below(width))

    def prompt(self) -> Pieces:
        """What stands before the line."""
        kind = self.asked.indication.kind if self.asked is not None else None
        words = "code" if kind is Kind.DISPLAY else "alarms" if kind is Kind.HISTORY else "reading"
        return (Piece(" ↵ ", ".key"), Piece(f"{words} "))

    def beside(self, in_line: bool) -> Pieces:
        """Behind the line: the unit of a reading, or how to type a blank display; the list; can't tell. While it is
        typed in (`in_line`) the letters are text, and the words can be clicked."""
        asked = self.asked
        if asked is None:
            return ()
        indication = asked.indication
        parts, last = list[Pieces](), list[Pieces]()
        if indication.kind is Kind.READING:
            parts.append((Piece(unit(indication.unit), ".strong"),))
        elif indication.kind is Kind.HISTORY:
            parts.append((Piece("empty", ".link", ("screen.say_nothing", ())),))
            last.append((Piece("the first one first", ".quiet"),))
        else:
            last.append((Piece(_size(indication), ".quiet"),))
            if any(not code.pattern.strip() for code in indication.codes):
                parts.append((Piece("blank", ".link", ("screen.say_nothing", ())),))
        ways = [("e", asked.way, "read"), ("l", "list", "list_states"), ("x", "can't tell", "cannot_tell")]
        for key, words, action in ways if asked.way else ways[1:]:
            click = (f"screen.{action}", ())
            parts.append((Piece(words, ".link", click),) if in_line else key_piece(key, words, action))
        if asked.state:
            last.append((Piece(f"now: {plain(asked.state)}", ".quiet"),))
        # Where there is no room for all, what can be pressed is whole.
        return (Piece("  "), *joined((*parts, *last), NARROW))

    def below(self, width: int) -> Pieces:
        """The second row: why no answer is taken as done now, else the limits of a reading with their source."""
        asked = self.asked
        if asked is None:
            return ()
        if asked.closed and not asked.before:
            return (Piece("✕ ", ".warn"), Piece(cut(one_line(asked.closed), width - 2), ".warn"))
        if asked.indication.kind is Kind.READING and asked.indication.bands:
            source = f" · {one_line(asked.indication.source)}" if asked.indication.source else ""
            return (Piece(cut(limits(asked.indication) + source, width), ".quiet"),)
        return ()


def strip(state: CaseState, asked: Asked | None, action: Action | None, fresh: bool, first: bool) -> Strip | None:
    """What the strip says; None while the facts are weighed and nothing is asked: it then stays as it is, as it will
    change in a moment. `fresh`: the action is that of the present state; `first`: there was no advice yet."""
    if asked is not None:
        return Strip(asked)
    return Strip(None, *waiting(state, action, fresh)) if fresh or first or state.closed or state.danger else None


def waiting(state: CaseState, action: Action | None, fresh: bool) -> tuple[str, tuple[Pieces, ...]]:
    """Where no indication is asked for: a headline, and what the keys do."""
    if state.closed:
        words = "This case is closed. The record stays as it is."
        keys = {"h": "sheet", "m": "machines", "q": "leave"}
        return words, tuple(key_piece(key, name, name) for key, name in keys.items())
    if state.danger:
        mistake = key_piece("u", "entered by mistake", "undo")
        return "Stop. Keep away and call.", (key_piece("c", "called", "call"), mistake)
    find = key_piece("/", "find anything by name", "find")
    if not fresh or action is None:
        return "" if fresh else "Weighing the facts …", (find, key_piece("←↑↓→", "walk over the panel", "walk"))
    other, aside = key_piece("a", "another", "another"), key_piece("s", "set aside", "skip")
    if not action.permission.now and action.permission.way in INWARD:
        return f"✕ {action.permission.because}", (key_piece("↵ g", "to the lockout", "do"), other, aside)
    if not action.permission.now and action.kind in ("remedy", "do"):
        return f"✕ {action.permission.because}", (other, aside) if action.kind == "remedy" else (other,)
    match action.kind:
        case "remedy":
            return f"Done? {action.title}", (key_piece("↵", "it is done", "done"), other, aside)
        case "do":
            return f"Done? {action.title}", (key_piece("↵", "it is done", "do"), other)
        case "reset":
            return action.title, (key_piece("↵ r", "reset", "do"), other)
        case "call":
            again = action.id in state.called
            called = key_piece("c", "I called again", "call") if again else key_piece("↵ c", "I called", "do")
            return action.title, (called, key_piece("h", "write the call sheet", "sheet"), other)
        case "close":
            return "Every proof was seen.", (key_piece("↵ f", "close the case", "do"), key_piece("w", "note", "note"))
        case "failed":
            return action.title, (key_piece("↵ k", "not cured", "do"), other, key_piece("u", "undo", "undo"))
    return action.title, (other,)


def _chips(asked: Asked, width: int) -> tuple[Pieces, ...]:
    """The answers by their digits, with how a lamp looks in each state; without that where they would take more than
    two rows."""
    rest = [key_piece("↵", "all", "list_states")] if asked.listed else []
    rest.append(key_piece("0", "can't tell", "cannot_tell"))
    if asked.way:
        rest.append(key_piece("e", asked.way, "read"))
    for words in (True, False):
        chips = [_chip(asked, n, state, words) for n, state in enumerate(asked.by_digit, 1)]
        for gap in (GAP, NARROW):
            rows = tuple(joined(row, gap) for row in broken([*chips, *rest], columns, width, len(gap)))
            if len(rows) == 1 or (len(rows) <= ROWS and (gap == NARROW or not words)):
                return rows
    return rows


def _chip(asked: Asked, digit: int, state: str, words: bool) -> Pieces:
    indication, click = asked.indication, ("screen.mark", (digit,))
    more = pattern_words(indication, state) if words else ""
    label = plain(state) + (f" ({more})" if more and more != plain(state) else "")
    parts = [Piece(str(digit), ".key", click), Piece(" ", "", click)]
    if indication.kind in (Kind.LAMP, Kind.CONTACT):
        shape = sign(indication, state)
        parts.append(Piece(shape.shape + shape.mark, shape.style, click))
    return (*parts, Piece(label, ".chosen" if state == asked.state else "", click))


def _size(display: Indication) -> str:
    if display.scrolls:
        return "in steps"
    return f"{display.characters} characters" if display.characters > 1 else "1 character"
