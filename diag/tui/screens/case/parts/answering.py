"""How an answer is given: one key for a state, a line for a code or a reading; and what is said of it.

Plain. Every answer ends in an observation, which the case takes as one fact with its weights.
"""

from __future__ import annotations

from collections.abc import Callable

from diag.case.observe.observation import Observation
from diag.case.phrases import answered
from diag.machine.model import EMPTY, OTHER, Indication, Kind
from diag.text import cut, one_line, percent
from diag.tui.looks.wording import plain
from diag.tui.screens.case.parts.asked import Asked
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import NOTHING, Reply, hint, once_stored, warn

ONE_ROW = 72
"""Characters within which an answer that was taken is told in one row."""
SHARES = 4
"""The most states that are named for a doubtful observation."""
SHUT = warn("Not open now, as said above. g opens the way; b records what was found before.")
"""The place for an answer is closed."""


def digit(model: CaseModel, digit: int) -> Reply:
    """A digit: the state of that number, or for 0 that nobody can tell."""
    asked = model.view.asked
    if asked is None:
        return hint("Nothing to mark here. Walk over the panel, or / finds anything by name.")
    if not asked.open:
        return SHUT
    if digit == 0:
        return cannot_tell(model)
    if digit > len(asked.by_digit):
        return hint(f"There is no {digit} here.")
    return take(model, asked, asked.by_digit[digit - 1])


def cannot_tell(model: CaseModel) -> Reply:
    asked = model.view.asked
    if asked is None:
        return NOTHING
    said = answered(cut(one_line(asked.indication.title), 50), "can't tell")
    entry = model.session.cannot_tell(asked.indication.id, asked.check)
    return once_stored(entry, lambda: _onward(model, asked, said))


def line(model: CaseModel, words: str, unhurried: bool = True) -> Reply:
    """What was typed, at Enter. What is odd about it is asked about once, and taken when it is sent again,
    `unhurried`: late enough for the question to have been read."""
    asked = model.view.asked
    if asked is None:
        return NOTHING
    question = doubt(model, asked, words)
    if question and not (model.doubted == words and unhurried):
        model.doubted = words
        return warn(f"{question} Enter again takes it as it is.")
    model.doubted = ""
    return take(model, asked, asked.with_unit(words))


def nothing_there(model: CaseModel) -> Reply:
    """The display is blank, or the alarm list is empty."""
    asked = model.view.asked
    words = {Kind.DISPLAY: "blank", Kind.HISTORY: EMPTY}.get(asked.indication.kind) if asked is not None else None
    return take(model, asked, words) if asked is not None and words is not None else NOTHING


def take(
    model: CaseModel,
    asked: Asked,
    found: str | Callable[[], Observation],
    then: Callable[[], Reply | None] | None = None,
) -> Reply:
    """What is asked was found so: by words (a state, a code, a reading), or as a box read it off, which has told
    already what the observation is worth. `then`: what to say in place of the next thing, once it is stored."""

    def stored() -> Reply:
        said = _said(model, asked.indication, entry.worth if isinstance(found, str) else "")
        onward = _onward(model, asked, said)
        return (then() if then is not None else None) or onward

    entry = model.session.observe(asked.indication, found, asked.check, asked.before)
    return once_stored(entry, stored)


def _onward(model: CaseModel, asked: Asked, said: str) -> Reply:
    model.answered(asked.indication.id)
    return Reply(said, "say", to_panel=True, clear=True)


def _said(model: CaseModel, indication: Indication, note: str) -> str:
    """What was taken, in one line: the state as it was said, what it is worth, and whether it counts."""
    fact = next((f for f in reversed(model.state.facts) if f.indication == indication.id), None)
    if fact is None:
        return ""
    shown = plain(fact.state)
    if one_line(fact.said) not in ("", fact.state):
        shown = f"{shown} ({one_line(fact.said)})"
    if note:
        shown += f". {one_line(note)}"
    if not fact.counts and fact.why:
        shown += f" (does not count: {one_line(fact.why)})"
    against = [d for d in model.state.disagreements if indication.id in (d.lamp, d.contact)]
    if against:
        shown += f". {one_line(against[0].name)}; i says what that can mean"
    return answered(cut(one_line(indication.title), max(ONE_ROW - len(shown), 24)), shown)


def doubt(model: CaseModel, asked: Asked, words: str) -> str:
    """What is odd about an answer, as one line that asks; empty when nothing is.

    A code that the file does not know is told with what it could be, likeliest by all that is known first."""
    from diag.case.observe.observe import of_words
    from diag.machine.states.codes import decode_exact
    from diag.machine.states.say import CannotRead
    from diag.panel.meter.meter import BadReading, parse
    from diag.panel.meter.plausible import implausible

    indication = asked.indication
    try:
        if indication.kind is Kind.READING:
            return implausible(parse(words, indication.unit).value, indication.nominal, indication.unit)
        observation = of_words(indication, words)
    except (BadReading, CannotRead):
        return ""
    if indication.kind is not Kind.DISPLAY or (len(observation.doubtful) == 1 and OTHER not in observation.seen):
        return ""
    if decode_exact(indication, words) is not None:
        return ""
    question = f"{one_line(words)} is not a code of this machine file."
    could = [(s, share) for s, share in model.session.could_be(indication.id, observation) if s != OTHER][:SHARES]
    if could and len(observation.doubtful) > 1:
        named = ", ".join(f"{_code_of(indication, s)} {plain(s)} {percent(p)}".strip() for s, p in could)
        question += f" It could be {named}."
    return question


def _code_of(indication: Indication, state: str) -> str:
    """The code of a display's state, where it has one; the first of several."""
    return next((one_line(c.pattern).strip() for c in indication.codes if c.state == state), "")
