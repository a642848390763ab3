"""Which code a display shows, from what was read off it, when segments may be dark or stuck and people misread.

From code to observation there are three steps, each with its own chances (`Reading`):

1. the glyph: a character has its usual shape, or one of the known variants (6, 7, 9);
2. the display: healthy, or one fault of a few kinds (`display_faults`): a segment dark in every digit, a digit dark,
   one segment of one digit dark, one segment stuck lit. Dark is likelier than stuck. A fault joins the digits: the
   same segment missing in all of them is one piece of bad luck, not several;
3. the reader: toggled segments are taken nearly as entered; a typed character stands for the shapes nearest to what
   was lit, and shapes that two characters share (0 and O, 5 and S, 1 and I) count for both.

Summed over all of that, the answer is P(seen | code) and nothing about which code was expected.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final, TypeVar

from diag.panel.display.display_faults import Fault, faults
from diag.panel.display.segments import ALL, GLYPHS, VARIANTS, NoGlyph, glyph

Number = TypeVar("Number", float, Fraction)

Seen = str | int | None
"""One digit as read: a typed character, toggled segments (bits), or None where it could not be read."""

ANY: Final = "?"
UNKNOWN: Final = "other"
"""The state of a code that the file does not declare."""
FLOOR: Final = 1e-6
"""No code is impossible: a likelihood is never less than this share of the best."""


@dataclass(frozen=True, slots=True)
class Reading:
    """The chances of the first and the last step. Ours, not measured; only their order matters much."""

    variant: float = 0.1
    """A 6, 7 or 9 drawn in its other shape."""
    toggled: float = 0.0002
    """A segment entered wrongly, each."""
    slip: float = 0.005
    """How much less likely a typed character is for each segment by which its shape differs from what was lit."""
    alike: float = 0.005
    """A character taken for one that only looks or sounds alike (`ALIKE`)."""


READING: Final = Reading()

ALIKE: Final = ("0DQ", "2Z", "5S", "6bG", "8B", "9gq", "1Il7", "UuV")
"""Groups that people take for each other, over and above shapes that are the same."""

TYPED: Final = "".join(sorted({c.upper() for c in GLYPHS if c not in "?[]= "})) + " "
"""What somebody may type for one digit; letters in either case."""

_HEX: Final = "0123456789AbCdEF"
_ELSE: Final = "GHIJLNOPqrStUy-"
LIKELY: Final = (*((c, 0.8 / len(_HEX)) for c in _HEX), *((c, 0.2 / len(_ELSE)) for c in _ELSE))
"""What stands in the place of `?`, with its share: hex digits four times in five."""


def parse(text: str) -> tuple[Seen, ...]:
    """The digits of what was typed, points left out (they are weak: one small lamp). `?` is a digit not read.

    Raises NoGlyph on a character that seven segments cannot show.
    """
    digits = [c for c in text if c not in ".,"]
    for c in digits:
        glyph(c)
    return tuple(None if c == ANY else c for c in digits)


@lru_cache(maxsize=512)
def shapes(character: str) -> tuple[tuple[int, float], ...]:
    """The glyphs that a display may draw for a declared character, with their weights; `?` is any (`LIKELY`)."""
    if character == ANY:
        found: dict[int, float] = {}
        for c, share in LIKELY:
            for bits, w in shapes(c):
                found[bits] = found.get(bits, 0.0) + share * w
        return tuple(found.items())
    if character in VARIANTS:
        usual, other = VARIANTS[character]
        return ((usual, 1 - READING.variant), (other, READING.variant))
    return ((glyph(character), 1.0),)


@lru_cache(maxsize=8192)
def cell(seen: Seen, lit: int, reading: Reading = READING) -> float:
    """P(one digit is read as `seen` | these segments are lit). An unread digit is 1 under everything."""
    if seen is None:
        return 1.0
    lit &= ALL
    if isinstance(seen, int):
        return flipped(seen & ALL, lit, reading.toggled, reading.toggled)
    weights = _typed(lit, reading)
    key = seen.upper()
    return weights.get(key, min(weights.values()))


@lru_cache(maxsize=512)
def _typed(lit: int, reading: Reading) -> Mapping[str, float]:
    """P(typed character | lit segments): by how many segments its nearest shape differs, alike ones mixed in."""
    raw = {c: reading.slip ** min((bits ^ lit).bit_count() for bits in _written(c)) for c in TYPED}
    total = sum(raw.values())
    plain = {c: w / total for c, w in raw.items()}
    mixed = dict.fromkeys(TYPED, 0.0)
    for c, w in plain.items():
        others = {o for group in ALIKE if c in group.upper() for o in group.upper() if o != c and o in mixed}
        for o in others:
            mixed[o] += w * reading.alike
        mixed[c] += w * (1 - reading.alike * len(others))
    return mixed


@lru_cache(maxsize=128)
def _written(character: str) -> tuple[int, ...]:
    """Every shape that a person may mean by this character, in either case."""
    found: list[int] = []
    for form in (character, character.swapcase()):
        found += VARIANTS.get(form, ())
        if form in GLYPHS:
            found.append(GLYPHS[form])
    return tuple(found) or (glyph(character),)


def flipped(seen: int, lit: int, dark: Number, stuck: Number) -> Number:
    """P(seen | lit) when each lit segment goes dark and each dark one lights, on its own. Exact with fractions."""
    went_dark, went_lit = lit & ~seen & ALL, seen & ~lit & ALL
    lit_count = (lit & ALL).bit_count()
    a, b = went_dark.bit_count(), went_lit.bit_count()
    return dark**a * (1 - dark) ** (lit_count - a) * stuck**b * (1 - stuck) ** (7 - lit_count - b)


def _digit(seen: Seen, true: str, fault: Fault, at: int, reading: Reading) -> float:
    """P(one digit is read so | its true character, a fault of the display)."""
    return sum(w * cell(seen, fault.shows(at, bits), reading) for bits, w in shapes(true))


def _under(seen: Sequence[Seen], pattern: str, fault: Fault, reading: Reading) -> float:
    """P(seen | this code, this fault)."""
    return math.prod(_digit(s, c, fault, i, reading) for i, (s, c) in enumerate(zip(seen, pattern, strict=True)))


def code_likelihood(seen: Sequence[Seen], pattern: str, reading: Reading = READING) -> float:
    """P(seen | the display shows this code), over all faults of the display.

    The observation and the pattern are brought to the same length with dark digits on the right; a point in the
    pattern is left out. Raises NoGlyph where the pattern has a character without a shape.
    """
    plain = pattern.replace(".", "").replace(",", "")
    width = max(len(seen), len(plain), 1)
    full = (*seen, *(" " for _ in range(width - len(seen))))
    plain = plain.ljust(width)
    (healthy, chance), *rest = faults(width)
    each = [_digit(s, c, healthy, i, reading) for i, (s, c) in enumerate(zip(full, plain, strict=True))]
    others = [math.prod(each[:i]) * math.prod(each[i + 1 :]) for i in range(width)]
    total = chance * math.prod(each)
    for fault, p in rest:
        at = fault.digit
        if at < 0:
            total += p * _under(full, plain, fault, reading)
        else:
            total += p * others[at] * _digit(full[at], plain[at], fault, at, reading)
    return total


def likelihoods(
    seen: Sequence[Seen], codes: Sequence[tuple[str, str]], reading: Reading = READING, *, digits: int = 0
) -> dict[str, float]:
    """P(seen | state) for each state of the declared `codes` (pattern, state), scaled so that the best is 1.

    A state with several codes shows each of them as often. `other` (a code that is not declared) is among the answers:
    any character in every digit. `digits` is the width of the display, 0 for that of the longest code. A code whose
    characters seven segments cannot show is compared as text. Raises ValueError when more was read than the display
    has digits.
    """
    width = digits or max((len(c.replace(".", "")) for c, _ in codes), default=1)
    if len(seen) > width:
        raise ValueError(f"{len(seen)} characters do not fit a display of {width}.")
    found = []
    for pattern, state in codes:
        try:
            p = code_likelihood(seen, pattern.ljust(width), reading)
        except NoGlyph:
            p = _as_text(seen, pattern)
        found.append((state, p))
    return _by_state(found, code_likelihood(seen, ANY * width, reading))


def _by_state(found: Sequence[tuple[str, float]], unknown: float) -> dict[str, float]:
    """The mean over the codes of each state, `unknown` at the least for `other`; scaled so that the best is 1."""
    each: dict[str, list[float]] = {}
    for state, p in found:
        each.setdefault(state, []).append(p)
    means = {state: sum(ps) / len(ps) for state, ps in each.items()}
    means[UNKNOWN] = max(unknown, means.get(UNKNOWN, 0.0))
    best = max(means.values())
    return {state: max(p / best, FLOOR) if best > 0 else 1.0 for state, p in means.items()}


def _as_text(seen: Sequence[Seen], pattern: str) -> float:
    same = len(seen) == len(pattern) and all(
        s is None or p == ANY or (isinstance(s, str) and s.upper() == p.upper())
        for s, p in zip(seen, pattern, strict=False)
    )
    return 1.0 if same else 1e-9


def likeliest_fault(seen: Sequence[Seen], codes: Sequence[str]) -> Fault:
    """The likeliest fault of the display itself, or none, where one of these codes was shown (equally likely).

    A lamp test, of which the one code is all eights, tells the faults apart at once. Raises ValueError unless all
    codes have as many digits as were seen.
    """
    if any(len(code) != len(seen) for code in codes):
        raise ValueError("What was seen and the codes must all have the display's width.")
    priors = dict(faults(len(seen)))
    return max(priors, key=lambda fault: priors[fault] * sum(_under(seen, c, fault, READING) for c in codes))


# ---------------------------------------------------------------- codes shown in steps


def step_likelihoods(
    steps: Sequence[Seen], codes: Sequence[tuple[str, str]], reading: Reading = READING, *, gap: str = " "
) -> dict[str, float]:
    """P(steps | state) where a display of one digit shows a code character by character, then `gap`, again and again.

    `steps` are entered as they come, from any point of the round; a step may be overlooked (5 %) or entered twice
    (2 %). Scaled so that the best is 1; `other` is any character at every step.
    """
    found = [(state, _round(steps, pattern.replace(".", "") + gap, reading)) for pattern, state in codes]
    longest = max((len(c.replace(".", "")) for c, _ in codes), default=1)
    return _by_state(found, _round(steps, ANY * longest + gap, reading))


def _round(steps: Sequence[Seen], round_: str, reading: Reading) -> float:
    """Forward pass over a round of characters, begun anywhere."""
    size = len(round_)
    sight = [[sum(w * cell(s, bits, reading) for bits, w in shapes(c)) for c in round_] for s in steps]
    at = [1 / size] * size
    for i, row in enumerate(sight):
        if i:
            at = [0.93 * at[k - 1] + 0.02 * at[k] + 0.05 * at[k - 2] for k in range(size)]
        at = [p * q for p, q in zip(at, row, strict=True)]
    return sum(at)
