"""The keys of the case screen."""

from __future__ import annotations

from diag.case.snapshot import Action, State
from diag.machine.model import Machine
from diag.tui.keys import HELP, HELP_F1, LEAVE, QUIT, Key
from diag.tui.turn import NEXT as NEXT_THING
from diag.tui.turn import Turn
from diag.tui.widgets.answer import Target, typed, way

MARK = Key("mark", "", "1-9", "mark", "Mark the state with that digit for what the strip names.")
CANNOT = Key(
    "cannot_tell", "x", "0 x", "can't tell", "Say that you can't tell. Always an answer; x where digits are typed."
)
DO = Key("do", "enter", "↵", "do", "Type a reading or a code; or say that what is shown is done.")
WALK = Key("walk", "", "←↑↓→", "panel", "Walk over the panel and mark anything on it with one digit.")
NEXT = Key("next", "escape,n", "n", "next", "Back from the panel to the next thing to do.")
ANOTHER = Key("another", "a", "a", "other", "Turn to an alternative to the next thing.")
INFO = Key("info", "i", "i", "info", "All that is known about what is shown: where, tool, who, why, how.")
SKIP = Key("skip", "s", "s", "aside", "Set it aside: no tool, no part, no time. Not offered again in this round.")
FIND = Key("find", "slash", "/", "find", "Find any indication of this machine by typing.")
BEFORE = Key("before", "b", "b", "before", "The next answer was found before this case; you are asked by whom.")
UNDO = Key("undo", "u", "u", "undo", "Take back the latest entry.")
TAB = Key("turn_page", "t", "t", "pages", "Turn between causes, what speaks for and against, and the facts so far.")
PANES = Key(
    "app.focus_next", "tab", "tab", "panes", "Go from pane to pane; up and down move in it, Delete takes a fact back."
)
RESET = Key("reset", "r", "r", "reset", "A reset: what it clears, what to note first, how many are left.")
GATE = Key("gate", "g", "g", "lockout", "Lock out, prove dead, work live, and the way back.")
CALL = Key("call", "c", "c", "call", "Record that you called somebody, and see how to reach them.")
SHEET = Key("sheet", "h", "h", "sheet", "Write the handover or call sheet to files.")
FINISH = Key("finish", "f", "f", "finish", "Close the case: cured, running, or handed over.")
FAILED = Key("failed", "k", "k", "not cured", "The remedy did not cure it: its proof becomes evidence.")
NOTE = Key("note", "w", "w", "note", "Write a note into the record.")
PERSON = Key("person", "p", "p", "person", "Somebody else takes the keys.")
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
    GATE, RESET, CALL, SHEET, FAILED, FINISH, NOTE, PERSON, HOME, HELP, LEAVE, QUIT,
)  # fmt: skip


def shown(
    machine: Machine,
    state: State,
    turn: Turn,
    target: Target | None,
    offered: tuple[Action, ...],
    paged: bool,
) -> tuple[Key, ...]:
    """The keys that do something now, for the footer. `paged`: one page shows at a time at the lower right."""
    if state.closed:
        return (*((TAB,) if paged else ()), SHEET, HOME, HELP, LEAVE)
    action = offered[turn.chosen] if turn.source == NEXT_THING and turn.chosen < len(offered) else None
    hidden = {QUIT} if paged else {QUIT, TAB}
    if not state.remedy or state.proved:
        hidden.add(FAILED)
    if not machine.resets:
        hidden.add(RESET)
    if not machine.zones:
        hidden.add(GATE)
    if state.danger:
        hidden.add(RESET)
        if not state.locks and state.live is None:
            hidden.add(GATE)
    if turn.source == NEXT_THING:
        hidden.add(NEXT)
    if target is None or not target.open or not way(target.indication):
        hidden.add(READ)
    if target is None:
        hidden |= {MARK, CANNOT, LIST}
    elif typed(target.indication) or not target.open:
        hidden.add(MARK)
    if target is not None and not (typed(target.indication) and target.open):
        hidden.add(LIST)
    if action is None or action.kind not in ("check", "remedy", "look"):
        hidden.add(SKIP)
    if len(offered) < 2:
        hidden.add(ANOTHER)
    return tuple(key for key in TABLE if key not in hidden)
