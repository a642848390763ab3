"""The kinds of indication: what each makes of its own fields."""

from __future__ import annotations

import re
from typing import Any, Final

from diag.machine import bands
from diag.machine.codes import BLANK, MOST_STEPS, width
from diag.machine.model import EMPTY, OTHER, Code, Energy, Kind, State
from diag.machine.problem import shown
from diag.machine.scope import Scope
from diag.machine.source import (
    ContactSource,
    DisplaySource,
    HistorySource,
    IndicationSource,
    LampSource,
    QuestionSource,
    ReadingSource,
)
from diag.machine.validate import Entry
from diag.panel import flash
from diag.panel.segments import MOST_DIGITS

PLAIN_NUMBER: Final = "plain number"
"""What `reading` says where there is no unit: a count, a ratio."""
_CHARACTERS: Final = re.compile(r"([1-9][0-9]?) characters?")

Own = dict[str, Any]
"""Fields of `Indication` by name, and `default`, the normal state where none is written."""


def words_of(id: str) -> str:
    """An id as words, where no title is written."""
    words = id.replace("-", " ")
    return words[:1].upper() + words[1:]


def _lamp(scope: Scope, entry: Entry[Any], source: LampSource) -> Own | None:
    written = source.states if source.states is not None else {"lit": "steady", "dark": "off"}
    states = []
    for id, text in written.items():
        try:
            colour = flash.parse(text).colour
        except flash.BadPattern as error:
            scope.report(entry.place("states", id), f"{shown(id)}: {error}", "pattern")
            return None
        pattern = text[len(colour) :].strip() if colour else text
        states.append(State(id, pattern=pattern, colour="" if colour == source.lamp else colour))
    title = source.title or source.label or words_of(entry.id)
    return {
        "kind": Kind.LAMP,
        "title": title,
        "label": source.label or "",
        "colour": source.lamp,
        "states": tuple(states),
        "energy": Energy.ON,
    }


def _display(scope: Scope, entry: Entry[Any], source: DisplaySource) -> Own | None:
    size = _CHARACTERS.fullmatch(source.display)
    if size is None:
        scope.report(entry.place("display"), "'display' should say how many, such as '2 characters'", "kind")
        return None
    characters = int(size[1])
    if characters > MOST_DIGITS:
        scope.report(entry.place("display"), f"a display has 1 to {MOST_DIGITS} characters", "kind")
        return None
    if source.scrolls and characters != 1:
        scope.report(entry.place("scrolls"), "only a display of one character shows a code in steps", "kind")
        return None
    codes: list[Code] = []
    seen: set[str] = set()
    means: dict[str, str] = {}
    fine = True
    for written, code in source.codes.items():
        place = entry.key_place("codes", written)
        blank = not written.strip() or written.strip() == BLANK
        pattern = " " * characters if blank else written
        if source.scrolls and width(pattern) > MOST_STEPS:
            scope.report(place, f"{shown(written)} has more than {MOST_STEPS} steps", "code")
            fine = False
        elif not source.scrolls and width(pattern) > characters:
            scope.report(place, f"{shown(written)} is longer than the {characters} characters of the display", "code")
            fine = False
        if pattern in seen:
            scope.report(place, f"{shown(written)} is written twice", "twice")
            fine = False
        seen.add(pattern)
        codes.append(Code(pattern, code.state, code.means))
        means[code.state] = means.get(code.state) or code.means
    if not fine:
        return None
    if OTHER not in means:
        means[OTHER] = "a code that is not in this file"
    return {
        "kind": Kind.DISPLAY,
        "title": source.title or source.label or words_of(entry.id),
        "label": source.label or "",
        "characters": characters,
        "codes": tuple(codes),
        "scrolls": source.scrolls,
        "states": tuple(State(id, text) for id, text in means.items()),
        "energy": Energy.ON,
    }


def _history(scope: Scope, entry: Entry[Any], source: HistorySource) -> Own | None:
    codes: list[Code] = []
    means: dict[str, str] = {EMPTY: "no alarm of this stop"}
    for written, code in source.codes.items():
        if not written.strip() or len(written.split()) > 1 or set(written) & set(",;"):
            text = f"{shown(written)} is no code of a list; a code has no spaces, commas or semicolons in it"
            scope.report(entry.key_place("codes", written), text, "code")
            return None
        codes.append(Code(written, code.state, code.means))
        means[code.state] = means.get(code.state) or code.means
    means.setdefault(OTHER, "an alarm that is not in this file")
    return {
        "kind": Kind.HISTORY,
        "title": source.title or source.history,
        "label": source.label or "",
        "codes": tuple(codes),
        "states": tuple(State(id, text) for id, text in means.items()),
        "default": EMPTY,
        "energy": Energy.ON,
    }


