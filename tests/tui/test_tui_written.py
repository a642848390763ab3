"""Where lines of written text break."""

from __future__ import annotations

import pytest
from textual.app import App, ComposeResult
from textual.content import Content

from diag.text import percent
from diag.tui.widgets.written import Written

SENTENCE = f"Encoder cable of the shuttle chafed, {percent(0.99)}; guides of the shuttle dry, {percent(0.04)}."


class Page(App[None]):
    """One text, as wide as the screen."""

    def compose(self) -> ComposeResult:
        yield Written(Content(SENTENCE))


@pytest.mark.parametrize("width", range(10, 60))
async def test_a_number_never_parts_from_its_percent_sign(width: int) -> None:
    app = Page()
    async with app.run_test(size=(width, 12)):
        written = app.query_one(Written)
        lines = [written.render_line(y).text.rstrip() for y in range(written.size.height)]
    assert " ".join(" ".join(lines).split()) == " ".join(SENTENCE.split())
    assert not any(line.endswith(("99", "4")) or line.lstrip().startswith("%") for line in lines)
