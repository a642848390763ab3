"""The other ways to read something off: tapped along with a lamp, drawn, measured on a contact, worked out.

Plain. Every way ends in an observation, which is taken as one fact with its weights (`answering`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from diag.case.observe.observation import Observation
from diag.case.phrases import listed
from diag.machine.model import Kind
from diag.text import one_line
from diag.tui.looks.wording import plain, unit
from diag.tui.questions import Answers, AskLines, ChooseOne, Line, Picked, Row, nothing_wrong
from diag.tui.screens.case.parts.answering import SHUT, doubt, take
from diag.tui.screens.case.parts.asked import FOUND, Asked, limits
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import NOTHING, DrawIt, Reply, TapAlongWith, ask, hint

HOW_MEASURED = (
    Row("common", "to common, both sides", "before it and behind it: tells the most"),
    Row("fed", "across it, loop whole", "the loop is known to be fed and whole"),
    Row("across", "across it, loop unknown", "only the whole supply across it says much"),
)


def begin(model: CaseModel, first: str = "") -> Reply:
    """The line is begun, with these characters; what is worked out opens its own lines instead."""
    asked = model.view.asked
    if asked is None or not asked.typed:
        return NOTHING
    if not asked.open:
        return SHUT
    # A plain number that is worked out, such as a count: what is typed is what the meter showed.
    formula = _formula(model, asked, first) if not (first and asked.indication.unit) else None
    return formula or Reply(begin=first)


def work_out(model: CaseModel) -> Reply:
    """Enter on the empty line: the lines of what is worked out."""
    asked = model.view.asked
    return (_formula(model, asked) if asked is not None else None) or NOTHING


def read(model: CaseModel) -> Reply:
    """Tap along, draw, measure, work out: whichever way there is for what is asked."""
    asked = model.view.asked
    if asked is None:
        return hint("Nothing to read off here.")
    if not asked.open:
        return SHUT
    if not asked.way:
        return hint("This one is answered by its digits.")
    match asked.indication.kind:
        case Kind.LAMP:
            return ask(TapAlongWith(asked.indication), partial(_took, model, asked))
        case Kind.DISPLAY:
            could_be = partial(model.session.could_be, asked.indication.id)
            return ask(DrawIt(asked.indication, model.line, could_be), partial(_took, model, asked))
        case Kind.CONTACT:
            return _measure(model, asked)
        case _:
            return _formula(model, asked) or _keypad(model, asked)


def _took(model: CaseModel, asked: Asked, observation: Observation) -> Reply:
    """What a lamp or a display was read as. A lamp that may be dead asks for its test."""
    test = next((test for test, _ in asked.indication.lamp_test), "")

    def to_test() -> Reply | None:
        if not observation.fault or not test or test in model.state.current:
            return None
        model.selection = model.selection.to(test, FOUND)
        return Reply(observation.fault, "hint", to_panel=True, clear=True)

    return take(model, asked, lambda: observation, to_test)


def _measure(model: CaseModel, asked: Asked) -> Reply:
    """On a contact: the ohms without power, or the volts, once it is known how they were measured."""
    from diag.case.observe import from_contact as contacts

    indication = asked.indication

    def lines(power: str, lines: tuple[Line, ...], observe: Callable[[Answers], Observation]) -> Reply:
        return _lines(model, asked, f"MEASURED, {power}", contacts.contact_about(indication), lines, observe)

    def measured(how: Picked) -> Reply:
        supply = () if indication.nominal else (Line("Supply of the circuit", "V", example="24"),)
        if how.id == "common":
            both = (Line("To common, before it", "V", example="24.1"), Line("To common, behind it", "V"))
            return lines("LIVE", (*both, *supply), lambda a: contacts.of_volts_to_common(indication, *a))
        fed = True if how.id == "fed" else None
        across = Line("Across the contact", "V", example="24.1")
        return lines("LIVE", (across, *supply), lambda a: contacts.of_volts_across(indication, a[0], fed, *a[1:]))

    if indication.measured == "continuity":
        both = (
            Line("Across the contact", "Ω", example="0.2, or OL"),
            Line("Leads held together", "Ω", example="0.1", empty=True),
        )
        return lines("POWER OFF", both, lambda a: contacts.of_ohms(indication, *a))
    return ask(ChooseOne(f"HOW MEASURED · {one_line(indication.title)}", HOW_MEASURED, digits=True), measured)


def _formula(model: CaseModel, asked: Asked, first: str = "") -> Reply | None:
    """The readings that it is worked out from; None where it is read as it is. `first`: what was typed already."""
    from diag.case.observe.from_reading import of_formula
    from diag.panel.formulas.formulas import FORMULAS

    formula = FORMULAS.get(asked.indication.formula)
    if formula is None:
        return None
    lines = tuple(Line(p.text, unit(p.unit), "" if n else first, p.example) for n, p in enumerate(formula.prompts))
    about = f"{formula.name}, {formula.source}. {formula.caution}".strip()
    return _lines(model, asked, "WORKED OUT", about, lines, partial(of_formula, asked.indication))


def _keypad(model: CaseModel, asked: Asked) -> Reply:
    """A plain reading, for a hand that has the mouse."""
    from diag.case.observe.observe import of_words

    indication = asked.indication
    about = f"{limits(indication)} {unit(indication.unit)}"
    about += f" · {one_line(indication.source)}" if indication.source else ""
    lines = (Line("Reading", unit(indication.unit), model.line),)
    odd = partial(doubt, model, asked)
    return _lines(model, asked, "MEASURED", about, lines, lambda a: of_words(indication, a[0]), lambda a: odd(a[0]))


def _lines(
    model: CaseModel,
    asked: Asked,
    how: str,
    about: str,
    lines: tuple[Line, ...],
    observe: Callable[[Answers], Observation],
    odd: Callable[[Answers], str] = nothing_wrong,
) -> Reply:
    """Asks for values; says what they come to while they are typed; takes them. What is `odd` is asked about once, and
    taken when it is sent again."""
    from diag.machine.states.say import CannotRead

    doubted: list[Answers] = []

    def seen(answers: Answers) -> Observation | str:
        """What was seen, or why that cannot be read."""
        try:
            return observe(answers)
        except CannotRead as error:
            return str(error)

    def tell(answers: Answers) -> str:
        if not all(answer or one.empty for answer, one in zip(answers, lines, strict=True)):
            return ""
        found = seen(answers)
        if isinstance(found, str):
            return found
        first, *rest = (plain(s) for s in found.doubtful)
        also = f"; it could also be {listed(rest, 'or')}" if rest else ""
        return f"Taken as {first}{also}. {found.note}".strip()

    def check(answers: Answers) -> str:
        found = seen(answers)
        if isinstance(found, str):
            return found
        question = odd(answers)
        if question and answers not in doubted:
            doubted.append(answers)
            return f"{question} Enter again takes it as it is."
        return ""

    title = f"{how} · {one_line(asked.indication.title)}"
    asks = AskLines(title, about, lines, check, tell, pad=True)
    return ask(asks, lambda answers: take(model, asked, lambda: observe(answers)))
