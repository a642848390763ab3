"""The keys of the gate screen, and the acts at the gate that have one."""

from __future__ import annotations

from diag.safety import Act
from diag.tui.key_table import HELP, LEAVE, QUIT, Key

CONFIRM = Key("confirm", "enter", "↵", "confirm", "Confirm the step that is marked; you are the one who did it.")
TO_CASE = Key("confirm", "enter", "↵", "back to the case", "Nothing is left to confirm here: back to the case.")
"""What the same key does then."""
DIGIT = Key("digit", "", "1-9", "that step", "Confirm the step with that digit, where several are due.")
CHOOSE = Key("choose(1)", "down", "↑↓", "mark", "Mark another of the steps that are due.")
LATE = Key("way('put-back')", "k", "k", "put back", "What was entered late as taken off was back before the covers.")
INSIDE = Key(
    "done_inside", "d", "d", "done inside", "A remedy that was done here under lock is entered now, with its time."
)
ZONE = Key("zone(1)", "tab,z,right", "tab", "zone", "The next zone of this machine.")
TAGS = Key("tags", "y", "y", "tags", "A danger tag hangs there or is down; or the owner of a lock or tag is absent.")
PERSON = Key("person", "p", "p", "person", "Who is at this terminal: somebody else, or what you may do.")
CAUTIONS = Key("cautions(1)", "pagedown", "PgDn", "cautions", "Further down in the cautions; PgUp goes up.")
CASE = Key("case", "escape,g", "esc", "case", "Back to the case. What was confirmed stays.")


def _keys(action: str, *rows: tuple[Act, str, str, str]) -> dict[Key, Act]:
    """Keys of this action, each for an act: its key, its label, its help."""
    return {Key(f"{action}('{act.value}')", key, key, label, help): act for act, key, label, help in rows}


FOUND = _keys(
    "found",
    (Act.VOLTAGE_FOUND, "v", "voltage found", "A test point is not dead: stops the zone. Twice, to be sure."),
    (Act.METER_FAILED, "m", "meter fails", "The meter cannot be proved: stops the zone. Twice, to be sure."),
    (Act.MOVED, "x", "it moved", "Something moved when a start was tried: stops the zone. Twice, to be sure."),
)
WAYS = _keys(
    "way",
    (Act.RETRACT, "u", "undo", "The last confirmation was a mistake: one step back, never towards dead."),
    (Act.BACK, "b", "restore", "Return to service: what was taken off, holds, tools, covers, people, locks, power."),
    (
        Act.TEST_POWER,
        "t",
        "test power",
        "Power for a test: return to service, test, then isolate and prove dead again.",
    ),
    (
        Act.ISOLATE_AGAIN,
        "i",
        "isolate again",
        "The test is over, or the site has decided: isolate, lock and prove again.",
    ),
    (Act.METER_PROVED, "r", "prove again", "Prove the meter and test again, for locks that came on since."),
    (Act.LOCKS_OFF, "o", "my locks off", "You leave: your own locks come off, others' stay on."),
    (Act.LIVE, "w", "live work", "Live work: why it cannot be done dead, and the site's permit."),
    (Act.LIVE_OVER, "e", "live over", "The live work is over and the enclosure is closed."),
)

TABLE = (CONFIRM, DIGIT, CHOOSE, *FOUND, *WAYS, ZONE, CAUTIONS, TAGS, PERSON, CASE, HELP, LEAVE, QUIT)
BACKWARDS = (
    Key("choose(-1)", "up", "", "", ""),
    Key("zone(-1)", "shift+tab,left", "", "", ""),
    Key("cautions(-1)", "pageup", "", "", ""),
)
"""The same keys the other way; the footer and the help show one of each."""
