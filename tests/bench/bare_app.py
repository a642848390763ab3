"""The least that a terminal app of this make can be: three panes of text, and it counts the keys that it was pressed.

The peer of the benchmarks. With `--with-libraries` it imports what the app under test does, and uses none of it.
"""

from __future__ import annotations

import sys

from textual import events
from textual.app import App, ComposeResult
from textual.containers import Horizontal
from textual.widgets import Footer, Static


class Bare(App[None]):
    CSS = "Static { width: 1fr; border: solid $primary; }"
    pressed = 0

    def compose(self) -> ComposeResult:
        with Horizontal():
            yield Static("\n".join(f"left {n}" for n in range(18)))
            yield Static("bare app", id="middle")
            yield Static("\n".join(f"right {n}" for n in range(18)))
        yield Footer()

    def on_key(self, event: events.Key) -> None:
        self.pressed += 1
        self.query_one("#middle", Static).update(f"pressed {self.pressed}")


if __name__ == "__main__":
    if "--with-libraries" in sys.argv:
        import numpy  # noqa: F401
        import pydantic  # noqa: F401
        import yaml  # noqa: F401
    Bare().run()
