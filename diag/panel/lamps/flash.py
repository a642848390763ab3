"""How a lamp looks over time: steady, off, blinking, so many flashes and a pause, two colours in turn.

A pattern is a frozen list of phases, each lit or dark for so many milliseconds, repeated without end. The named ones
are those of two open standards: CiA 303-3 v1.4 (its times are exact) and IEC 60073 (it gives ranges of rates; the
phases here stand in the middle of the range, and the range is kept beside them). A machine file's own pattern goes
before a standard's: lamps with a single flash of 200/1400 ms are met in the field.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Final

from diag.text import cut, one_line

COLOURS: Final = ("red", "yellow", "amber", "orange", "green", "blue", "white")
SHORTEST: Final = 5
"""Milliseconds. Under this the eye sees a steady light."""
LONGEST: Final = 60_000
"""Milliseconds of one phase. Beyond this it is no flashing, and nobody waits for it."""
MOST_PHASES: Final = 32


class BadPattern(ValueError):
    """Words that are not a flash pattern. The message is one line that says what is known."""


@dataclass(frozen=True, slots=True)
class LampPhase:
    """Lit or dark for `ms` milliseconds; `colour` where the lamp has more than one."""

    lit: bool
    ms: int
    colour: str = ""


@dataclass(frozen=True, slots=True)
class Pattern:
    """Phases that repeat. A single phase is a lamp that does not change: steady, or off."""

    name: str
    """As a person says it: `blink`, `2 flashes`, `steady`."""
    phases: tuple[LampPhase, ...]
    periods: tuple[int, int] | None = None
    """Where a standard gives a range of rates: the shortest and the longest period, in milliseconds."""
    source: str = ""
    colour: str = ""
    """The colour said in front of the pattern; empty when it is the lamp's own."""

    @property
    def changes(self) -> bool:
        """Whether anything is to be seen over time."""
        return len(self.phases) > 1

    @property
    def period(self) -> int:
        """Milliseconds after which it repeats; 0 for steady and off."""
        return sum(p.ms for p in self.phases) if self.changes else 0

    @property
    def starts(self) -> tuple[int, ...]:
        """Milliseconds within the period at which each phase begins."""
        return tuple(accumulate((p.ms for p in self.phases[:-1]), initial=0))

    @property
    def onsets(self) -> tuple[int, ...]:
        """Milliseconds within the period at which it lights (or changes colour): when a thumb taps."""
        before = (self.phases[-1], *self.phases[:-1])
        steps = zip(self.starts, self.phases, before, strict=True)
        return tuple(at for at, now, was in steps if now.lit and (now.lit, now.colour) != (was.lit, was.colour))


def of_times(name: str, times: tuple[int, ...], source: str = "", periods: tuple[int, int] | None = None) -> Pattern:
    """The pattern lit and dark in turn for these milliseconds, starting lit. Raises BadPattern on impossible times."""
    if len(times) < 2 or len(times) % 2:
        raise BadPattern(f"{name}: times come in pairs, lit then dark, as in 200/1000 ms.")
    if len(times) > MOST_PHASES:
        raise BadPattern(f"{name}: more than {MOST_PHASES} times in one pattern.")
    if not all(SHORTEST <= t <= LONGEST for t in times):
        raise BadPattern(f"{name}: each time must lie between {SHORTEST} and {LONGEST} ms.")
    return Pattern(name, tuple(LampPhase(i % 2 == 0, t) for i, t in enumerate(times)), periods, source)


_CIA: Final = "CiA 303-3 v1.4"
_IEC: Final = "IEC 60073"

STEADY: Final = Pattern("steady", (LampPhase(True, 0),))
OFF: Final = Pattern("off", (LampPhase(False, 0),))
FLICKER: Final = of_times("flicker", (50, 50), _CIA)
"""10 Hz: period 100 ms. Too fast to tap."""
BLINK: Final = of_times("blink", (200, 200), _CIA)
"""2.5 Hz: period 400 ms."""
FLASHES: Final = tuple(
    of_times("1 flash" if n == 1 else f"{n} flashes", (200, 200) * (n - 1) + (200, 1000), _CIA) for n in (1, 2, 3, 4)
)
"""One to four flashes of 200 ms, 200 ms apart, then 1000 ms dark: periods 1200, 1600, 2000, 2400 ms."""
SLOW: Final = of_times("slow flashing", (833, 833), _IEC, (1250, 2500))
"""24 to 48 a minute (low priority); drawn at 36."""
NORMAL: Final = of_times("normal flashing", (238, 238), _IEC, (357, 714))
"""84 to 168 a minute (high priority); drawn at 126."""

CIA_303_3: Final = (STEADY, OFF, FLICKER, BLINK, *FLASHES)
OPEN_STANDARD: Final = (*CIA_303_3, SLOW, NORMAL)

