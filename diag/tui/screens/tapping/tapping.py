"""What was tapped along with a lamp, what it is worth, and what is to be said of it. Plain; times are handed in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from diag.case.observe import from_lamp as lamps
from diag.case.observe.from_lamp import Tapped, patterns
from diag.case.observe.observation import Observation
from diag.machine.model import Indication
from diag.panel.lamps import taps
from diag.text import one_line
from diag.tui.looks.signs import pattern_words
from diag.tui.looks.wording import plain
from diag.tui.screens.tapping.rhythm import Rhythm

ROUNDS: Final = taps.NEEDED - 0.2
"""Periods to tap, less what the lamp's own timer may be off."""
RUNS_ON = 2000.0
"""Milliseconds after the last tap for which the time line runs on; then it waits, so that it can be looked at."""
ENOUGH_TO_SAY = 4
"""Taps before it is said that the file does not know what they look like."""
APART = 0.4
"""Seconds between the two Enters that take an observation which the file does not know. A held key repeats faster."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How well each state fits what was tapped."""

    shares: dict[str, float] = field(default_factory=dict)
    """Of each state, summing to 1; empty while nothing is known."""
    best: str = ""
    """The state to point out and to compare with; empty where none stands out."""
    head: str = ""
    """What they are shares of."""
    otherwise: str = "A lamp flashes here as the best fitting state does, to compare."
    """What stands in the place of the lamp to compare with."""


class Tapping:
    """One lamp, tapped along with."""

    def __init__(self, indication: Indication) -> None:
        self.indication = indication
        self.rhythm = Rhythm()
        self.found: Observation | None = None
        self._of: Tapped | None = None
        """What was found is of this; other than what is tapped while that is still being weighed."""
        self._asked: float | None = None
        """When Enter was first pressed on an observation that the file does not know, in seconds."""

    # ------------------------------------------------------------ weighing

    def changed(self) -> Tapped | None:
        """Something was tapped, or forgotten: what is to be weighed now; None where nothing is."""
        self._asked = None
        tapped = self.rhythm.tapped
        if tapped is None:
            self.found = self._of = None
        return tapped if tapped != self._of else None

    def weigh(self, tapped: Tapped) -> Observation:
        """What these taps are worth. It may take a while, and changes nothing here."""
        return lamps.of_taps(self.indication, tapped)

    def weighed(self, tapped: Tapped, found: Observation) -> Tapped | None:
        """These taps were weighed; what is to be weighed next, as more was tapped meanwhile."""
        now = self.rhythm.tapped
        if now is None:
            return None
        self.found, self._of = found, tapped
        return now if now != tapped else None

    def take(self, now: float) -> Observation | None:
        """What is taken at Enter; None where there is nothing, or Enter is to be pressed once more. `now`: seconds."""
        tapped = self.rhythm.tapped
        if tapped is None:
            return None
        if tapped != self._of or self.found is None:
            self.found, self._of = self.weigh(tapped), tapped
        if self.found.note and (self._asked is None or now - self._asked < APART):
            self._asked = now
            return None
        return self.found

    # ------------------------------------------------------------ what is shown

    @property
    def fit(self) -> Fit:
        found, ids = self.found, self.indication.state_ids
        if found is None:
            return Fit()
        whole = sum(found.seen.values())
        shares = {s: found.seen.get(s, 0.0) / whole for s in ids}
        what = "that fits" if self.rhythm.claim else "the presses fit" if self.rhythm.hold else "the taps fit"
        if found.note:
            return Fit(shares, "", f"how well {what}: none well", "No state of this lamp looks like that.")
        return Fit(shares, max(shares, key=lambda s: shares[s]), f"how well {what}", "")

    def time_line(self, now: float | None) -> tuple[tuple[tuple[float, float], ...], float]:
        """From when to when something was pressed, and the time at the right end. `now`: None where nothing may
        move. All in milliseconds."""
        marks, down = self.rhythm.marks, self.rhythm.down
        last = down if down is not None else marks[-1][1] if marks else 0.0
        end = min(max(now, last), last + RUNS_ON) if now is not None and last else last
        if down is not None:
            marks = (*marks, (down, max(end, down + 1)))
        return marks, end

    def told(self) -> tuple[str, str]:
        """One line with its tone: what hinders, what to do next, or that it is enough."""
        rhythm, found = self.rhythm, self.found
        if rhythm.repeats:
            return "warn", "Tap the key, do not hold it."
        if found is None:
            return "hint", f"Tap along for about {taps.NEEDED} rounds. How well each state fits shows at once."
        if found.note and not rhythm.claim and rhythm.count < ENOUGH_TO_SAY and self._asked is None:
            return "hint", "So far no state of this lamp fits. Go on tapping."
        if found.note:
            return "warn", found.note + (" Enter once more takes it all the same." if self._asked is not None else "")
        return self._one(found) if lamps.settled(self.indication, found) else self._several(found)

    def _one(self, found: Observation) -> tuple[str, str]:
        """One state stands out."""
        best = found.doubtful[0]
        pattern = patterns(self.indication.states)[best]
        if self.rhythm.claim or not pattern.changes or self.rhythm.rounds(pattern) >= ROUNDS:
            return "say", f"Enough: {self._named(best)} stands out."
        return "hint", f"So far {self._named(best)} stands out. Go on a little."

    def _several(self, found: Observation) -> tuple[str, str]:
        """Two states or more still fit."""
        one, other = sorted(found.doubtful[:2], key=self.indication.state_ids.index)
        known = patterns(self.indication.states)
        both = f"{self._named(one)} and {self._named(other)}"
        if known[one].phases == known[other].phases:
            return "hint", f"{both} flash alike: tapping cannot tell them apart."
        if self.rhythm.claim or self.rhythm.rounds(known[found.doubtful[0]]) >= 2 * taps.NEEDED:
            return "hint", f"Not to be told apart so far: {both}. Enter takes it as doubtful."
        return "hint", f"Go on{'' if self.rhythm.hold else ' tapping'}: {both} both fit."

    def _named(self, state: str) -> str:
        words = pattern_words(self.indication, state)
        return f"{plain(state)} ({one_line(words)})" if words and words != plain(state) else plain(state)
