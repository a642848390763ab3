"""The widget below most others: lines of styled text, parts of which can be clicked.

Styles are names of the style sheet (`.strong`, `.lamp-red`), so that no colour stands in code. Clickable parts carry an
action of the screen as data, never as text to be parsed, so that a name out of a file cannot become one.
"""

from __future__ import annotations

from collections.abc import Iterable

from rich.segment import Segment
from rich.style import Style as RichStyle
from textual.content import Content, Span
from textual.strip import Strip
from textual.style import Style
from textual.widget import Widget

from diag.text import NBSP
from diag.tui.looks.pieces import Click, Pieces

CURSOR = Style(reverse=True, bold=True)
"""The style of what is marked: light and dark change places, so that it also shows without colour."""

_HELD = "\u2800"
"""Stands for a no-break space while lines are broken: they may be broken at any white space, this one included. It is
as wide, and no white space."""

_UNSTYLED = RichStyle()
_UNDER_THE_MOUSE = RichStyle(underline=True)


def text(words: str, style: str = "") -> Content:
    """Words as they are, never read as markup, in one of the style sheet's styles."""
    return Content.styled(words, style) if style else Content(words)


def line(*parts: str | tuple[str, str | Style] | Content) -> Content:
    """Words, words with a style, and written parts, side by side."""
    return Content.assemble(*parts)


def lines(rows: Iterable[Content]) -> Content:
    """Rows below each other."""
    return Content("\n").join(rows)


def clickable(part: Content, action: Click) -> Content:
    """The same, doing `action` when it is clicked."""
    return part.stylize(Style.from_meta({"@click": action}))


def drawn(row: Pieces) -> Content:
    """A row of plain pieces."""
    parts = (clickable(text(p.words, p.style), p.click) if p.click else text(p.words, p.style) for p in row)
    return Content("").join(parts)


class Written(Widget):
    """Lines of styled text. `write` replaces them, and repaints only when something changed; a widget that works out
    its text from its size overrides `draw`."""

    DEFAULT_CSS = "Written { height: auto; width: 1fr; }"

    def __init__(self, content: Content | None = None, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes, markup=False)
        self._content = content if content is not None else Content("")
        self._looks: dict[str, Style] = {}

    @property
    def content(self) -> Content:
        return self._content

    def write(self, content: Content) -> None:
        if content.is_same(self._content):
            return
        tall = content.plain.count("\n") != self._content.plain.count("\n")
        self._content = content
        self.refresh(layout=tall or bool(self.styles.is_auto_height))

    def draw(self) -> Content:
        """The text as it is to be seen now."""
        return self._content

    def render(self) -> Content:
        """What is drawn, with the names of styles looked up once for each widget and not for each word."""
        drawn = self.draw()
        spans = [
            Span(s.start, s.end, self._look(s.style) if isinstance(s.style, str) else s.style) for s in drawn.spans
        ]
        return Content(drawn.plain.replace(NBSP, _HELD), spans, strip_control_codes=False)

    def render_line(self, y: int) -> Strip:
        strip = super().render_line(y)
        if _HELD not in strip.text:
            return strip
        return Strip(
            [Segment(part.text.replace(_HELD, NBSP), part.style, part.control) for part in strip], strip.cell_length
        )

    def _look(self, name: str) -> Style:
        found = self._looks.get(name)
        if found is None:
            found = self._looks[name] = self.screen.get_visual_style(name.removeprefix("."), partial=True)
        return found

    def notify_style_update(self) -> None:
        self._looks.clear()
        super().notify_style_update()

    @property
    def link_style(self) -> RichStyle:
        """Links keep the style that they were written in; their shape says that they can be clicked."""
        return _UNSTYLED

    @property
    def link_style_hover(self) -> RichStyle:
        return _UNDER_THE_MOUSE