def _contact(scope: Scope, entry: Entry[Any], source: ContactSource) -> Own | None:
    if (source.side is not None) != (source.contact == "changeover"):
        place = entry.place("side") if source.side is not None else entry.place("contact")
        text = "a changeover says which half is meant: 'side: make' or 'side: break'; no other contact has sides"
        scope.report(place, text, "kind")
        return None
    if source.nominal is not None and source.measured != "voltage":
        scope.report(entry.place("nominal"), "'nominal' is the supply of a contact with 'measured: voltage'", "kind")
        return None
    return {
        "kind": Kind.CONTACT,
        "title": source.title or source.label or words_of(entry.id),
        "label": source.label or "",
        "contact": source.contact,
        "measured": source.measured or "",
        "nominal": source.nominal,
        "side": source.side or "",
        "coil": source.coil or "",
        "states": tuple(State(id) for id in dict.fromkeys(source.states or ("open", "closed"))),
        "energy": Energy.OFF if source.measured == "continuity" else Energy.ON,
    }


def _reading(scope: Scope, entry: Entry[Any], source: ReadingSource) -> Own | None:
    try:
        found = bands.parse_all(source.bands)
    except bands.BadBand as error:
        scope.report(entry.place("bands", error.state), f"{shown(error.state)}: {error}", "band")
        return None
    unit = "" if source.reading == PLAIN_NUMBER else source.reading
    if source.formula is not None:
        _formula(scope, entry, source.formula, unit)
    accuracy = None
    if source.accuracy is not None:
        # As with formulas: what few files need is loaded when one does.
        from diag.panel.accuracy import parse
        from diag.panel.meter import BadReading

        try:
            accuracy = parse(source.accuracy)
        except BadReading as error:
            scope.report(entry.place("accuracy"), str(error).rstrip("."), "accuracy")
            return None
    default = None
    if source.nominal is not None:
        default = bands.place(found, "", source.nominal)
    return {
        "kind": Kind.READING,
        "title": source.title or source.label or words_of(entry.id),
        "label": source.label or "",
        "unit": unit,
        "nominal": source.nominal,
        "accuracy": accuracy,
        "bands": found,
        "formula": source.formula or "",
        "states": tuple(State(id) for id in source.bands),
        "default": default,
        "energy": Energy.OFF if "ohm" in unit.lower() else Energy.ON,
    }


def _formula(scope: Scope, entry: Entry[Any], name: str, unit: str) -> None:
    """A reading that is made of several values: the formula must be known, and give this reading's unit."""
    # Few machines have one, and the handbook takes a while to load.
    from diag.panel.formulas import FORMULAS

    if scope.one_of(entry.place("formula"), "formula", name, FORMULAS) and FORMULAS[name].unit != unit:
        gives = FORMULAS[name].unit or f"a {PLAIN_NUMBER}"
        text = f"{shown(name)} gives {gives}, and this reading is in {shown(unit or PLAIN_NUMBER)}"
        scope.report(entry.place("reading"), text, "formula")


def _question(scope: Scope, entry: Entry[Any], source: QuestionSource) -> Own | None:
    if (source.usual is None) == (source.answers is None):
        if not entry.sound:
            return None
        text = f"{shown(entry.id)} needs 'usual' or 'answers', one of them"
        scope.report(entry.key_place(), text, "missing")
        return None
    weights = source.usual if source.usual is not None else dict.fromkeys(source.answers or (), 1.0)
    total = sum(weights.values())
    if total <= 0.0:
        scope.report(entry.place("usual"), "'usual' adds up to nothing", "usual")
        return None
    scope.questions[entry.id] = source.question
    return {
        "kind": Kind.QUESTION,
        "title": source.title or source.question,
        "states": tuple(State(id) for id in weights),
        "usual": tuple(weight / total for weight in weights.values()),
        "default": max(weights, key=lambda id: weights[id]),
        "energy": Energy.ANY,
    }


OF_KIND: Final[dict[type[IndicationSource], Any]] = {
    LampSource: _lamp,
    DisplaySource: _display,
    ContactSource: _contact,
    ReadingSource: _reading,
    QuestionSource: _question,
    HistorySource: _history,
}
