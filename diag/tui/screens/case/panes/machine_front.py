"""The panel as the machine file draws it: lamps with their colour, label and state, displays in lit segments, contacts.

One widget draws it all, so that it stays quick with any number of lamps. Arrows walk over it, a click picks an
indication; what that does is the screen's business.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.geometry import Region, Size
from textual.style import Style
from textual.widget import Widget

from diag.machine.model import FaceRow, Indication, Kind, Machine
from diag.text import cut, one_line
from diag.tui.looks.lamp_phases import Blink
from diag.tui.looks.signs import CANNOT_TELL, Sign, sign
from diag.tui.looks.wording import plain
from diag.tui.screens.case.panes.pane import Pane
from diag.tui.screens.case.parts.asked import on_the_face
from diag.tui.screens.case.parts.case_model import CaseView
from diag.tui.widgets.display import draw
from diag.tui.widgets.written import CURSOR, clickable, line, lines, text

TICK = 0.1
"""Seconds between two updates of the flashing lamps."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where an indication stands in a drawing, in cells from its upper left."""

    indication: str
    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Drawing:
    """Rows of one width, and where the indications stand in them."""

    width: int
    rows: list[Content]
    spots: tuple[Spot, ...] = ()


def _below(*parts: Drawing) -> Drawing:
    """The parts below each other."""
    rows: list[Content] = []
    spots: list[Spot] = []
    for part in parts:
        spots += [replace(spot, y=spot.y + len(rows)) for spot in part.spots]
        rows += part.rows
    return Drawing(max((part.width for part in parts), default=0), rows, tuple(spots))


def _beside(*parts: Drawing) -> Drawing:
    """The parts side by side, each filled up to the height of the tallest."""
    width, rows, spots = 0, [Content("")] * max((len(part.rows) for part in parts), default=0), list[Spot]()
    for part in parts:
        spots += [replace(spot, x=spot.x + width) for spot in part.spots]
        filled = [*part.rows, *[Content(" " * part.width)] * (len(rows) - len(part.rows))]
        rows = [line(row, more) for row, more in zip(rows, filled, strict=True)]
        width += part.width
    return Drawing(width, rows, tuple(spots))


def _blank(width: int) -> Drawing:
    return Drawing(width, [Content(" " * width)])


