"""One line above the footer: what was just recorded, or why something was not. It stays until the next entry."""

from __future__ import annotations

from diag.text import one_line
from diag.tui.widgets.written import Written, line, text


class Status(Written):
    """`say` for what was done, `warn` for what was refused or not understood."""

    def show(self, tone: str, words: str) -> None:
        """`tone`: `say`, `warn`, `hint` or `stop`."""
        {"say": self.say, "warn": self.warn, "hint": self.hint, "stop": self.stop}[tone](words)

    def say(self, words: str) -> None:
        self.set_class(False, "-warn")
        self.write(text(f"✓ {one_line(words)}" if words else ""))

    def warn(self, words: str) -> None:
        self.set_class(True, "-warn")
        self.write(line(("! ", ".loud"), one_line(words)))

    def stop(self, words: str) -> None:
        """What somebody else found or did that makes people come out."""
        self.set_class(True, "-warn")
        self.write(line(("✖ ", ".loud"), one_line(words)))

    def warns(self, words: str) -> bool:
        """Whether this is the warning that stands here now."""
        return self.content.plain == f"! {one_line(words)}"

    def hint(self, words: str) -> None:
        self.set_class(False, "-warn")
        self.write(text(one_line(words), ".quiet"))
