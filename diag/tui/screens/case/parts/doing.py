"""What Enter does: begin to type, or record that what is shown is done; and the way to the lockout and to the end.

What was done at the machine has to be confirmed: a second Enter records a remedy, and so does a click on the words.
"""

from __future__ import annotations

from diag.case.snapshot import Action
from diag.safety import Phase
from diag.text import one_line
from diag.tui.case_session import TOO_QUICK
from diag.tui.screens.case.parts import finding, reading, recording
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import NOTHING, Reply, ToFinish, ToLockout, entered, hint, warn
from diag.tui.screens.case.parts.strip import INWARD


def enter(model: CaseModel) -> Reply:
    """Enter: begin to type, or do what is shown."""
    asked, action = model.view.asked, model.view.action
    unhurried = model.session.unhurried()
    if asked is not None:
        if asked.open and asked.typed:
            return reading.begin(model)
        if not asked.open and action is None:
            return lockout(model)
        if asked.open and asked.listed:
            return finding.list_states(model)
        if not asked.closed:
            return hint("Press the digit of what you see.")
    if action is None:
        return NOTHING
    if unhurried:
        return act(model, action)
    # A question that is being asked stays in sight.
    stands = model.asked_sure and model.asked_sure == model.words
    return warn(model.asked_sure) if stands else hint(TOO_QUICK)


def done(model: CaseModel) -> Reply:
    """A click on the words, which needs no second one."""
    model.asked_sure = ""
    return act(model, model.view.action, sure=True) if model.view.action is not None else NOTHING


def act(model: CaseModel, action: Action, sure: bool = False) -> Reply:
    """Does this. `sure`: without asking for confirmation."""
    if not action.permission.now and action.permission.way in INWARD:
        return lockout(model)
    if not action.permission.now and action.kind in ("remedy", "do") and action.permission.because:
        return warn(action.permission.because)
    if action.kind in ("remedy", "failed") and not sure:
        question = _unsure(model, action)
        if question:
            return warn(question)
    match action.kind:
        case "remedy" | "do":
            return _did(model, action)
        case "reset":
            return recording.reset(model, action.id)
        case "call" if action.id in model.state.called:
            return hint("That call is noted already. c notes another one.")
        case "call":
            return recording.called(model, action.id)
        case "close":
            return finish(model)
        case "failed":
            return recording.failed(model)
    return warn(action.permission.because) if action.permission.because else NOTHING


def _did(model: CaseModel, action: Action) -> Reply:
    from diag.case.log.events import Did, Prepared, Remedied

    if action.kind == "do" and not action.id:
        return entered(model.session.post(Prepared(text=action.title)), f"Done: {action.title}")
    if action.kind == "do":
        return entered(model.session.post(Did(tree=action.id, text=action.title)), f"Done: {action.title}")
    words = f"Done: {one_line(action.title).rstrip('.')}. Now see its proof."
    return entered(model.session.post(Remedied(remedy=action.id)), words)


def _unsure(model: CaseModel, action: Action) -> str:
    """The question that a second Enter confirms, since what was done at the machine is recorded for good; empty once it
    was pressed again."""
    words = f"Is it done? Enter again confirms: {one_line(action.title)}"
    if action.kind == "failed":
        words = "Is the fault still there? Enter again confirms."
    asked, model.asked_sure = model.asked_sure, words
    return "" if asked == words == model.words else words


def lockout(model: CaseModel) -> Reply:
    """To the lockout, on the zone of what is shown or selected."""
    if not model.machine.zones:
        return hint("The machine file names no zone, so nothing of it may be opened.")
    action, zone, live = model.view.action, "", False
    if action is not None:
        zone, live = action.zone, action.permission.way == "live"
    elif model.selection.indication:
        how = model.session.access_to(model.selection.indication)
        zone, live = how.zone, how.way == "live"
    # A refusal that was shown before does not concern what comes back from there.
    return Reply("", request=ToLockout(zone or _zone_in_mind(model), live))


def _zone_in_mind(model: CaseModel) -> str:
    """Where what is marked names no zone: the one that is in hand; else that of the remedy of the cause that is marked,
    or of the first alternative that names one. Empty where nothing does."""
    if any(lockout.phase is not Phase.NONE for lockout in model.state.lockouts.values()):
        return ""
    cause = model.machine.causes.get(model.evidence.cause)
    wanted = [cause.remedy.zone] if cause is not None and cause.remedy is not None else []
    return next(filter(None, (*wanted, *(action.zone for action in model.view.offered))), "")


def finish(model: CaseModel) -> Reply:
    """To the screen that closes the case."""
    model.session.unhurried()
    return hint("This case is closed.") if model.state.closed else Reply(request=ToFinish())
