"""The panel as the machine file draws it: lamps with their colour, label and state, displays in lit segments, contacts.

One widget draws it all, so that it stays quick with any number of lamps. Arrows walk over it, a click picks an
indication; what is picked is the screen's business (`Panel.Picked`).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.geometry import Region, Size
from textual.message import Message
from textual.style import Style
from textual.widget import Widget

from diag.machine.model import FaceRow, Indication, Kind, Machine
from diag.tui.blink import Blink
from diag.tui.signs import CANNOT_TELL, Sign, sign
from diag.tui.widgets.display import HEIGHT, draw
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text
from diag.tui.words import clean, cut, plain

TICK = 0.1
"""Seconds between two looks at the flashing lamps."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where an indication stands in the drawing, in cells from its upper left."""

    indication: str
    x: int
    y: int
    width: int
    height: int


class Panel(Written, can_focus=True):
    """The front of the machine."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "walk(0,-1)", "panel", show=False),
        Binding("down", "walk(0,1)", "panel", show=False),
        Binding("left", "walk(-1,0)", "panel", show=False),
        Binding("right", "walk(1,0)", "panel", show=False),
    ]

    class Picked(Message):
        """The walk came to an indication."""

        def __init__(self, indication: str) -> None:
            self.indication = indication
            super().__init__()

    def __init__(
        self, machine: Machine, seconds: Callable[[], float] = time.monotonic, *, id: str | None = None
    ) -> None:
        super().__init__(id=id)
        self._machine = machine
        self._blink = Blink(seconds)
        self._standing: Mapping[str, str] = {}
        self._said: Mapping[str, str] = {}
        self._unknown: frozenset[str] = frozenset()
        self._cursor = ""
        self._changes = 0
        self._drawn: tuple[object, tuple[Content, tuple[Spot, ...]]] | None = None
        self.order = tuple(
            id for block in machine.face for row in block.rows for id in row if id in machine.indications
        )
        """Every indication of the face, from the top left, as the walk with Enter goes."""

    def on_mount(self) -> None:
        self.set_interval(TICK, self._tick)

    def show(self, standing: Mapping[str, str], said: Mapping[str, str], unknown: frozenset[str]) -> None:
        """`standing`: the latest state of each indication; `said`: as it was said (a display's code);
        `unknown`: those that nobody could tell."""
        if (standing, said, unknown) == (self._standing, self._said, self._unknown):
            return
        self._standing, self._said, self._unknown = dict(standing), dict(said), unknown
        patterns = []
        for id, state in standing.items():
            found = self._machine.indications.get(id)
            if found is not None and found.kind is Kind.LAMP and state in found.state_ids and id in self.order:
                patterns.append(found.state(state).pattern)
        self._blink.watch(patterns)
        self._changes += 1
        self.refresh()

    def point(self, indication: str) -> None:
        """Mark this one as picked; an empty name marks none."""
        if indication == self._cursor:
            return
        self._cursor = indication
        self.refresh()
        spot = next((s for s in self._layout(self.content_size.width)[1] if s.indication == indication), None)
        if spot is not None and self.is_mounted:
            region = Region(spot.x, max(spot.y - 1, 0), spot.width, spot.height + 1)
            self._into_view(region)

    def _into_view(self, region: Region) -> None:
        parent = self.parent
        if parent is not None and hasattr(parent, "scroll_to_region"):
            parent.scroll_to_region(region, animate=False)

    def after(self, indication: str) -> str:
        """The next one on the face that nobody has looked at yet, from there on and round; empty when there is none."""
        at = self.order.index(indication) + 1 if indication in self.order else 0
        for id in self.order[at:] + self.order[:at]:
            if id not in self._standing and id not in self._unknown and id != indication:
                return id
        return ""

    def action_walk(self, x: int, y: int) -> None:
        spots = self._layout(self.content_size.width)[1]
        if not spots:
            return
        here = next((s for s in spots if s.indication == self._cursor), None)
        there = spots[0] if here is None else _beside(spots, here, x, y)
        self.post_message(self.Picked(there.indication))

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
        key = (width, self._room, self._cursor, self.has_focus, self._blink.phases, self._changes)
        if self._drawn is None or self._drawn[0] != key:
            self._drawn = (key, self._draw(width))
        return self._drawn[1]

    def _draw(self, width: int) -> tuple[Content, tuple[Spot, ...]]:
        if not self.order:
            return text("The machine file draws no panel. Press / to find an indication.", ".quiet"), ()
        for tall in (True, False):
            rows: list[Content] = []
            spots: list[Spot] = []
            for block in self._machine.face:
                self._block(block, width, tall, rows, spots)
            if len(rows) <= self._room:
                break
        return lines(rows), tuple(spots)

    @property
    def _room(self) -> int:
        """Rows to see at once; with enough of them each state stands in words below its lamp."""
        return self.parent.size.height if isinstance(self.parent, Widget) else 0

    def _block(self, block: FaceRow, width: int, tall: bool, rows: list[Content], spots: list[Spot]) -> None:
        name = f"─ {clean(block.title)} "
        rows.append(text(cut(name + "─" * max(width - len(name), 0), width), ".rule"))
        known = [[self._machine.indications[id] for id in row if id in self._machine.indications] for row in block.rows]
        waiting = [row for row in known if row]
        while waiting:
            row = waiting.pop(0)
            if row[0].kind is Kind.DISPLAY:
                self._beside_display(row, waiting, width, tall, rows, spots)
            else:
                column = max(width // max(len(r) for r in [row, *waiting]), 4)
                drawn = self._row(row, 0, width, column, tall, len(rows), spots)
                rows.extend(drawn)

    def _beside_display(
        self,
        row: list[Indication],
        waiting: list[list[Indication]],
        width: int,
        tall: bool,
        rows: list[Content],
        spots: list[Spot],
    ) -> None:
        """A display at the left, at its right the rest of its row and as many of the next rows as fit its height."""
        head, top = self._display(row[0]), len(rows)
        spots.append(Spot(row[0].id, 0, top, len(head[0]), HEIGHT))
        head = [clickable(part, ("screen.point", (row[0].id,))) for part in head]
        room = width - len(head[0])
        if any(cell.kind is Kind.DISPLAY for cell in row[1:]):
            beside = [row[1:]]
        else:
            beside = [row[1:]] if row[1:] else []
            while waiting and len(beside) < 2 and all(cell.kind is not Kind.DISPLAY for cell in waiting[0]):
                beside.append(waiting.pop(0))
        if tall:
            head.append(Content(" " * len(head[0])))
        at, places = len(head[0]), [0, 2] if len(beside) > 1 else [1]
        tails = [Content("")] * len(head)
        for y, cells in zip(places, beside, strict=False):
            if cells[0].kind is Kind.DISPLAY:
                inner: list[Content] = []
                found: list[Spot] = []
                self._beside_display(cells, [], room, tall, inner, found)
                tails = inner
                spots.extend(replace(s, x=s.x + at, y=s.y + top) for s in found)
                break
            column = max(room // max(len(r) for r in beside), 4)
            for down, part in enumerate(self._row(cells, at, room, column, tall, top + y, spots)):
                tails[y + down] = part
        rows.extend(line(a, b) for a, b in zip(head, tails, strict=True))

    def _row(
        self, cells: list[Indication], x: int, width: int, column: int, tall: bool, y: int, spots: list[Spot]
    ) -> list[Content]:
        """Cells side by side from `x`, in columns of that width; the last one may be wider."""
        height, end = 2 if tall else 1, x + width
        drawn: list[list[Content]] = []
        for n, cell in enumerate(cells):
            size = column if n < len(cells) - 1 else max(min(column + column // 2, end - x), 4)
            part = self._display(cell) if cell.kind is Kind.DISPLAY else self._cell(cell, size, tall)
            height = max(height, len(part))
            size = len(part[0])
            drawn.append([clickable(p, ("screen.point", (cell.id,))) for p in part])
            spots.append(Spot(cell.id, x, y, size, len(part)))
            x += size
        for part in drawn:
            part += [Content(" " * len(part[0]))] * (height - len(part))
        return [Content("").join(part[i] for part in drawn) for i in range(height)]

    def _sign(self, cell: Indication) -> Sign:
        state = self._standing.get(cell.id, "")
        if not state and cell.id in self._unknown:
            return Sign(CANNOT_TELL, style=".value")
        on, colour = True, ""
        if state and cell.kind is Kind.LAMP and state in cell.state_ids and self.app.animation_level != "none":
            pattern = cell.state(state).pattern
            on, colour = self._blink.lit(pattern), self._blink.colour(pattern)
        return sign(cell, state, on, colour)

    def _cell(self, cell: Indication, width: int, tall: bool) -> list[Content]:
        shape, state = self._sign(cell), self._standing.get(cell.id, "")
        name = cut(clean(cell.label or cell.title), width - 2)
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
            return "can't tell" if cell.id in self._unknown else ""
        said = clean(self._said.get(cell.id, ""))
        return said if cell.kind is Kind.READING and said else plain(state)

    def _display(self, cell: Indication) -> list[Content]:
        state = self._standing.get(cell.id, "")
        return draw(cell, state, self._said.get(cell.id, ""), cell.id == self._cursor)


def _beside(spots: tuple[Spot, ...], here: Spot, x: int, y: int) -> Spot:
    """The nearest spot in that direction; at the edge the walk goes on to the next row, at the ends it stays."""
    if x:
        at = spots.index(here) + x
        return spots[min(max(at, 0), len(spots) - 1)]
    middle = here.x + min(here.width, 8) // 2
    beyond = [s for s in spots if (s.y >= here.y + here.height if y > 0 else s.y + s.height <= here.y)]
    if not beyond:
        return here
    row = min((s.y for s in beyond), default=0) if y > 0 else max(s.y for s in beyond)
    return min((s for s in beyond if s.y == row), key=lambda s: abs(s.x + min(s.width, 8) // 2 - middle))
