"""The kinds of indication: what each makes of its own fields."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.panel_fields import (
    CLOSED,
    KINDS,
    OPEN,
    CodeSource,
    ContactSource,
    DisplaySource,
    HistorySource,
    IndicationSource,
    LampSource,
    QuestionSource,
    ReadingSource,
)
from diag.machine.language.validate import Entry
from diag.machine.model import EMPTY, OTHER, Code, Energy, Indication, Kind, State
from diag.machine.problem import Broken, shown
from diag.machine.resolve.scope import Scope
from diag.machine.states import bands
from diag.machine.states.codes import BLANK, MOST_STEPS, width
from diag.panel.display.segments import MOST_DIGITS
from diag.panel.lamps import flash

_LAMP, _DISPLAY, _CONTACT = names(LampSource), names(DisplaySource), names(ContactSource)
_READING, _QUESTION = names(ReadingSource), names(QuestionSource)
PLAIN_NUMBER: Final = "plain number"
"""What `reading` says where there is no unit: a count, a ratio."""
_CHARACTERS: Final = re.compile(r"([1-9][0-9]?) characters?")


def made_of(scope: Scope, entry: Entry[Any]) -> Indication | None:
    """The indication with what its kind makes of its fields; `normal` is empty where its file has to say it. None with
    its problems reported."""
    source = entry.source
    label = "" if isinstance(source, QuestionSource) else source.label or ""
    title = source.question if isinstance(source, QuestionSource) else label
    if isinstance(source, HistorySource):
        title = source.history
    words = entry.id.replace("-", " ")
    plain = Indication(
        id=entry.id,
        kind=next(Kind(kind) for kind, model in KINDS.items() if model is type(source)),
        title=source.title or title or words[:1].upper() + words[1:],
        label=label,
        states=(),
        normal="",
        where=source.where,
        source=source.source or "",
        place=entry.key_place(),
    )
    made: Indication | None = _OF_KIND[type(source)](scope, entry, plain)
    return made if made is None or source.energy is None else replace(made, energy=source.energy)


def _lamp(scope: Scope, entry: Entry[LampSource], plain: Indication) -> Indication | None:
    source = entry.source
    written = source.states if source.states is not None else {"lit": "steady", "dark": "off"}
    states = []
    for id, text in written.items():
        try:
            colour = flash.parse(text).colour
        except flash.BadPattern as error:
            scope.report(entry.place(_LAMP.states, id), f"{shown(id)}: {error}", Broken.PATTERN)
            return None
        pattern = text[len(colour) :].strip() if colour else text
        states.append(State(id, pattern=pattern, colour="" if colour == source.lamp else colour))
    return replace(plain, colour=source.lamp, states=tuple(states))


def _display(scope: Scope, entry: Entry[DisplaySource], plain: Indication) -> Indication | None:
    source = entry.source
    size = _CHARACTERS.fullmatch(source.display)
    if size is None:
        text = "'display' should say how many, such as '2 characters'"
        scope.report(entry.place(_DISPLAY.display), text, Broken.KIND)
        return None
    characters = int(size[1])
    if characters > MOST_DIGITS:
        scope.report(entry.place(_DISPLAY.display), f"a display has 1 to {MOST_DIGITS} characters", Broken.KIND)
        return None
    if source.scrolls and characters != 1:
        text = "only a display of one character shows a code in steps"
        scope.report(entry.place(_DISPLAY.scrolls), text, Broken.KIND)
        return None
    before = len(scope.problems)
    codes: dict[str, CodeSource] = {}
    for written, code in source.codes.items():
        place = entry.key_place(_DISPLAY.codes, written)
        pattern = " " * characters if written.strip() in ("", BLANK) else written
        if source.scrolls and width(pattern) > MOST_STEPS:
            scope.report(place, f"{shown(written)} has more than {MOST_STEPS} steps", Broken.CODE)
        elif not source.scrolls and width(pattern) > characters:
            text = f"{shown(written)} is longer than the {characters} characters of the display"
            scope.report(place, text, Broken.CODE)
        if pattern in codes:
            scope.report(place, f"{shown(written)} is written twice", Broken.TWICE)
        codes[pattern] = code
    if len(scope.problems) > before:
        return None
    made = _coded(plain, codes, {}, "a code that is not in this file")
    return replace(made, characters=characters, scrolls=source.scrolls)


def _history(scope: Scope, entry: Entry[HistorySource], plain: Indication) -> Indication | None:
    for written in entry.source.codes:
        if not written.strip() or len(written.split()) > 1 or set(written) & set(",;"):
            text = f"{shown(written)} cannot be a code of a list; a code has no spaces, commas or semicolons in it"
            scope.report(entry.key_place(_DISPLAY.codes, written), text, Broken.CODE)
            return None
    made = _coded(plain, entry.source.codes, {EMPTY: "no alarm of this stop"}, "an alarm that is not in this file")
    return replace(made, normal=EMPTY)


def _coded(plain: Indication, codes: Mapping[str, CodeSource], means: dict[str, str], other: str) -> Indication:
    """An indication with the states of its codes, after those of `means`; `other` is what an undeclared code means."""
    for code in codes.values():
        means[code.state] = means.get(code.state) or code.means
    means.setdefault(OTHER, other)
    return replace(
        plain,
        codes=tuple(Code(pattern, code.state, code.means) for pattern, code in codes.items()),
        states=tuple(State(id, text) for id, text in means.items()),
    )


def _contact(scope: Scope, entry: Entry[ContactSource], plain: Indication) -> Indication | None:
    source = entry.source
    if (source.side is not None) != (source.contact == "changeover"):
        place = entry.place(_CONTACT.side) if source.side is not None else entry.place(_CONTACT.contact)
        text = "a changeover says which half is meant: 'side: make' or 'side: break'; no other contact has sides"
        scope.report(place, text, Broken.KIND)
        return None
    if source.nominal is not None and source.measured != "voltage":
        text = "'nominal' is the supply of a contact with 'measured: voltage'"
        scope.report(entry.place(_CONTACT.nominal), text, Broken.KIND)
        return None
    return replace(
        plain,
        contact=source.contact,
        measured=source.measured or "",
        nominal=source.nominal,
        side=source.side or "",
        coil=source.coil or "",
        states=tuple(State(id) for id in dict.fromkeys(source.states or (OPEN, CLOSED))),
        energy=Energy.OFF if source.measured == "continuity" else Energy.ON,
    )


def _reading(scope: Scope, entry: Entry[ReadingSource], plain: Indication) -> Indication | None:
    source = entry.source
    try:
        found = bands.parse_all(source.bands)
    except bands.BadBand as error:
        scope.report(entry.place(_READING.bands, error.state), f"{shown(error.state)}: {error}", Broken.BAND)
        return None
    unit = "" if source.reading == PLAIN_NUMBER else source.reading
    if source.formula is not None:
        _formula(scope, entry, source.formula, unit)
    accuracy = None
    if source.accuracy is not None:
        # As with formulas: what few files need is loaded when one does.
        from diag.panel.meter.accuracy import parse
        from diag.panel.meter.meter import BadReading

        try:
            accuracy = parse(source.accuracy)
        except BadReading as error:
            scope.report(entry.place(_READING.accuracy), str(error).rstrip("."), Broken.ACCURACY)
            return None
    return replace(
        plain,
        unit=unit,
        nominal=source.nominal,
        accuracy=accuracy,
        bands=found,
        formula=source.formula or "",
        states=tuple(State(id) for id in source.bands),
        normal=bands.place(found, "", source.nominal) or "" if source.nominal is not None else "",
        energy=Energy.OFF if "ohm" in unit.lower() else Energy.ON,
    )


def _formula(scope: Scope, entry: Entry[Any], name: str, unit: str) -> None:
    """A reading that is made of several values: the formula must be known, and give this reading's unit."""
    # Few machines have one, and the handbook takes a while to load.
    from diag.panel.formulas.formulas import FORMULAS

    if scope.one_of(entry.place(_READING.formula), _READING.formula, name, FORMULAS) and FORMULAS[name].unit != unit:
        gives = FORMULAS[name].unit or f"a {PLAIN_NUMBER}"
        text = f"{shown(name)} gives {gives}, and this reading is in {shown(unit or PLAIN_NUMBER)}"
        scope.report(entry.place(_READING.reading), text, Broken.FORMULA)


def _question(scope: Scope, entry: Entry[QuestionSource], plain: Indication) -> Indication | None:
    source = entry.source
    if (source.usual is None) == (source.answers is None):
        if entry.sound:
            text = f"{shown(entry.id)} needs 'usual' or 'answers', one of them"
            scope.report(entry.key_place(), text, Broken.MISSING)
        return None
    weights = source.usual if source.usual is not None else dict.fromkeys(source.answers or (), 1.0)
    total = sum(weights.values())
    if total <= 0.0:
        scope.report(entry.place(_QUESTION.usual), "'usual' adds up to nothing", Broken.USUAL)
        return None
    scope.questions[entry.id] = source.question
    return replace(
        plain,
        states=tuple(State(id) for id in weights),
        usual=tuple(weight / total for weight in weights.values()),
        normal=max(weights, key=lambda id: weights[id]),
        energy=Energy.ANY,
    )


_OF_KIND: Final[dict[type[IndicationSource], Any]] = {
    LampSource: _lamp,
    DisplaySource: _display,
    ContactSource: _contact,
    ReadingSource: _reading,
    QuestionSource: _question,
    HistorySource: _history,
}
