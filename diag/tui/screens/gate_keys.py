"""The keys of the gate screen, and the acts at the gate that have one."""

from __future__ import annotations

from diag.safety import Act
from diag.tui.keys import HELP, LEAVE, QUIT, Key

CONFIRM = Key("confirm", "enter", "↵", "confirm", "Confirm the step that is marked; you are the one who did it.")
DIGIT = Key("digit", "", "1-9", "that step", "Confirm the step with that digit, where several are due.")
CHOOSE = Key("choose(1)", "down", "↑↓", "mark", "Mark another of the steps that are due.")
UP = Key("choose(-1)", "up", "", "", "")
VOLTAGE = Key(
    "found('voltage-found')", "v", "v", "voltage found", "A test point is not dead: stops the zone. Twice, to be sure."
)
METER = Key(
    "found('meter-failed')", "m", "m", "meter fails", "The meter does not prove: stops the zone. Twice, to be sure."
)
MOVED = Key(
    "found('moved')", "x", "x", "it moved", "Something moved at the start attempt: stops the zone. Twice, to be sure."
)
BACK = Key("way('back')", "b", "b", "way back", "Start the way back: tools, guards, people, locks, told, power.")
TEST = Key(
    "way('test-power')",
    "t",
    "t",
    "test power",
    "Power for a test: the way back, the test, then isolate and prove again.",
)
AGAIN = Key(
    "way('isolate-again')",
    "i",
    "i",
    "isolate again",
    "The test is over, or the site has decided: isolate, lock and prove again.",
)
MINE = Key("way('locks-off')", "o", "o", "my locks off", "You leave: your own locks come off, others' stay on.")
RETRACT = Key(
    "way('retract')", "u", "u", "undo", "The last confirmation was a mistake: one step back, never towards dead."
)
LIVE = Key("way('live')", "w", "w", "live work", "Live work: why it cannot be done dead, and the site's permit.")
OVER = Key("way('live-over')", "e", "e", "live over", "The live work is over and the enclosure is closed.")
TEST_AGAIN = Key(
    "way('meter-proved')", "r", "r", "prove again", "Prove the meter and test again, for locks that came on since."
)
ZONE = Key("zone(1)", "tab,z,right", "tab", "zone", "The next zone of this machine.")
ZONE_BACK = Key("zone(-1)", "shift+tab,left", "", "", "")
PERSON = Key("person", "p", "p", "person", "Somebody else takes the keys: people of this case by digit.")
CAUTIONS = Key("cautions(1)", "pagedown", "PgDn", "cautions", "Further down in the cautions; PgUp goes up.")
CAUTIONS_UP = Key("cautions(-1)", "pageup", "", "", "")
CASE = Key("case", "escape,g", "esc", "case", "Back to the case. What was confirmed stays.")

WAYS = {
    BACK: Act.BACK, TEST: Act.TEST_POWER, AGAIN: Act.ISOLATE_AGAIN, MINE: Act.LOCKS_OFF, RETRACT: Act.RETRACT,
    LIVE: Act.LIVE, OVER: Act.LIVE_OVER, TEST_AGAIN: Act.METER_PROVED,
}  # fmt: skip
FOUND = {VOLTAGE: Act.VOLTAGE_FOUND, METER: Act.METER_FAILED, MOVED: Act.MOVED}

TABLE = (
    CONFIRM, DIGIT, CHOOSE, VOLTAGE, METER, MOVED, RETRACT, BACK, TEST, AGAIN, TEST_AGAIN, MINE, LIVE, OVER,
    ZONE, CAUTIONS, PERSON, CASE, HELP, LEAVE, QUIT,
)  # fmt: skip
