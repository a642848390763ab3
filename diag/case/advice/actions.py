"""Checks, remedies, resets and calls as a screen may show them now. The one rule decides; here it is only obeyed."""

from __future__ import annotations

from collections.abc import Mapping

from diag.case.log.projection import Projection, permitted
from diag.case.phrases import title_of
from diag.case.snapshot import Action
from diag.machine.model import Access, Check, Kind, Machine, Remedy, Reset, Role
from diag.safety import Permission
from diag.text import one_line

OPEN = Permission(True, True, "From outside, with everything closed.")
"""Of an action from outside that everybody may do."""


def of_check(
    machine: Machine,
    projection: Projection,
    check: Check,
    *,
    why: str = "",
    saved: float = 0.0,
    by_tree: bool = False,
    leads: tuple[str, ...] = (),
) -> Action:
    rule = permitted(machine, projection, check)
    return Action(
        kind="look" if check.implied else "check",
        id=check.id,
        title=check.title,
        gives=check.gives,
        tool=check.tool,
        where=check.where or _where(machine, check),
        minutes=check.minutes,
        access=check.access,
        zone=check.zone,
        who=check.who,
        why=why,
        saved=saved,
        permission=rule,
        how=_how(rule, check.do, check.caution),
        caution=check.caution,
        by_tree=by_tree,
        leads=leads,
    )


def of_remedy(
    machine: Machine, projection: Projection, remedy: Remedy, *, why: str = "", now: Mapping[str, float] | None = None
) -> Action:
    """`now`: the present probability of each cause, where it is known."""
    rule = permitted(machine, projection, remedy)
    return Action(
        kind="remedy",
        id=remedy.id,
        title=remedy_title(machine, remedy, now),
        tool="; ".join(filter(None, (remedy.tool, ", ".join(remedy.parts)))),
        minutes=remedy.minutes,
        access=remedy.access,
        zone=remedy.zone,
        who=remedy.who,
        why=why,
        permission=rule,
        how=_how(rule, remedy.do, remedy.caution),
        caution=remedy.caution,
    )


def remedy_title(machine: Machine, remedy: Remedy, now: Mapping[str, float] | None = None) -> str:
    """From outside what it does; inside what it is for, as what it does is an instruction, and may have to wait for the
    gate. Of several causes: where it is to be done the likeliest `now`, and how many others; in a record, for which it
    may have been any of them, the first two."""
    if remedy.access is Access.OUTSIDE:
        return one_line(remedy.do)
    causes = sorted(machine.causes_of.get(remedy.id, ()), key=lambda cause: -(now or {}).get(cause, 0.0))
    if now is None or len(causes) < 2:
        return f"Remedy for: {causes_named(machine, remedy)}"
    others = len(causes) - 1
    return f"Remedy for: {machine.causes[causes[0]].title}, or {others} other cause{'s' if others > 1 else ''}"


def causes_named(machine: Machine, remedy: Remedy) -> str:
    """The causes that a remedy is for: the first two of the file by their titles, and how many more."""
    titles = [machine.causes[cause].title for cause in machine.causes_of.get(remedy.id, ())]
    return "; ".join(titles[:2]) + (f", and {len(titles) - 2} more" if len(titles) > 2 else "")


def of_reset(machine: Machine, projection: Projection, reset: Reset, *, why: str = "") -> Action:
    count = next(r for r in projection.state.resets if r.id == reset.id)
    rule = permitted(machine, projection, reset)
    if rule.now and not count.may:
        rule = Permission(False, False, count.because, rule.needs)
    return Action(
        kind="reset",
        id=reset.id,
        title=reset.title,
        minutes=reset.minutes,
        who=reset.who,
        why=why or reset.clears,
        permission=rule,
        how=_how(rule, reset.do, ""),
    )


def of_outcome(machine: Machine, reset: Reset) -> Action:
    """The question how a reset went."""
    return Action(
        "look",
        reset.id,
        title_of(machine, reset.id),
        OPEN,
        gives=(reset.id,),
        why="What a reset does is evidence: a lasting fault comes back, and a cleared one may not.",
    )


def of_call(machine: Machine, role: Role, *, why: str, by_tree: bool = False, called: bool = False) -> Action:
    whom = machine.call.get(role, "")
    title = f"Wait for the {role.value}" if called else f"Call the {role.value}"
    told = "The call is noted. The sheet tells what was seen and done." if called else whom
    return Action("call", role.value, title, OPEN, why=why, how=told, minutes=machine.minutes.call, by_tree=by_tree)


def of_failed(remedy: str, why: str) -> Action:
    return Action("failed", remedy, "The remedy did not cure it: say so, or look again", OPEN, why=why)


def _how(rule: Permission, do: str, caution: str) -> str:
    if not rule.how:
        return ""
    end = "" if not do or do[-1] in ".:;,?" else "."
    return f"{do}{end} {caution}".strip() if caution else do


def _where(machine: Machine, check: Check) -> str:
    """For a check that does not say it: where its indications are, when that is one place."""
    places = {machine.indications[i].where for i in check.gives if machine.indications[i].kind is not Kind.QUESTION}
    return places.pop() if len(places) == 1 else ""
