"""Hostile input for the panel's parsers, and an eye that reads independently of them.

`run` throws invented and mutated text at every parser. A refusal must be its own error with one printable line. What
is taken must pass `doubt`, which knows nothing of the parser's grammar: the digits of the value are the digits that
were typed, in order; its sign and its power of ten are those of the text; nothing ambiguous was taken at all.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, TypeVar

from diag.panel.display import decode, segments
from diag.panel.lamps import flash
from diag.panel.meter import accuracy, meter
from diag.panel.meter.meter import BadReading, Measured

T = TypeVar("T")

UNITS: Final = (
    "V d.c.",
    "V a.c.",
    "V",
    "A",
    "mA",
    "ohm",
    "kohm",
    "Mohm",
    "bar",
    "%",
    "mm",
    "ms",
    "s",
    "Hz",
    "degC",
    "uF",
    "pcs",
    "",
)
_GOOD: Final = (
    "23.9", "23,9 V", "1k2", "4M7", "4R7", "R47", "3V3", "0.4 k", "-12", "OL", ">40M", "> 40 Mohm", "230 V a.c.", ".5",
    "0.L", "24 VDC", "600 kPa", "12 ms", "50%", "20 \u00b0C", "10 M\u03a9", "4.7 \u00b5F", "1,234", "1.234,5", "1 234",
    "1e3", "12:30", "\u00bd", "\uff11\uff12", "--5", "nan", "inf", "-inf", "<5", "0x1F", "1_000", "+24", "\u22125",
    "1'000", "5-6", "1/2", "1k2k", "00", "\u0661\u0662", "1\u00b2", "1.2.3", "24 24", "1,23,456", "9" * 30, "0" * 20,
)  # fmt: skip
_PATTERNS: Final = (
    "steady", "off", "flicker", "blink", "blink 1 Hz", "red blink 2,5 Hz", "1 flash", "4 flashes", "16 flashes",
    "slow flashing", "normal flashing", "alternating red/green 1 Hz", "200/1400 ms", "2 flashes 200/200/200/1000",
)  # fmt: skip
_ACCURACIES: Final = ("0.5 %", "0.5 % + 3", "\u00b1(1,0 % + 2 digits)", "1.2% of reading + 4 counts", "+-2 %")
_CODES: Final = ("E.04", "88.8", "C?", "--", "8.8.8.8.", "HELP", "\u00b0C", " 1")
_ODD: Final = (
    "0123456789" * 3 + ".,,..  kKmMuRVALO%<>+-:/'eE" + "\x00\x1b\n\t\u00a0\u200b\u202e\u0660\uff15\u00bd\u221e\u2126[]"
)


@dataclass(frozen=True, slots=True)
class Report:
    """What became of the inputs. `wrong` holds the text, the parser and the reason, as one line each."""

    tried: int
    taken: int
    refused: int
    wrong: tuple[str, ...]


STRIDE: Final = 1000
"""Inputs between two words of progress."""


def run(count: int, seed: int = 1, most_wrong: int = 50, done: Callable[[int], None] = lambda inputs: None) -> Report:
    """Throw `count` inputs at the parsers. Reproducible by its seed; stops early after so many wrong answers.

    `done` hears now and then how many more inputs are over.
    """
    rng = random.Random(seed)
    taken = refused = tried = 0
    wrong: list[str] = []
    for _ in range(count):
        tried += 1
        name, attempt = _attempt(rng)
        try:
            reason = attempt()
        except _Refused as error:
            refused += 1
            reason = _bad_line(str(error))
        except Exception as error:  # the very thing looked for: an error that is not the parser's own
            reason = f"{type(error).__name__}: {error}"
        else:
            taken += 1
        if reason:
            wrong.append(f"{name}: {reason}")
            if len(wrong) >= most_wrong:
                break
        if tried % STRIDE == 0:
            done(STRIDE)
    return Report(tried, taken, refused, tuple(wrong))


class _Refused(Exception):
    """A parser refused with its own error."""


def _attempt(rng: random.Random) -> tuple[str, Callable[[], str]]:
    pick = rng.random()
    if pick < 0.25:
        text, unit, value = known(rng)
        return f"meter {text!r} in {unit!r}", lambda: _known_doubt(text, unit, value)
    if pick < 0.7:
        text, unit = mutated(rng, _GOOD), rng.choice(UNITS)
        return f"meter {text!r} in {unit!r}", lambda: doubt(text, unit, _refusing(lambda: meter.parse(text, unit)))
    if pick < 0.85:
        text = mutated(rng, _PATTERNS)
        return f"flash {text!r}", lambda: _pattern_doubt(text, _refusing(lambda: flash.parse(text)))
    if pick < 0.92:
        text = mutated(rng, _ACCURACIES)
        return f"accuracy {text!r}", lambda: _accuracy_doubt(text, _refusing(lambda: accuracy.parse(text)))
    text = mutated(rng, _CODES)
    return f"display {text!r}", lambda: _display_doubt(text)


def _refusing(parse: Callable[[], T]) -> T:
    try:
        return parse()
    except (BadReading, flash.BadPattern, segments.NoGlyph) as error:
        raise _Refused(str(error)) from None


def mutated(rng: random.Random, seeds: tuple[str, ...]) -> str:
    """Text near something that is written, or plain noise."""
    if rng.random() < 0.15:
        return "".join(rng.choice(_ODD) for _ in range(rng.randint(0, 12)))
    text = rng.choice(seeds)
    for _ in range(rng.choice((0, 1, 1, 1, 2, 3))):
        at = rng.randint(0, len(text))
        match rng.randrange(4):
            case 0:
                text = text[:at] + rng.choice(_ODD) + text[at:]
            case 1:
                text = text[:at] + text[at + 1 :]
            case 2:
                text = text[:at] + rng.choice(_ODD) + text[at + 1 :]
            case _:
                text = text[:at] + rng.choice(seeds) + text[at:]
    return text


def known(rng: random.Random) -> tuple[str, str, Decimal]:
    """A reading written in one of the ways people write it, its unit, and the value it must have."""
    unit, base, prefixes = rng.choice(
        (
            ("V d.c.", "V", {"": 0, "m": -3, "k": 3}),
            ("ohm", "ohm", {"": 0, "k": 3, "M": 6}),
            ("mA", "A", {"": 0, "m": -3}),
        )
    )
    whole, part = str(rng.randint(0, 9999)), str(rng.randint(0, 999)).zfill(rng.randint(1, 3))
    prefix = rng.choice(list(prefixes))
    declared = -3 if unit == "mA" else 0
    value = Decimal(f"{whole}.{part}").scaleb(prefixes[prefix] - declared)
    ways = [f"{whole}.{part} {prefix}{base}", f"{whole}.{part}{prefix}{base}"]
    if prefix:
        ways += [f"{whole}{prefix}{part}", f"{whole}.{part} {prefix}"]
    if len(part) != 3 or whole == "0":
        ways.append(f"{whole},{part} {prefix}{base}")
    return rng.choice(ways), unit, value


def _known_doubt(text: str, unit: str, value: Decimal) -> str:
    found = meter.parse(text, unit)
    return "" if found.value == float(value) and not found.overload else f"read as {found.value!r}, not {value}"


def _bad_line(message: str) -> str:
    if not message or not message.isprintable() or len(message) > 300:
        return f"refused with a line that cannot be shown: {message!r}"
    return ""


_SCALES: Final = {
    "k": 3,
    "K": 3,
    "M": 6,
    "m": -3,
    "u": -6,
    "\u00b5": -6,
    "\u03bc": -6,
    "G": 9,
    "T": 12,
    "n": -9,
    "p": -12,
}
_OWN: Final = {"mA": -3, "kohm": 3, "Mohm": 6, "bar": 5, "mm": -3, "ms": -3, "uF": -6}


def doubt(text: str, unit: str, found: Measured) -> str:
    """Why this reading of that text may be wrong; empty when nothing speaks against it."""
    if any(c.isnumeric() and not c.isascii() for c in text):
        return f"foreign digits, yet taken as {found.value!r}"
    if math.isnan(found.value) or found.unit != unit:
        return "not a value in the unit asked for"
    if re.search(r"\d[\s'\u00a0\u202f\u2009]+\d|[.,]\d*[.,]\d|[<:_]|--", text.replace("\u2212", "-")):
        return f"ambiguous, yet taken as {found.value!r}"
    if re.search(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?!\d)", text):
        return f"decimal comma or thousands, yet taken as {found.value!r}"
    if math.isinf(found.value):
        return "" if found.overload and "L" in text.upper() else "taken as endless"
    if found.overload != (">" in text):
        return "overload without its sign"
    digits = "".join(re.findall(r"[0-9]", text))
    value = Decimal(repr(found.value))
    if (value < 0) != (any(s in text for s in "-\u2212") and value != 0):
        return f"sign of {found.value!r}"
    typed, kept = digits.strip("0"), "".join(map(str, value.as_tuple().digits)).strip("0")
    if typed != kept and not re.search(r"psi|min|h", text, re.IGNORECASE):
        return f"digits {kept}, typed {typed}"
    return _power_doubt(text, unit, value)


def _power_doubt(text: str, unit: str, value: Decimal) -> str:
    """Whether the power of ten can come from a prefix that stands in the text."""
    number = re.search(r"(\d*)(?:[.,A-Za-z](\d+))?", text[re.search(r"[\d.,R]", text).start() :])  # type: ignore[union-attr]
    if value == 0 or number is None or re.search(r"psi|min|h|c", text, re.IGNORECASE):
        return ""
    plain = Decimal(f"{number[1] or 0}.{number[2] or 0}")
    if plain == 0:
        return ""
    power = value.adjusted() - abs(plain).adjusted()
    own = _OWN.get(unit, 0)
    powers = {0, -own} | {p - own for s, p in _SCALES.items() if s in text}
    if "bar" in text:
        powers |= {0, 5 - own, 2 - own}
    return "" if power in powers else f"power of ten {power}"


def _pattern_doubt(text: str, found: flash.Pattern) -> str:
    if any(p.ms < 0 for p in found.phases) or (found.changes and found.period <= 0):
        return "impossible times"
    if (rate := re.search(r"([0-9]+(?:[.,][0-9]+)?) *hz", text.lower())) and found.changes:
        wanted = 1000 / float(rate[1].replace(",", "."))
        if abs(found.period - wanted) > 1:
            return f"period {found.period}, not {wanted}"
    if flash.parse(found.name).phases != found.phases:
        return "its name reads as another pattern"
    return ""


def _accuracy_doubt(text: str, found: accuracy.Accuracy) -> str:
    numbers = [float(n.replace(",", ".")) for n in re.findall(r"[0-9]+(?:[.,][0-9]+)?", text)]
    wanted = [found.percent, found.counts] if len(numbers) > 1 else [found.percent]
    return "" if numbers == wanted else f"{found} from {numbers}"


def _display_doubt(text: str) -> str:
    lit = _refusing(lambda: segments.cells(text))
    plain = [segments.glyph(c) for c in text if c not in ".,"]
    if list(segments.cells("".join(c for c in text if c not in ".,"))) != plain:
        return "drawn as other characters"
    if sorted(d & segments.ALL for d in lit if d & segments.ALL) != sorted(d for d in plain if d):
        return "a point changed a digit"
    rows = segments.draw(lit)
    if any(len(r) != 4 * len(lit) for r in rows):
        return "rows of different lengths"
    decode.parse(text)
    return ""
