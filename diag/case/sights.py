"""What an eye, a thumb or a meter gave, as a sight: P(seen | true state) for the states of one indication.

Each kind of entry has its function here; all of them look at the indication alone, never at what is believed. A sight
is posted with `Case.sight`. Words that are the name of a state are taken as they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from diag.case.lamps import patterns
from diag.case.snapshot import IN_DOUBT
from diag.case.words import clean, listed
from diag.machine.codes import decode_exact
from diag.machine.model import OTHER, Indication, Kind
from diag.machine.say import CannotRead, band, state_of
from diag.panel import contacts, flash
from diag.panel.accuracy import ORDINARY, Accuracy, band_weights, near_limit
from diag.panel.contacts import Judged
from diag.panel.meter import BadReading, Measured, parse
from diag.panel.segments import NoGlyph

if TYPE_CHECKING:
    from diag.panel.formulas import Formula
    from diag.panel.taps import Looks

LEAST = 1e-3
"""A state that is less likely than this share of the best is left out of a sight; the slip of belief covers it."""
WATCHED = 6000.0
"""Milliseconds for which a lamp was watched of which somebody says that it does not flash. Ours."""
ELECTRICAL = ("V", "A", "ohm")
FINE = Accuracy(0.0, 1.0)
"""Of an instrument that is no electrical meter (a gauge, a scale): one step of what was read. Ours."""

Digit = str | int | None
"""One digit as read: a character, toggled segments (bits, see `diag.panel.segments`), or None where it cannot be."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """A sight, how it was said, and what the screen says of it."""

    seen: Mapping[str, float]
    """State to P(seen | that state), the best 1; states that it hardly fits are left out."""
    said: str
    note: str = ""
    """One line, empty when there is nothing to say."""
    fault: str = ""
    """What may be wrong with the display itself, in one line; the note begins with it."""

    @property
    def doubtful(self) -> tuple[str, ...]:
        """The states that it could be, likeliest sight first; one when it is plain."""
        ranked = sorted(self.seen, key=lambda s: -self.seen[s])
        return tuple(s for s in ranked if self.seen[s] >= IN_DOUBT)


def plain(indication: Indication, state: str, said: str = "") -> Sighting:
    """Exactly this state. Raises CannotRead when the indication has no such state."""
    if state not in indication.state_ids:
        raise CannotRead(f"{indication.title} has no state {state}.")
    return Sighting({state: 1.0}, said or state)


def of_words(indication: Indication, text: str) -> Sighting:
    """What a person says or types: a state, a display's code, a reading, a contact's ohms. Raises CannotRead."""
    said = clean(text)
    if said in indication.state_ids:
        return plain(indication, said)
    match indication.kind:
        case Kind.DISPLAY:
            return _code(indication, text)
        case Kind.READING:
            return _reading(indication, said)
        case Kind.CONTACT if said[:1].isdigit() or said[:1] in "<>.,+-" or said.upper().startswith("OL"):
            if indication.measured == "continuity":
                return of_ohms(indication, said)
    return plain(indication, state_of(indication, text), said)


# ---------------------------------------------------------------- lamps


@dataclass(frozen=True, slots=True)
class Tapped:
    """What was tapped along with a lamp. Times in milliseconds on any one clock."""

    taps: tuple[float, ...] = ()
    held: tuple[tuple[float, float], ...] = ()
    """Presses that lasted while it was lit, as (down, up); in place of taps."""
    looks: Looks = ""
    """It does not change: it stays `lit` or `dark`."""
    too_fast: bool = False
    """It flashes too fast to be tapped."""


def of_taps(indication: Indication, tapped: Tapped) -> Sighting:
    """The states of a lamp by what was tapped along. Raises CannotRead where nothing was."""
    from diag.panel import taps

    known = patterns(indication.states)
    if tapped.too_fast:
        *fast, fastest = taps.too_fast([*known.values(), flash.FLICKER])
        note = "It flashes faster than any state of this lamp in the file." if max(fast) < IN_DOUBT * fastest else ""
        return _sighting(indication, dict(zip(known, fast, strict=True)), "too fast to tap", note)
    if tapped.held:
        try:
            found = taps.held(tapped.held, [*known.values(), *flash.OPEN_STANDARD], looks=tapped.looks)
        except ValueError as error:
            raise CannotRead(str(error)) from None
        best_of_standards = max(found[len(known) :])
        weights = dict(zip(known, found, strict=False))
        said = f"held along {len(tapped.held)} times"
        return _known(indication, weights, best_of_standards, _best(found[len(known) :]), said)
    if not tapped.taps and not tapped.looks:
        raise CannotRead("nothing was tapped")
    # Of a lamp that does not flash it was watched for a while that no flash came; while somebody taps, nobody knows
    # how long they looked for the next key.
    until = None if tapped.taps else WATCHED
    seen = taps.recognise(tapped.taps, known, until=until, looks=tapped.looks)
    pattern, likelihood = seen.patterns[0]
    if not tapped.taps:
        note = "" if seen.fits else f"It stays {tapped.looks}, which is no state of this lamp in the file."
        return _sighting(indication, seen.states, f"stays {tapped.looks}", note)
    said = f"tapped {len(tapped.taps)} times"
    return _known(indication, dict(seen.states), likelihood, pattern, said)


def settled(indication: Indication, sighting: Sighting) -> bool:
    """One state stands out, so that more tapping would hardly help."""
    from diag.panel import taps

    return taps.settled([sighting.seen.get(s, 0.0) for s in indication.state_ids])


def _known(
    indication: Indication, weights: dict[str, float], standard: float, pattern: flash.Pattern, said: str
) -> Sighting:
    best = max(weights.values())
    note = ""
    if best < IN_DOUBT * standard:
        note = f"It looks like {pattern.name}, which is no state of this lamp in the file."
    return _sighting(indication, weights, said, note)


def _best(found: Sequence[float]) -> flash.Pattern:
    return max(zip(found, flash.OPEN_STANDARD, strict=True), key=lambda pair: pair[0])[1]


# ---------------------------------------------------------------- displays


def _code(indication: Indication, text: str) -> Sighting:
    from diag.panel import decode

    said = clean(text).strip()
    state = state_of(indication, text)
    exact = decode_exact(indication, text) is not None
    if not said or said.lower() == "blank" or (not exact and state != OTHER):
        return plain(indication, state, said or "blank")
    if indication.scrolls and not exact:
        return of_steps(indication, tuple(text.replace("_", " ")))
    try:
        digits: Sequence[Digit] = decode.parse(said)
        weights = _codes(indication, digits)
    except (NoGlyph, ValueError):
        return plain(indication, state, said)
    if exact:
        weights[state] = max(weights.values())
    return _sighting(indication, weights, said, "" if exact else _could_be(indication, weights))


def of_digits(indication: Indication, digits: Sequence[Digit], said: str = "") -> Sighting:
    """A display by its digits as read or toggled. Raises CannotRead on more digits than it has."""
    try:
        weights = _codes(indication, digits)
    except ValueError as error:
        raise CannotRead(str(error)) from None
    fault = display_fault(indication, digits)
    note = f"{fault} {_could_be(indication, weights)}".strip()
    return replace(_sighting(indication, weights, said or drawn(digits), note), fault=fault)


def of_steps(indication: Indication, steps: Sequence[Digit], said: str = "") -> Sighting:
    """A display of one digit that shows its code in steps, begun anywhere in the round. Raises CannotRead."""
    from diag.panel import decode

    if not steps:
        raise CannotRead("no step was entered")
    weights = decode.step_likelihoods(steps, [(c.pattern, c.state) for c in indication.codes])
    return _sighting(indication, weights, said or drawn(steps), _could_be(indication, weights))


def display_fault(indication: Indication, digits: Sequence[Digit]) -> str:
    """What may be wrong with the display itself, in one line; empty when it is likelier healthy."""
    from diag.panel import decode

    width = indication.characters
    padded = (*digits, *(" " for _ in range(width - len(digits))))
    shown = [c.pattern.replace(".", "").ljust(width) for c in indication.codes]
    try:
        found = decode.fault_belief([(padded, [c for c in shown if len(c) == width])])
    except (NoGlyph, ValueError):
        return ""
    fault, _ = found[0]
    if fault.kind == "healthy":
        return ""
    return f"The display itself may be at fault ({fault.says}). Its lamp test tells."


def drawn(digits: Sequence[Digit]) -> str:
    """Digits in words: characters as they are, `[abc]` for toggled segments that are none, `?` where not read."""
    from diag.panel.segments import characters, names

    parts = []
    for digit in digits:
        if isinstance(digit, int):
            usual = characters(digit)
            parts.append(usual[0] if usual else f"[{names(digit)}]")
        else:
            parts.append("?" if digit is None else digit)
    return "".join(parts).rstrip() or "blank"


def _codes(indication: Indication, digits: Sequence[Digit]) -> dict[str, float]:
    from diag.panel import decode

    codes = [(c.pattern, c.state) for c in indication.codes]
    return decode.likelihoods(digits, codes, digits=indication.characters)


def _could_be(indication: Indication, weights: Mapping[str, float]) -> str:
    best = max(weights.values())
    named = [s for s in sorted(weights, key=lambda s: -weights[s]) if weights[s] >= IN_DOUBT * best and s != OTHER]
    return f"It could be {listed(named[:3], 'or')}." if len(named) > 1 else ""


# ---------------------------------------------------------------- contacts


def of_ohms(indication: Indication, text: str, leads: str = "") -> Sighting:
    """A contact by its resistance, circuit isolated; `leads`: the leads held together. Raises CannotRead."""
    return _judged(indication, lambda: contacts.by_ohms(_ohm(text), _ohm(leads).value if leads else 0.0), text)


def of_volts_across(indication: Indication, text: str, fed: bool | None, supply: str = "") -> Sighting:
    """A live contact by the voltage across it; `fed`: its loop is known to be fed and whole; `supply` as typed, where
    the file names none. Raises CannotRead."""
    return _judged(indication, lambda: contacts.by_volts_across(_volt(text), _supply(indication, supply), fed), text)


def of_volts_to_common(indication: Indication, before: str, behind: str, supply: str = "") -> Sighting:
    """A live contact by the voltages to common before and behind it. Raises CannotRead."""
    said = f"{clean(before)} before, {clean(behind)} behind"
    return _judged(
        indication, lambda: contacts.by_volts_to_common(_volt(before), _volt(behind), _supply(indication, supply)), said
    )


def contact_about(indication: Indication) -> str:
    """What a contact should be, and what to mind when it is measured."""
    words = []
    if indication.contact:
        form = contacts.Form(indication.contact)
        side = f", its {indication.side} side" if indication.side else ""
        words.append(f"A {form.value} contact{side}.")
        if indication.coil:
            should = contacts.expected(form, indication.coil == "energised", indication.side or "make")
            words.append(f"With its coil {indication.coil} it should be {should.value}.")
    live = "Live work, by a qualified person, under the site's permit."
    words.append(contacts.POWER_OFF if indication.measured == "continuity" else live)
    return " ".join(words)


def judged_as(indication: Indication, judged: Judged) -> str:
    """What a measurement of a contact means for its coil, in one line; empty when it says nothing of it."""
    if not indication.coil or not indication.contact:
        return ""
    form = contacts.Form(indication.contact)
    energised = contacts.coil_from(form, judged.state, indication.side or "make")
    if energised is None:
        return ""
    found = "energised" if energised else "released"
    if found == indication.coil:
        return f"So its coil is {found}, as it should be."
    return f"So its coil is {found}, or the contact does not work; it should be {indication.coil}."


def _judged(indication: Indication, judge: Callable[[], Judged], said: str) -> Sighting:
    try:
        judged = judge()
    except (BadReading, ValueError) as error:
        raise CannotRead(str(error)) from None
    likelihood = judged.likelihood(indication.state_ids)
    known = judged.state.value.replace(" ", "-") in indication.state_ids
    words = "" if known else f"{judged.state.value[:1].upper()}{judged.state.value[1:]}."
    note = " ".join(x for x in (words, judged.why, judged_as(indication, judged), judged.caution) if x)
    return _sighting(indication, likelihood, clean(said) + ("" if known else f", {judged.state.value}"), note)


def _ohm(text: str) -> Measured:
    return parse(text, "ohm")


def _volt(text: str) -> float:
    found = parse(text, "V")
    if found.overload:
        raise BadReading("Over the range says nothing about a contact; use a higher range.")
    return found.value


def _supply(indication: Indication, typed: str) -> float:
    return indication.nominal or _volt(typed)


# ---------------------------------------------------------------- readings


def accuracy_of(indication: Indication) -> Accuracy:
    """The accuracy of the meter that a reading is taken with."""
    if indication.accuracy is not None:
        return indication.accuracy
    return ORDINARY if any(part in ELECTRICAL for part in _units(indication.unit)) else FINE


def of_formula(indication: Indication, texts: Sequence[str]) -> Sighting:
    """A reading that is worked out of several values as typed. Raises CannotRead."""
    from diag.panel.formulas import FORMULAS

    formula = FORMULAS[indication.formula]
    try:
        values = [formula.read(n, text) for n, text in enumerate(texts)]
        value = formula.of([v.value for v in values])
        half = _half_width(formula, values)
    except BadReading as error:
        raise CannotRead(str(error)) from None
    # Rounded, so that a value that is meant to lie on a limit does.
    measured = Measured(float(f"{value:.9g}"), indication.unit, step=half)
    shown = f"{value:.3g} {indication.unit}".strip()
    says = f"{shown}. {formula.says(value) if formula.says else ''}".strip()
    return _banded(indication, measured, Accuracy(0.0, 1.0), f"{shown} from {', '.join(map(clean, texts))}", says)


def _half_width(formula: Formula, values: Sequence[Measured]) -> float:
    """Half the width of the interval that holds the result, from those of the values.

    What a meter is off by in percent it is off by in all values of one unit, so that it falls out of a ratio; counts
    fall as they will, and add up as squares (GUM, JCGM 100 5.1).
    """
    plainly = [v.value for v in values]
    if not all(math.isfinite(v) for v in plainly):
        return 0.0
    try:
        value = formula.of(plainly)
        squares = 0.0
        units = [p.unit for p in formula.prompts]
        for unit in {u for u in units if any(part in ELECTRICAL for part in _units(u))}:
            share = 1 + ORDINARY.percent / 100
            scaled = [v * share if u == unit else v for v, u in zip(plainly, units, strict=True)]
            squares += (formula.of(scaled) - value) ** 2
        for n, (v, prompt) in enumerate(zip(values, formula.prompts, strict=True)):
            if not prompt.whole and any(part in ELECTRICAL for part in _units(prompt.unit)):
                moved = [*plainly[:n], v.value + ORDINARY.counts * v.step, *plainly[n + 1 :]]
                squares += (formula.of(moved) - value) ** 2
    except BadReading:
        return 0.0
    return math.sqrt(squares)


def _reading(indication: Indication, said: str) -> Sighting:
    state = state_of(indication, said)
    try:
        measured = parse(said, indication.unit)
    except BadReading:
        return plain(indication, state, said)
    return _banded(indication, measured, accuracy_of(indication), said)


def _banded(indication: Indication, measured: Measured, accuracy: Accuracy, said: str, says: str = "") -> Sighting:
    weights = band_weights(measured, indication.bands, accuracy, indication.normal)
    if not measured.overload:
        # A value on a limit belongs to the band that the file's rule gives it to, when both are as likely.
        home = band(indication, measured.value)
        most = max(weights.values())
        if weights.get(home, 0.0) >= most * (1 - 1e-6):
            weights = {home: most, **{s: w for s, w in weights.items() if s != home}}
    told = {s: w for s, w in weights.items() if w >= IN_DOUBT * max(weights.values())}
    near = near_limit(told) if not measured.overload else ""
    return _sighting(indication, weights, said, f"{says} {near}".strip())


def _units(unit: str) -> list[str]:
    """The unit without its prefix and its kind of current: `mA` is `A`, `V d.c.` is `V`."""
    first = unit.split()[0] if unit.split() else ""
    return [first, first[1:]]


# ---------------------------------------------------------------- what all share


def _sighting(indication: Indication, weights: Mapping[str, float], said: str, note: str = "") -> Sighting:
    """Scaled so that the best is 1, without what hardly fits, in the order of the weights."""
    best = max((weights.get(s, 0.0) for s in indication.state_ids), default=0.0)
    if not best > 0.0:
        raise CannotRead("that fits no state of it")
    seen = {s: w / best for s, w in weights.items() if s in indication.state_ids and w / best >= LEAST}
    return Sighting(seen, said, note)
