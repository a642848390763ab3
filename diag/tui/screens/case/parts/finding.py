"""What is selected and looked up: the next thing and its alternatives, any indication by name, any state from a list,
who found something before this case, what is shown in full. Plain."""

from __future__ import annotations

from dataclasses import replace

from diag.text import cut, one_line
from diag.tui.looks.wording import plain
from diag.tui.questions import ChooseOne, Picked, Row
from diag.tui.screens.case.parts.answering import take
from diag.tui.screens.case.parts.asked import FOUND, PANEL, Selection, limits
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import NOTHING, InFull, Reply, ask, hint


def point(model: CaseModel, indication: str) -> Reply:
    """The walk over the panel came to this one."""
    model.selection = model.selection.to(indication, PANEL)
    return hint("")


def next_thing(model: CaseModel) -> Reply:
    """Back to the next thing to do."""
    model.selection = Selection()
    return Reply("", to_panel=True)


def another(model: CaseModel) -> Reply:
    """The alternative after the present one."""
    model.selection = model.selection.other(model.advised.advice)
    return hint("")


def alternative(model: CaseModel, number: int) -> Reply:
    """The alternative of that number."""
    model.selection = model.selection.other(model.advised.advice, number)
    return NOTHING


def find(model: CaseModel) -> Reply:
    """Any indication by name."""

    def found(picked: Picked) -> Reply:
        model.selection = model.selection.to(picked.id, FOUND)
        return NOTHING

    rows = []
    for i in model.machine.indications.values():
        state = model.state.current.get(i.id, "")
        label = f"{i.label} · " if i.label and i.label not in i.title else ""
        now = f"now {plain(state)}" if state else i.where
        rows.append(Row(i.id, f"{label}{i.title}", now, also=f"{plain(i.id)} {i.unit}"))
    return ask(ChooseOne("FIND · anything to see, read, measure or ask", tuple(rows)), found)


def list_states(model: CaseModel) -> Reply:
    """All states of what is asked, with their codes and what they mean."""
    asked = model.view.asked
    if asked is None or not asked.open:
        return NOTHING

    def listed(picked: Picked) -> Reply:
        asked = model.view.asked
        return take(model, asked, picked.id) if asked is not None else NOTHING

    indication = asked.indication
    means = {c.state: c.means for c in indication.codes}
    rows = []
    for s in indication.states:
        codes = ", ".join(c.pattern for c in indication.codes if c.state == s.id)
        title = f"{codes}  {plain(s.id)}".strip() if codes.strip() else plain(s.id)
        rows.append(Row(s.id, title, s.means or means.get(s.id, "")))
    return ask(ChooseOne(cut(one_line(indication.title), 60), tuple(rows)), listed)


def before(model: CaseModel) -> Reply:
    """The next answer was found before this case."""
    if model.selection.before:
        model.selection = replace(model.selection, before="")
        return hint("The next answer is one of this case again.")

    def by(picked: Picked) -> Reply:
        model.selection = replace(model.selection, before=picked.words)
        return hint(f"The next answer was found before this case, by {picked.words}. b again takes that back.")

    rows = tuple(Row(name, name, person.role.value) for name, person in model.session.people.items())
    title, free = "FOUND BEFORE THIS CASE · by whom?", "a digit, or type a name"
    return ask(ChooseOne(title, rows, digits=True, free=free), by)


def info(model: CaseModel) -> Reply:
    """All that is known about what is shown."""
    view = model.view
    if view.action is not None:
        odd = view.advised.advice.odd if view.advised.advice else ""
        return Reply(request=InFull(view.action, view.state.disagreements, odd))
    if view.asked is None:
        return NOTHING
    indication = view.asked.indication
    words = (
        f"Where: {indication.where}." if indication.where else "",
        f"{limits(indication)} {indication.unit}." if indication.bands else "",
        f"Source: {indication.source}." if indication.source else "",
    )
    return hint(" ".join(filter(None, words)) or "Nothing more is known about it.")