_NAMED: Final = {p.name: p for p in OPEN_STANDARD} | {
    "on": STEADY,
    "lit": STEADY,
    "steady on": STEADY,
    "dark": OFF,
    "out": OFF,
    "flickering": FLICKER,
    "blinking": BLINK,
    "single flash": FLASHES[0],
    "double flash": FLASHES[1],
    "triple flash": FLASHES[2],
    "quadruple flash": FLASHES[3],
}
_NUMBER: Final = r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)"
_RATED: Final = re.compile(rf"(?:blink|blinking|flashing) {_NUMBER} ?hz")
_FLASHES: Final = re.compile(r"([0-9]{1,2}) flash(?:es)?")
_TIMES: Final = re.compile(r"(?:(blink|[0-9]{1,2} flash(?:es)?) )?([0-9]{1,5}(?:/[0-9]{1,5})+)(?: ?ms)?")
_ALTERNATING: Final = re.compile(rf"alternating ([a-z]+)/([a-z]+)(?: {_NUMBER} ?hz)?")
KNOWN: Final = (
    "steady, off, flicker, blink, blink 1 Hz, 1 flash to 4 flashes, slow flashing, normal flashing, "
    "alternating red/green 1 Hz, 200/1400 ms"
)


def parse(text: str) -> Pattern:
    """The pattern in words: `steady`, `off`, `flicker`, `blink`, `blink 1 Hz`, `2 flashes`, `slow flashing`,
    `normal flashing`, `alternating red/green 1 Hz`, or lit and dark times as `200/1400 ms` (also after a name:
    `1 flash 200/1400 ms`). A colour may stand in front (`red blink 1 Hz`). Raises BadPattern.
    """
    if len(text) > 200:
        raise BadPattern("That is too long for a flash pattern.")
    words = " ".join(text.lower().replace(",", ".").split())
    colour, _, rest = words.partition(" ")
    if colour in COLOURS and rest:
        plain = _plain(rest, text)
        if any(p.colour for p in plain.phases):
            raise BadPattern(f"{_quoted(text)}: name the colours once, as in alternating red/green.")
        return replace(plain, colour=colour)
    return _plain(words, text)


def _plain(words: str, text: str) -> Pattern:
    if words in _NAMED:
        return _NAMED[words]
    if found := _RATED.fullmatch(words):
        return of_times(f"blink {float(found[1]):g} Hz", _half_period(found[1], text))
    if found := _FLASHES.fullmatch(words):
        return _counted(int(found[1]), text)
    if found := _TIMES.fullmatch(words):
        times = tuple(int(t) for t in found[2].split("/"))
        name = f"{found[1]} {found[2]} ms" if found[1] else f"{found[2]} ms"
        pattern = of_times(name, times)
        if found[1] and found[1] != "blink" and int(found[1].split()[0]) != len(times) // 2:
            raise BadPattern(f"{_quoted(text)}: the times show {len(times) // 2} of them, not {found[1].split()[0]}.")
        return pattern
    if found := _ALTERNATING.fullmatch(words):
        one, other, rate = found[1], found[2], found[3] or "1"
        for colour in (one, other):
            if colour not in COLOURS:
                raise BadPattern(f"{_quoted(text)}: {_quoted(colour)} is not a lamp colour ({', '.join(COLOURS)}).")
        if one == other:
            raise BadPattern(f"{_quoted(text)}: two different colours alternate.")
        half = _half_period(rate, text)
        return Pattern(
            f"alternating {one}/{other} {float(rate):g} Hz",
            (LampPhase(True, half[0], one), LampPhase(True, half[1], other)),
        )
    raise BadPattern(f"{_quoted(text)} is not a flash pattern. Known: {KNOWN}.")


def _half_period(rate: str, text: str) -> tuple[int, int]:
    hertz = float(rate)
    if not 0.01 <= hertz <= 50:
        raise BadPattern(f"{_quoted(text)}: a rate lies between 0.01 and 50 Hz.")
    period = round(1000 / hertz)
    return (period - period // 2, period // 2)


def _counted(count: int, text: str) -> Pattern:
    """More than four flashes go on in the manner of CiA 303-3, which itself ends at four."""
    if 1 <= count <= 4:
        return FLASHES[count - 1]
    if 5 <= count <= 16:
        return of_times(f"{count} flashes", (200, 200) * (count - 1) + (200, 1000))
    raise BadPattern(f"{_quoted(text)}: flashes are counted from 1 to 16.")


def _quoted(text: str) -> str:
    return f'"{cut(one_line(text), 32)}"'


def phase_at(pattern: Pattern, ms: float) -> LampPhase:
    """The phase at `ms` milliseconds after the pattern began (also before: it repeats both ways)."""
    if not pattern.changes:
        return pattern.phases[0]
    left = ms % pattern.period
    for phase in pattern.phases:
        if left < phase.ms:
            return phase
        left -= phase.ms
    return pattern.phases[-1]


def lit_at(pattern: Pattern, ms: float) -> bool:
    """Whether the lamp gives light at that time, in whatever colour."""
    return phase_at(pattern, ms).lit
