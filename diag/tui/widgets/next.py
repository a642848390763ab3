"""The one next thing to do, with why, tool, minutes and access; below it the alternatives."""

from __future__ import annotations

from textual.content import Content

from diag.case.snapshot import Action, Advice, State
from diag.machine.model import Access
from diag.tui.widgets.written import Written, clickable, line, lines, text
from diag.tui.words import ACCESS, clean, cut, minutes

VERBS = {"call": "TIME TO CALL", "close": "PROVED", "failed": "NOT CURED", "remedy": "REMEDY", "reset": "RESET"}
"""What stands in the frame's title in place of `NEXT`, where the next thing is no look and no check."""


BEFORE_CALL = "TIME TO CALL · mark first"

ODD = 2
"""Most rows of what is odd about the facts, where it would push out what there is to do."""

NOT_AT_THE_MACHINE = ("call", "close", "failed")
"""Kinds that nobody does at the machine, so that access says nothing."""


class NextPane(Written):
    """Shows one action in full and the others in a line each. Which one is in full is the screen's choice.

    One widget that wraps its own text, so that a new action never changes the layout of the screen."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._about = self._unlikely = Content("")
        self._others: tuple[tuple[int, Action], ...] = ()

    def show(self, state: State, advice: Advice | None, chosen: int) -> None:
        """`chosen`: 0 for the next thing, then the alternatives."""
        offered = offers(advice)
        action = offered[chosen] if chosen < len(offered) else None
        head = title(state, action)
        if head != self.border_title:
            self.border_title = head
        self.set_class(action is not None and (action.kind == "call" or action.before_call), "-call")
        self.set_class(action is not None and action.kind == "close", "-proved")
        if action is None:
            self._put(_nothing(state, advice), ())
        else:
            said = advice.tree_says if advice and not chosen else ""
            odd = "; ".join(d.name for d in state.disagreements) or (advice.odd if advice else "")
            self._put(about(action, said), _after(offered, chosen), _odd(odd))

    def _put(self, about: Content, others: tuple[tuple[int, Action], ...], odd: Content | None = None) -> None:
        odd = odd or Content("")
        if others != self._others or not (about.is_same(self._about) and odd.is_same(self._unlikely)):
            self._about, self._others, self._unlikely = about, others, odd
            self.refresh()

    def on_resize(self) -> None:
        self.refresh()

    def draw(self) -> Content:
        width, height = self.content_size
        if not width or not height:
            return Content("")
        rows, odd = self._about.wrap(width), self._unlikely.wrap(width) if self._unlikely else []
        if len(odd) > ODD and len(odd) + len(rows) + len(self._others) > height:
            end = line((cut(odd[ODD - 1].plain.rstrip(), width - 2) + " …", ".warn"))
            odd = [*odd[: ODD - 1], end]
        rows = [*odd, *rows]
        spare = height - len(rows) - len(self._others)
        others: list[Content] = []
        for n, (i, action) in enumerate(self._others):
            row = _other(i, action, width, n == 0)
            spare -= len(row) - 1
            # A name is cut only where there is no room for its second row.
            others += row if spare >= 0 else [_other(i, action, width, n == 0, whole=False)[0]]
            spare += 0 if spare >= 0 else len(row) - 1
        room = max(height - len(others), 1)
        if len(rows) > room:
            more = clickable(line("  … ", ("i", ".key"), " shows it in full"), ("screen.info", ()))
            rows = [*rows[: room - 1], more]
        blank = [Content("")] * (room - len(rows))
        return lines([*rows, *blank, *others])


def offers(advice: Advice | None) -> tuple[Action, ...]:
    """The next thing and its alternatives."""
    if advice is None or advice.next is None:
        return ()
    return (advice.next, *advice.others)


def _after(offered: tuple[Action, ...], chosen: int) -> tuple[tuple[int, Action], ...]:
    """The others by their numbers, in the order in which the key turns to them."""
    count = len(offered)
    return tuple(((chosen + n) % count, offered[(chosen + n) % count]) for n in range(1, count))


def title(state: State, action: Action | None) -> str:
    if state.closed:
        return "CLOSED"
    if action is None:
        return "NEXT"
    if action.before_call:
        return BEFORE_CALL
    word = VERBS.get(action.kind, "PROOF" if state.remedy else "NEXT")
    return f"{word} · as the trainer wrote" if action.by_tree and word == "NEXT" else word


def about(action: Action, says: str = "", full: bool = False, odd: str = "") -> Content:
    """One action: what, with what, how long, from where, why, and how where that may be shown; `odd`: what disagrees
    among the facts."""
    rows = [_odd(odd)] if odd else []
    rows.append(text(clean(action.title), ".strong"))
    if action.kind not in NOT_AT_THE_MACHINE:
        rows.append(meta(action))
    elif action.minutes:
        rows.append(text(f"counts {minutes(action.minutes)}", ".quiet"))
    if not action.permission.now and action.permission.because:
        rows.append(line(("✕ ", ".warn"), clean(action.permission.because)))
    if action.permission.how and action.how and clean(action.how) not in clean(action.title):
        rows.append(line(("▸ ", ".key"), clean(action.how)))
        if action.caution and clean(action.caution) not in clean(action.how):
            rows.append(line(("▲ ", ".warn"), (clean(action.caution), ".warn")))
    if says:
        rows.append(text(clean(says), ".said"))
    if action.why:
        rows.append(text(clean(action.why)))
    if action.where and (full or action.permission.how):
        rows.append(text(f"Where: {clean(action.where)}", ".quiet"))
    return lines(rows)


def _odd(odd: str) -> Content:
    return line(("≠ ", ".warn"), (clean(odd), ".warn")) if odd else Content("")


def meta(action: Action) -> Content:
    """Access, minutes and tool in one line."""
    words = [minutes(action.minutes)] if action.minutes else []
    if action.tool:
        words.append(clean(action.tool))
    style = ".access-outside" if action.access is Access.OUTSIDE else ".access-inside"
    return line((ACCESS[action.access], style), *(f" · {word}" for word in words))


def _other(i: int, action: Action, width: int, first: bool, whole: bool = True) -> list[Content]:
    """One alternative, its name whole on as many rows as it takes or cut to one; the first has the key that turns to
    it."""
    tail = f" {ACCESS[action.access][0]} {minutes(action.minutes)}" if action.minutes else ""
    room = max(width - len(tail) - 2, 4)
    name = clean(action.title)
    rows = []
    for n, part in enumerate(Content(name).wrap(room) if whole else [Content(cut(name, room))]):
        lead, end = ("a " if first and not n else "  ", ".key"), (tail if not n else "", ".quiet")
        row = line(lead, part.plain.rstrip().ljust(room), end)
        rows.append(clickable(row, ("screen.choose_action", (i,))))
    return rows


def _nothing(state: State, advice: Advice | None) -> Content:
    if state.closed:
        ends = {"cured": "Cured and proved.", "running": "Running, cause not found.", "handed-over": "Handed over."}
        return lines((text(ends.get(state.closed, state.closed), ".strong"), text("h writes the sheet, q leaves.")))
    if state.danger:
        return text("Nothing. Keep away and call.", ".strong")
    if advice is None:
        return text("Weighing the facts …", ".quiet")
    return text("Nothing is left to look at that is worth its minutes. Call, or finish.", ".quiet")
