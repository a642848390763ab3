"""What goes into the record besides answers: what is set aside, resets, calls, notes, what is taken back, the sheet.
Plain."""

from __future__ import annotations

from diag.machine.model import Role
from diag.safety.types import same_name
from diag.text import cut, one_line
from diag.tui.looks.wording import plain, reach
from diag.tui.questions import Answers, AskLines, ChooseOne, Line, Picked, Row
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import NOTHING, AskReset, Reply, ask, entered, hint, say, warn

REASONS = ("no tool", "no part", "no time", "cannot be reached", "not safe here and now")
"""Why something is set aside."""


def skip(model: CaseModel) -> Reply:
    """Set aside what is shown in full."""
    from diag.case.log.events import Skipped

    action = model.view.action
    if action is None:
        return NOTHING

    def skipped(picked: Picked) -> Reply:
        return entered(model.session.post(Skipped(action=action.id, why=picked.words)), f"Set aside: {action.title}")

    rows = tuple(Row(reason, reason) for reason in REASONS)
    free = "a digit, or type another reason"
    return ask(ChooseOne("SET ASIDE · why?", rows, digits=True, free=free), skipped)


def resets(model: CaseModel) -> Reply:
    """A reset; which one, where there are several."""
    counts = {r.id: r for r in model.state.resets}
    rows = []
    for id, one in model.machine.resets.items():
        count = counts.get(id)
        rows.append(Row(id, one.title, f"done {count.done}; {count.because}" if count is not None else ""))
    if not rows:
        return hint("The machine file names no reset.")
    if len(rows) == 1:
        return reset(model, rows[0].id)
    return ask(ChooseOne("RESET · which one?", tuple(rows), digits=True), lambda picked: reset(model, picked.id))


def reset(model: CaseModel, id: str) -> Reply:
    """Before this reset: what it clears, and whether it may be done."""
    from diag.case.log.events import ResetDone

    def done(_: bool) -> Reply:
        return entered(model.session.post(ResetDone(reset=id)), "Reset done. Now: what came of it?")

    found = model.machine.resets[id]
    count = next((r for r in model.state.resets if r.id == id), None)
    missing = tuple(i for i in found.note_first if i not in model.state.current)
    return ask(AskReset(found, count, model.session.case.action(id), missing), done)


def call(model: CaseModel) -> Reply:
    """Whom did you call? The one that the advice names comes first; nobody calls their own role."""
    named = next((action.id for action in model.view.offered if action.kind == "call"), "")
    others = [role for role in reversed(Role) if role is not model.state.person.role]
    others.sort(key=lambda role: role.value != named)
    rows = tuple(Row(role.value, role.value, model.machine.call.get(role, "")) for role in others)
    return ask(ChooseOne("CALL · whom did you call?", rows, digits=True), lambda picked: called(model, picked.id))


def called(model: CaseModel, role: str) -> Reply:
    """A call to this role was made."""
    from diag.case.log.events import Called

    if role not in set(Role):
        return call(model)
    return entered(model.session.post(Called(role=Role(role))), f"Called: {reach(role, model.machine.call)}")


def note(model: CaseModel) -> Reply:
    """A note for the record."""
    from diag.case.log.events import Noted

    def noted(answers: Answers) -> Reply:
        return entered(model.session.post(Noted(text=answers[0])), f"Noted: {cut(answers[0], 50)}")

    return ask(AskLines("NOTE", "What the next person should know.", (Line("Note"),)), noted)


def made_safe(model: CaseModel) -> Reply:
    """The danger is over: how it was made safe, by whoever has the keys."""
    from diag.case.log.events import MadeSafe

    sign = model.state.danger
    if not sign:
        return hint("No danger sign stands.")

    def over(answers: Answers) -> Reply:
        if model.state.danger != sign:
            return warn("Not entered: another sign stands now. Read it first.")
        return entered(model.session.post(MadeSafe(how=answers[0])), f"Made safe: {cut(answers[0], 50)}")

    about = f"{one_line(sign)} What was done, so that it is over?"
    return ask(AskLines("MADE SAFE", about, (Line("How"),)), over)


def undo(model: CaseModel) -> Reply:
    """Take back the latest entry of whoever has the keys. While a danger sign stands: whether it never was there, or is
    over. A step of a lockout is taken back where it was confirmed, and not by a key of the case."""
    if model.state.danger:
        return _undo_danger(model)
    if model.session.case.undo_zone:
        return hint("Your latest entry is a step of the lockout: g, then u takes it back there.")
    if model.session.case.stays:
        return hint("Your latest entry is of a tag or an absent owner, and stays. In the facts Delete takes one back.")
    last = model.session.case.last_by
    if last and not model.session.case.may_undo and not same_name(last, model.state.person.name):
        return hint(f"The latest entry is {one_line(last)}'s. u takes back your own, and you have none yet.")

    before = model.state.facts

    def gone() -> str:
        left = {f.seq for f in model.state.facts}
        facts = "; ".join(f"{one_line(f.title)}, {plain(f.state)}" for f in before if f.seq not in left)
        return f"Taken back: {facts}" if facts else "Taken back: your latest entry."

    return entered(model.session.undo(), gone)


def _undo_danger(model: CaseModel) -> Reply:
    """Only what raised the sign is taken back here, and only by whoever entered it in this case."""
    raised = model.state.danger_raised
    if raised is None or raised.case != model.state.id or not same_name(raised.by, model.state.person.name):
        by = f"{one_line(raised.by)} raised it" if raised is not None else "Somebody else raised it"
        if raised is None or raised.case == model.state.id:
            return hint(f"{by}, and nobody else takes it back; o records that it was made safe.")
        return hint(f"{by} in case {one_line(raised.case)}. It is taken back there; o records that it was made safe.")

    def answer(picked: Picked) -> Reply:
        return made_safe(model) if picked.id == "over" else _take_back(model, raised.seq)

    rows = (
        Row("never", "it was never there: the entry was a mistake"),
        Row("over", "it was there, and has been made safe"),
    )
    return ask(ChooseOne("TAKE BACK · was it never there, or is it over?", rows, digits=True), answer)


def take_back(model: CaseModel, seq: int) -> Reply:
    """Take back the fact of that number in the record. One that shows a danger sign which stands is asked about
    first."""
    fact = next((f for f in model.state.facts if f.seq == seq), None)
    signs = (sign for sign in model.machine.dangers if sign.stop == model.state.danger)
    if fact is not None and any(fact.indication == i for sign in signs for i, _ in sign.when):
        return _undo_danger(model)
    return _take_back(model, seq)


def _take_back(model: CaseModel, seq: int) -> Reply:
    from diag.case.log.events import TakenBack

    fact = next((f for f in model.state.facts if f.seq == seq), None)
    words = "Taken back" + (f": {one_line(fact.title)}" if fact is not None else "")
    return entered(model.session.post(TakenBack(seq=seq)), words)


def failed(model: CaseModel) -> Reply:
    """The remedy that waits for its proof did not cure it."""
    from diag.case.log.events import RemedyFailed

    remedy = model.state.remedy
    if not remedy:
        return hint("No remedy waits for its proof.")
    words = "Not cured. What was seen since the remedy counts as evidence now."
    return entered(model.session.post(RemedyFailed(remedy=remedy)), words)


def sheet(model: CaseModel) -> Reply:
    """The handover or call sheet as files."""
    from diag.tui.sheet_files import CannotWrite, write

    try:
        paths = write(model.session.case, model.session.sheets)
    except CannotWrite as error:
        return warn(str(error))
    return say(f"Written: {paths[0]} and {paths[1].name}")
