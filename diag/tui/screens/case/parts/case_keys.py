"""The keys of the case screen."""

from __future__ import annotations

from diag.safety.types import same_name
from diag.tui.key_table import HELP, HELP_F1, LEAVE, QUIT, Key
from diag.tui.screens.case.parts.case_model import CaseView

MARK = Key("mark", "", "1-9", "mark", "Mark the state with that digit for what the strip names.")
CANNOT = Key(
    "cannot_tell",
    "x",
    "0 x",
    "can't tell",
    "Say that you can't tell; that is always an answer. x where digits are typed.",
)
DO = Key("do", "enter", "↵", "do", "Type a reading or a code; or say that what is shown is done.")
WALK = Key("walk", "", "←↑↓→", "panel", "Walk over the panel and mark anything on it with one digit.")
NEXT = Key("next", "escape,n", "n", "next", "Back from the panel to the next thing to do.")
ANOTHER = Key("another", "a", "a", "other", "Turn to an alternative to the next thing.")
INFO = Key("info", "i", "i", "info", "All that is known about what is shown: where, tool, who, why, how.")
SKIP = Key("skip", "s", "s", "aside", "Set it aside: no tool, no part, no time. It is not offered again in this round.")
FIND = Key("find", "slash", "/", "find", "Find any indication of this machine by typing.")
BEFORE = Key("before", "b", "b", "before", "The next answer was found before this case; you are asked who found it.")
UNDO = Key("undo", "u", "u", "undo", "Take back the latest entry.")
TAB = Key("turn_page", "t", "t", "pages", "Turn between causes, what speaks for and against, and the facts so far.")
PANES = Key(
    "app.focus_next", "tab", "tab", "panes", "Go from pane to pane; up and down move in it, Delete takes a fact back."
)
SAFE = Key("made_safe", "o", "o", "made safe", "A danger is over: record how it was made safe.")
RESET = Key("reset", "r", "r", "reset", "A reset: what it clears, what to note first, how many are left.")
GATE = Key("gate", "g", "g", "lockout", "Lock out, prove dead, work live, and return to service.")
TAGS = Key("tags", "y", "y", "tags", "A danger tag hangs there or is down; or the owner of a lock or tag is absent.")
CALL = Key("call", "c", "c", "call", "Record that you called somebody, and see how to reach them.")
SHEET = Key("sheet", "h", "h", "sheet", "Write the handover or call sheet to files.")
FINISH = Key("finish", "f", "f", "finish", "Close the case: cured, running, or handed over.")
FAILED = Key("failed", "k", "k", "not cured", "The remedy did not cure it: its proof becomes evidence.")
NOTE = Key("note", "w", "w", "note", "Write a note into the record.")
PERSON = Key("person", "p", "p", "person", "Who is at this terminal: somebody else, or what you may do.")
HOME = Key("machines", "m", "m", "machines", "Back to the list of machines and open cases; this case stays open.")
LIST = Key("list_states", "l", "l", "list", "All states of what the strip names, as a list with their meaning.")

READ = Key(
    "read",
    "e",
    "e",
    "read",
    "Read it off another way: tap along with a lamp, draw a display, measure a contact, work a reading out.",
)

SEND = Key("send", "enter", "↵", "take it", "Take what stands in the line.")
STOP = Key("stop_typing", "escape", "esc", "leave the line", "Give up what stands in the line.")
TYPING = (SEND, STOP, HELP_F1)
"""While a line is typed in, every other key is text."""

TABLE = (
    MARK, CANNOT, DO, READ, WALK, NEXT, ANOTHER, FIND, BEFORE, UNDO, TAB, PANES, INFO, LIST, SKIP,
    GATE, SAFE, RESET, TAGS, CALL, SHEET, FAILED, FINISH, NOTE, PERSON, HOME, HELP, LEAVE, QUIT,
)  # fmt: skip


def shown(view: CaseView, paged: bool) -> tuple[Key, ...]:
    """The keys that do something now, for the footer. `paged`: one page shows at a time at the lower right."""
    state, asked, action = view.state, view.asked, view.action
    if state.closed:
        return (*((TAB,) if paged else ()), SHEET, HOME, HELP, LEAVE)
    others = [who for _, who in state.locks if not same_name(who, state.person.name)]
    open_, typed = asked is not None and asked.open, asked is not None and asked.typed
    works = {
        QUIT: False,
        TAB: paged,
        FAILED: bool(state.remedy) and not state.proved,
        SAFE: bool(state.danger),
        RESET: bool(view.machine.resets) and not state.danger,
        TAGS: bool(state.tags or state.to_be_told or others),
        GATE: bool(view.machine.zones) and (not state.danger or bool(state.locks) or state.live is not None),
        NEXT: view.away,
        READ: open_ and asked is not None and bool(asked.way),
        MARK: open_ and not typed,
        CANNOT: asked is not None,
        LIST: open_ and typed,
        SKIP: action is not None and action.kind in ("check", "remedy", "look"),
        ANOTHER: len(view.offered) > 1,
    }
    return tuple(key for key in TABLE if works.get(key, True))
