"""One line above the footer: what was just recorded, or why something was not. It stays until the next entry."""

from __future__ import annotations

from diag.tui.widgets.written import Written, line, text
from diag.tui.words import clean


class Status(Written):
    """`say` for what was done, `warn` for what was refused or not understood."""

    def say(self, words: str) -> None:
        self.set_class(False, "-warn")
        self.write(text(f"✓ {clean(words)}" if words else ""))

    def warn(self, words: str) -> None:
        self.set_class(True, "-warn")
        self.write(line(("! ", ".loud"), clean(words)))

    def hint(self, words: str) -> None:
        self.set_class(False, "-warn")
        self.write(text(clean(words), ".quiet"))
