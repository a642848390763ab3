"""What a sheet tells, as sections of sentences; how it is set stands in `sheet`.

The handover sheet follows what guidance asks of one (state of the machine, whose locks are on, symptoms as seen,
readings with their time, done, ruled out, next, resets), the call sheet what an engineer asks on the telephone
(machine, time, what changed, lamps and codes exactly, resets, hazards, who is there): common practice. How to hand
over is the advice of HSE's guidance on human factors in shift handover.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from diag.case import deeds
from diag.case import events as e
from diag.case.actions import remedy_title
from diag.case.snapshot import Action, Fact
from diag.case.telling import percent
from diag.case.words import answered, listed, title_of
from diag.machine.model import Access, Kind
from diag.safety import CAUTIONS

if TYPE_CHECKING:
    from diag.case.case import Case

CAUSES, RULED_OUT = 5, 12
"""Most causes that a sheet lists."""
LEAST = 0.01
"""A cause below this is not listed as likely."""
LIKELY = 0.05
"""A cause below this has no remedy on the sheet."""
SHOWN = (Kind.LAMP, Kind.DISPLAY, Kind.CONTACT, Kind.HISTORY)

ACCESS = {
    Access.OUTSIDE: "from outside",
    Access.DEAD: "inside, locked out and proved dead",
    Access.LIVE: "inside, live work",
}
ENDS = {
    "cured": "Closed: cured, and proved.",
    "running": "Closed: running, cause not found.",
    "handed-over": "Handed over.",
    "": "Open.",
}
TALK = (
    "Hand over face to face, at the machine where you can, spoken and with this sheet. Take the time that it needs.",
    "Both ask and both answer: whoever takes over says back what they understood. Both are responsible for it.",
    "Start with what the one who takes over needs: locks, dangers, what is open.",
)
SIGNED = ("Handing over", "Taking over")


@dataclass(frozen=True, slots=True)
class Told:
    title: str
    head: tuple[str, ...]
    sections: tuple[tuple[str, tuple[str, ...]], ...]
    foot: tuple[str, ...]
    signatures: tuple[str, ...]


def handover(case: Case) -> Told:
    """The sheet for whoever takes over."""
    state = case.state
    sections = (
        ("State of the machine and locks", (*_condition(case), *_locks(case), *_hazards(case))),
        ("Seen", _seen(case, (*SHOWN, Kind.QUESTION)) or ("Nothing was entered.",)),
        ("Readings", _seen(case, (Kind.READING,)) or ("None.",)),
        ("Done", deeds.done(case) or ("Nothing.",)),
        ("Resets", deeds.resets(case)),
        ("Likely causes", _causes(case)),
        ("Ruled out", _ruled_out(case) or ("Nothing yet.",)),
        ("Next", _next(case)),
        ("Remedies that are open", _remedies(case) or ("None.",)),
        ("Could not be told, or set aside", deeds.open_ends(case) or ("Nothing.",)),
        ("Notes", state.notes or ("None.",)),
        ("How to hand over", TALK),
    )
    return Told(f"Handover sheet, case {case.id}", _head(case), sections, _foot(), SIGNED)


def call_sheet(case: Case) -> Told:
    """What the engineer will ask, answered."""
    machine = case.machine
    sections = (
        ("Whom to call", _whom(case)),
        ("What happened, and what changed", _seen(case, (Kind.QUESTION,)) or ("Nothing was entered.",)),
        ("Lamps and codes, exactly", (*_seen(case, SHOWN), *_not_seen(case))),
        ("Readings", _seen(case, (Kind.READING,)) or ("None.",)),
        ("Resets", deeds.resets(case)),
        ("Hazards, locks and who is there", (*_condition(case), *_locks(case), *_hazards(case), *_people(case))),
        ("Done", deeds.done(case) or ("Nothing.",)),
        ("What it may be", _causes(case)),
        ("Could not be told", tuple(title_of(machine, i) for i in case.state.cannot_tell) or ("Nothing.",)),
        ("Notes", case.state.notes or ("None.",)),
        ("How to hand over", TALK),
    )
    return Told(f"Call sheet, case {case.id}", _head(case), sections, _foot(), SIGNED)


# ---------------------------------------------------------------- parts


def _head(case: Case) -> tuple[str, ...]:
    machine, state = case.machine, case.state
    changed = "" if machine.revision == state.revision else f" (the case began with {state.revision})"
    return (
        f"Machine: {machine.title}, {machine.place}",
        f"Machine file: {machine.id}, {machine.standing.told}, {machine.revision}{changed}",
        *filter(None, (_danger(case), machine.standing.warning)),
        f"Opened {deeds.day(state.opened)}, last entry {deeds.day(state.last)}",
        f"{ENDS[state.closed]}{deeds.ending(case)}",
        f"At the keys: {state.person.name}, {state.person.role.value}",
        *state.problems,
    )


def _danger(case: Case) -> str:
    """The danger sign that stands, and whom it says to call; what the reader must see first."""
    state = case.state
    called = "called" if state.danger_call in state.called else "not called yet"
    return f"DANGER SIGN: {state.danger} Call the {state.danger_call}: {called}." if state.danger else ""


def _foot() -> tuple[str, ...]:
    return tuple(caution.text for caution in CAUTIONS[:2])


def _condition(case: Case) -> tuple[str, ...]:
    state = case.state
    lines = [f"{state.banner.title}: {state.banner.allows} Power {'on' if state.energised else 'off'}."]
    if state.live:
        lines.append(f"Live work is open in {deeds.zone_of(case, state.live.zone)}, by {state.live.person}.")
    if state.countdown is not None and state.countdown > state.last:
        lines.append(f"Stored energy: the wait on the label ends {deeds.time(case, state.countdown)}.")
    if state.remedy and not state.closed:
        lines.append(f"A remedy was done and waits for its proof: {deeds.remedied(case, state.remedy)}.")
    for i, want, now in state.proof:
        if now not in want:
            seen = f"it is {now}" if now else "not seen yet"
            lines.append(f"{title_of(case.machine, i)} should be {listed(want, 'or')}; {seen}.")
    return tuple(lines)


def _locks(case: Case) -> tuple[str, ...]:
    points = case.machine.points
    locks = tuple(
        f"LOCK ON: {points[p].title if p in points else p}, lock of {who}. Only {who} takes it off."
        for p, who in case.state.locks
    )
    return locks or ("No lock was entered as on.",)


def _hazards(case: Case) -> tuple[str, ...]:
    machine = case.machine
    stored = (f"Stored energy: {s.title}." for s in machine.stored.values())
    return (*(f"Hazard: {h}." for h in machine.hazards), *stored, *(f"Still moves: {n}." for n in machine.neighbours))


def _people(case: Case) -> tuple[str, ...]:
    people = {s.event.person: s.event.role.value for s in deeds.entered(case) if isinstance(s.event, e.TookOver)}
    return tuple(f"At the keys: {name}, {role}." for name, role in people.items())


def _whom(case: Case) -> tuple[str, ...]:
    machine, state = case.machine, case.state
    called = tuple(f"Called: {role}." for role in state.called)
    ours = state.person.role
    return called + tuple(f"{r.value.capitalize()}: {text}" for r, text in machine.call.items() if r is not ours)


def _seen(case: Case, kinds: tuple[Kind, ...]) -> tuple[str, ...]:
    inds = case.machine.indications
    resets = case.machine.resets
    return tuple(
        fact_line(case, f) for f in case.state.facts if inds[f.indication].kind in kinds and f.indication not in resets
    )


def fact_line(case: Case, fact: Fact) -> str:
    """One fact: what, exactly as it was said, when, by whom, with what, and what it is worth."""
    ind = case.machine.indications[fact.indication]
    state = ind.state(fact.state)
    looks = [f"“{fact.said}”"] if fact.said.strip() and fact.said.strip() != fact.state else []
    looks += [state.means] if state.means else []
    looks += [state.pattern] if state.pattern else []
    if fact.could_be:
        looks.append("in doubt: could be " + listed((fact.state, *fact.could_be), "or"))
    said = f" ({', '.join(looks)})" if looks else ""
    tool = next((s.event.check for s in deeds.entered(case) if s.seq == fact.seq and isinstance(s.event, e.Found)), "")
    check = case.machine.checks.get(tool)
    with_ = f", with {check.tool}" if check is not None and check.tool else ""
    when = f"found before this case by {fact.before}" if fact.before else f"{deeds.time(case, fact.at)}, {fact.by}"
    round_ = f", round {fact.round}" if fact.round > 1 else ""
    worth = "" if fact.counts else f" {fact.why}"
    where = f" ({ind.where})" if ind.where else ""
    return f"{answered(fact.title + where, fact.state)}{said}; {when}{with_}{round_}.{worth}"


def _not_seen(case: Case) -> tuple[str, ...]:
    shown = (i for block in case.machine.face for row in block.rows for i in row)
    missing = [title_of(case.machine, i) for i in dict.fromkeys(shown) if i not in case.state.standing]
    return (f"Not looked at: {listed(missing)}.",) if missing else ()


def _causes(case: Case) -> tuple[str, ...]:
    advice = case.advice()
    shown = [c for n, c in enumerate(advice.causes[:CAUSES]) if n == 0 or c.probability >= LEAST]
    lines = [f"{c.title}, {percent(c.probability)}" for c in shown]
    lines += [f"{d.name}. It can mean that {listed(d.causes, 'or that')}." for d in case.state.disagreements]
    if advice.tree_says:
        lines.append(advice.tree_says)
    if advice.odd and not case.state.closed:
        lines.append(advice.odd)
    return tuple(lines)


def _ruled_out(case: Case) -> tuple[str, ...]:
    found = case.weigh().ruled_out(case.folded)
    lines = [
        f"{case.machine.causes[id].title}, now {percent(now)}" + (f"; against it: {against}" if against else "")
        for id, now, against in found[:RULED_OUT]
    ]
    if len(found) > RULED_OUT:
        lines.append(f"and {len(found) - RULED_OUT} more")
    return tuple(lines)


def _next(case: Case) -> tuple[str, ...]:
    advice = case.advice()
    if advice.next is None:
        return ("Keep away and call." if case.state.danger else "Nothing.",)
    return (_action(advice.next), *(f"Or: {_action(other)}" for other in advice.others))


def _action(action: Action) -> str:
    if action.kind not in ("look", "check", "remedy"):
        return f"{action.title}. {action.why}"
    who = listed((r.value for r in action.who), "or")
    tool = f", {action.tool}" if action.tool else ""
    return f"{action.title} ({ACCESS[action.access]}{tool}, {action.minutes:g} min, {who}). {action.why}"


def _remedies(case: Case) -> tuple[str, ...]:
    """Remedies of the likely causes that were not tried. What they ask to do inside waits for the gate."""
    machine, state = case.machine, case.state
    tried = {s.event.remedy for s in deeds.entered(case) if isinstance(s.event, e.Remedied)}
    lines: dict[str, str] = {}
    now = {likely.id: likely.probability for likely in case.advice().causes}
    for likely in case.advice().causes:
        cause = machine.causes.get(likely.id)
        if cause is None or cause.remedy is None or likely.probability < LIKELY or cause.remedy.id in tried:
            continue
        remedy = cause.remedy
        parts = f", parts: {listed(remedy.parts)}" if remedy.parts else ""
        who = listed((r.value for r in remedy.who), "or")
        told = f"{remedy_title(machine, remedy, now)} ({ACCESS[remedy.access]}, {remedy.minutes:g} min, {who}{parts})"
        lines.setdefault(remedy.id, told)
    if state.closed == "cured":
        return ()
    return tuple(lines.values())