class Panel(Pane, can_focus=True):
    """The front of the machine."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "walk(0,-1)", "panel", show=False),
        Binding("down", "walk(0,1)", "panel", show=False),
        Binding("left", "walk(-1,0)", "panel", show=False),
        Binding("right", "walk(1,0)", "panel", show=False),
    ]

    def __init__(self, machine: Machine, seconds: Callable[[], float], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._machine = machine
        self._blink = Blink(seconds)
        self._cursor = ""
        self._drawn: tuple[object, tuple[Content, tuple[Spot, ...]]] | None = None
        self.order = on_the_face(machine)

    def on_mount(self) -> None:
        self.set_interval(TICK, self._tick)

    def part(self, view: CaseView) -> object:
        return view.state.current, view.said, view.unknown

    def show(self, view: CaseView) -> None:
        super().show(view)
        self._blink.watch(self._patterns())
        if view.strip is not None:
            self._point(view.asked.indication.id if view.asked is not None else "")

    def _patterns(self) -> Iterator[str]:
        """The patterns of the lamps that are seen on the front."""
        for id, state in self.view.state.current.items():
            found = self._machine.indications.get(id)
            if found is not None and found.kind is Kind.LAMP and state in found.state_ids and id in self.order:
                yield found.state(state).pattern

    def _point(self, indication: str) -> None:
        """Mark this one as picked; an empty name marks none."""
        if indication == self._cursor:
            return
        self._cursor = indication
        self.refresh()
        spot = next((s for s in self._layout(self.content_size.width)[1] if s.indication == indication), None)
        if spot is not None and self.is_mounted and isinstance(self.parent, Widget):
            region = Region(spot.x, max(spot.y - 1, 0), spot.width, spot.height + 1)
            self.parent.scroll_to_region(region, animate=False)

    async def action_walk(self, x: int, y: int) -> None:
        spots = self._layout(self.content_size.width)[1]
        if not spots:
            return
        here = next((s for s in spots if s.indication == self._cursor), None)
        there = spots[0] if here is None else _nearest(spots, here, x, y)
        await self.on_screen("point", there.indication)

    def _tick(self) -> None:
        if self._blink.changed() and self.app.animation_level != "none":
            self.refresh()

    # ------------------------------------------------------------ drawing

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return max(self._layout(width)[0].plain.count("\n") + 1, 1)

    def draw(self) -> Content:
        return self._layout(self.content_size.width)[0]

    def _layout(self, width: int) -> tuple[Content, tuple[Spot, ...]]:
        """The drawing and where everything stands in it, kept until something that it shows changes."""
        key = (width, self._room, self._cursor, self.has_focus, self._blink.phases, self._part)
        if self._drawn is None or self._drawn[0] != key:
            self._drawn = (key, self._draw(width))
        return self._drawn[1]

    def _draw(self, width: int) -> tuple[Content, tuple[Spot, ...]]:
        if not self.order:
            return text("The machine file draws no panel. Press / to find an indication.", ".quiet"), ()
        for tall in (True, False):
            drawing = _below(*(self._block(block, width, tall) for block in self._machine.face))
            if len(drawing.rows) <= self._room:
                break
        return lines(drawing.rows), drawing.spots

    @property
    def _room(self) -> int:
        """Rows to see at once; with enough of them each state stands in words below its lamp."""
        return self.parent.size.height if isinstance(self.parent, Widget) else 0

    def _block(self, block: FaceRow, width: int, tall: bool) -> Drawing:
        name = f"─ {one_line(block.title)} "
        rule = text(cut(name + "─" * max(width - len(name), 0), width), ".rule")
        known = [[self._machine.indications[id] for id in row if id in self._machine.indications] for row in block.rows]
        waiting = [row for row in known if row]
        parts = [Drawing(width, [rule])]
        while waiting:
            row = waiting.pop(0)
            if row[0].kind is Kind.DISPLAY:
                parts.append(self._with_display(row, waiting, width, tall))
            else:
                column = max(width // max(len(r) for r in [row, *waiting]), 4)
                parts.append(self._row(row, width, column, tall))
        return _below(*parts)

    def _with_display(self, row: list[Indication], waiting: list[list[Indication]], width: int, tall: bool) -> Drawing:
        """A display at the left, at its right the rest of its row and as many of the next rows as fit its height."""
        head, rest = self._place(row[0], width, tall), row[1:]
        room = width - head.width
        if tall:
            head = _below(head, _blank(head.width))
        if rest and rest[0].kind is Kind.DISPLAY:
            return _beside(head, self._with_display(rest, [], room, tall))
        beside = [rest] if rest else []
        while waiting and len(beside) < 2 and not any(c.kind is Kind.DISPLAY for c in [*rest, *waiting[0]]):
            beside.append(waiting.pop(0))
        if not beside:
            return head
        column = max(room // max(len(r) for r in beside), 4)
        rows = [self._row(cells, room, column, tall) for cells in beside]
        if len(rows) == 1:
            return _beside(head, _below(_blank(room), *rows))
        return _beside(head, _below(rows[0], *([] if tall else [_blank(room)]), rows[1]))

    def _row(self, cells: list[Indication], width: int, column: int, tall: bool) -> Drawing:
        """Cells side by side, in columns of that width; the last one may be wider."""
        parts: list[Drawing] = []
        for n, cell in enumerate(cells):
            left = width - sum(part.width for part in parts)
            size = column if n < len(cells) - 1 else max(min(column + column // 2, left), 4)
            parts.append(self._place(cell, size, tall))
        return _beside(*parts)

    def _place(self, cell: Indication, width: int, tall: bool) -> Drawing:
        """One indication, which can be clicked."""
        rows = self._display(cell) if cell.kind is Kind.DISPLAY else self._cell(cell, width, tall)
        width = len(rows[0])
        rows = [clickable(row, ("screen.point", (cell.id,))) for row in rows]
        return Drawing(width, rows, (Spot(cell.id, 0, 0, width, len(rows)),))

    def _sign(self, cell: Indication) -> Sign:
        state = self.view.state.current.get(cell.id, "")
        if not state and cell.id in self.view.unknown:
            return Sign(CANNOT_TELL, style=".value")
        on, colour = True, ""
        if state and cell.kind is Kind.LAMP and state in cell.state_ids and self.app.animation_level != "none":
            pattern = cell.state(state).pattern
            on, colour = self._blink.lit(pattern), self._blink.colour(pattern)
        return sign(cell, state, on, colour)

    def _cell(self, cell: Indication, width: int, tall: bool) -> list[Content]:
        shape, state = self._sign(cell), self.view.state.current.get(cell.id, "")
        name = cut(one_line(cell.label or cell.title), width - 2)
        first = line(
            (shape.shape + shape.mark, shape.style), (name, self._style(cell, state)), " " * (width - 2 - len(name))
        )
        if not tall:
            return [first]
        words = cut(self._words(cell, state), width - 3)
        return [first, line("  ", (words.ljust(width - 2), ".quiet"))]

    def _style(self, cell: Indication, state: str) -> str | Style:
        if cell.id == self._cursor:
            return CURSOR
        if not state:
            return ".quiet"
        return "" if state == cell.normal else ".strong"

    def _words(self, cell: Indication, state: str) -> str:
        if not state:
            return "can't tell" if cell.id in self.view.unknown else ""
        said = one_line(self.view.said.get(cell.id, ""))
        return said if cell.kind is Kind.READING and said else plain(state)

    def _display(self, cell: Indication) -> list[Content]:
        state = self.view.state.current.get(cell.id, "")
        return draw(cell, state, self.view.said.get(cell.id, ""), cell.id == self._cursor)


def _nearest(spots: tuple[Spot, ...], here: Spot, x: int, y: int) -> Spot:
    """The nearest spot in that direction. At an edge the walk goes on to the next row; at either end it stays."""
    if x:
        at = spots.index(here) + x
        return spots[min(max(at, 0), len(spots) - 1)]
    middle = here.x + min(here.width, 8) // 2
    beyond = [s for s in spots if (s.y >= here.y + here.height if y > 0 else s.y + s.height <= here.y)]
    if not beyond:
        return here
    row = min((s.y for s in beyond), default=0) if y > 0 else max(s.y for s in beyond)
    return min((s for s in beyond if s.y == row), key=lambda s: abs(s.x + min(s.width, 8) // 2 - middle))
