"""What the strip says where no indication is asked for: an act that waits, a call, a stop, the end."""

from __future__ import annotations

from textual.content import Content

from diag.case.snapshot import Action, State
from diag.tui.widgets.written import clickable, line

INWARD = ("lock", "live", "restore", "isolate")
"""Ways that lead over the gate screen."""


def waiting(state: State, action: Action | None, fresh: bool) -> tuple[str, tuple[Content, ...]]:
    """A headline, and what the keys do; `fresh`: the action is that of the present state."""
    if state.closed:
        head = "This case is closed. The record stays as it is."
        return head, (_key("h", "sheet", "sheet"), _key("m", "machines", "machines"), _key("q", "leave", "leave"))
    if state.danger:
        head = "Stop. Keep away and call."
        return head, (_key("c", "called", "call"), _key("u", "entered by mistake", "undo"))
    find = _key("/", "find anything by name", "find")
    if not fresh or action is None:
        return "" if fresh else "Weighing the facts …", (find, _key("←↑↓→", "walk over the panel", "walk"))
    other, aside = _key("a", "another", "another"), _key("s", "set aside", "skip")
    if not action.permission.now and action.permission.way in INWARD:
        return f"✕ {action.permission.because}", (_key("↵ g", "to the lockout", "do"), other, aside)
    match action.kind:
        case "remedy":
            return f"Done? {action.title}", (_key("↵", "it is done", "done"), other, aside)
        case "do":
            return f"Done? {action.title}", (_key("↵", "it is done", "do"), other)
        case "reset":
            return action.title, (_key("↵ r", "reset", "do"), other)
        case "call":
            again = action.id in state.called
            called = _key("c", "I called again", "call") if again else _key("↵ c", "I called", "do")
            return action.title, (called, _key("h", "write the call sheet", "sheet"), other)
        case "close":
            return "Every proof was seen.", (_key("↵ f", "close the case", "do"), _key("w", "note", "note"))
        case "failed":
            return action.title, (_key("↵ k", "not cured", "do"), other, _key("u", "undo", "undo"))
    return action.title, (other,)


def _key(shown: str, words: str, action: str) -> Content:
    return clickable(line((shown, ".key"), f" {words}"), (f"screen.{action}", ()))
