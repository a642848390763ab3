"""What a sheet tells, as sections of sentences; `sheet` sets them.

The handover sheet holds what guidance asks of one: the state of the machine, whose locks are on, symptoms as seen,
readings with their times, what was done and ruled out, what comes next, resets. The call sheet holds what an engineer
asks on the telephone: machine, time, what changed, lamps and codes exactly, resets, hazards, who is there (common
practice). How to hand over follows HSE's guidance on human factors in shift handover.
"""

from __future__ import annotations

from dataclasses import dataclass

from diag.case import tags
from diag.case.advice.actions import remedy_title
from diag.case.case import Case
from diag.case.log import events as e
from diag.case.phrases import answered, gone, listed, plain, title_of
from diag.case.sheet.owner_words import standing_words
from diag.case.sheet.what_was_done import day, done, ending, entered, open_ends, remedied, resets, time, zone_of
from diag.case.snapshot import Action, Fact
from diag.machine.model import Access, Kind
from diag.record.casebook import CasebookError
from diag.safety import CAUTIONS, Phase
from diag.text import percent

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
    "Hand over face to face, at the machine if you can, in words and with this sheet. Take the time it needs.",
    "Both of you ask and answer. Whoever takes over says back what they have understood; both are responsible for it.",
    "Begin with what whoever takes over needs first: locks, dangers, and what is still open.",
)
SIGNED = ("Handing over", "Taking over")


@dataclass(frozen=True, slots=True)
class SheetContent:
    title: str
    head: tuple[str, ...]
    sections: tuple[tuple[str, tuple[str, ...]], ...]
    foot: tuple[str, ...]
    signatures: tuple[str, ...]


def handover(case: Case) -> SheetContent:
    """The sheet for whoever takes over."""
    sections = (
        ("State of the machine, and locks", (*_condition(case), *_locks(case), *_hazards(case))),
        ("Seen", _seen(case, (*SHOWN, Kind.QUESTION)) or ("Nothing was entered.",)),
        ("Readings", _seen(case, (Kind.READING,)) or ("None.",)),
        ("Done", done(case) or ("Nothing.",)),
        ("Resets", resets(case)),
        ("Likely causes", _causes(case)),
        ("Ruled out", _ruled_out(case) or ("Nothing yet.",)),
        ("Next", _next(case)),
        ("Remedies still to try", _remedies(case) or ("None.",)),
        ("Could not be told, or set aside", open_ends(case) or ("Nothing.",)),
        ("Notes", _notes(case) or ("None.",)),
        ("How to hand over", TALK),
    )
    return SheetContent(f"Handover sheet, case {case.id}", _head(case), sections, _foot(case), SIGNED)


def call_sheet(case: Case) -> SheetContent:
    """What the engineer will ask, answered."""
    machine = case.machine
    people = (f"Took part: {person.name}, {person.role.value}." for person in case.state.people)
    sections = (
        ("Whom to call", _whom(case)),
        ("What happened and what changed", _seen(case, (Kind.QUESTION,)) or ("Nothing was entered.",)),
        ("Lamps and codes, exactly as seen", (*_seen(case, SHOWN), *_not_seen(case))),
        ("Readings", _seen(case, (Kind.READING,)) or ("None.",)),
        ("Resets", resets(case)),
        ("Hazards, locks and who is there", (*_condition(case), *_locks(case), *_hazards(case), *people)),
        ("Done", done(case) or ("Nothing.",)),
        ("What it could be", _causes(case)),
        ("Could not be told", tuple(title_of(machine, i) for i in case.state.cannot_tell) or ("Nothing.",)),
        ("Notes", _notes(case) or ("None.",)),
        ("How to hand over", TALK),
    )
    return SheetContent(f"Call sheet, case {case.id}", _head(case), sections, _foot(case), SIGNED)


# ---------------------------------------------------------------- parts


def _head(case: Case) -> tuple[str, ...]:
    machine, state = case.machine, case.state
    changed = "" if machine.revision == state.revision else f" (the case began with {state.revision})"
    return (
        f"Machine: {machine.name}, {machine.place}",
        f"Machine file: {machine.id}, {machine.approval.told}, {machine.revision}{changed}",
        *filter(None, (_danger(case), gone(machine), machine.approval.warning)),
        f"Opened {day(state.opened)}, last entry {day(state.last)}",
        f"{ENDS[state.closed]}{ending(case)}",
        f"In hand: {state.lead.name}, {state.lead.role.value}",
        *state.problems,
    )


def _notes(case: Case) -> tuple[str, ...]:
    return tuple(f"{time(case, n.at)}, {n.by}: {n.text}" for n in case.state.notes)


def _danger(case: Case) -> str:
    """The danger sign that stands, and whom it says to call; what the reader must see first."""
    state = case.state
    called = "called" if state.danger_call in state.called else "not called yet"
    return f"DANGER SIGN: {state.danger} Call the {state.danger_call}: {called}." if state.danger else ""


def _foot(case: Case) -> tuple[str, ...]:
    return (*(caution.text for caution in CAUTIONS[:2]), *_record(case))


def _record(case: Case) -> tuple[str, ...]:
    """What tells later, from this paper, whether the record still says what it said."""
    try:
        found = case.record_digits()
    except CasebookError:
        return ()
    if found is None:
        return ()
    seq, digits, seal = found
    sealed = f" The last seal is {seal}." if seal else ""
    return (f'Record, to the last entry: "{case.id} {seq} {digits}".{sealed} diag cases --verify --digits checks it.',)


def _condition(case: Case) -> tuple[str, ...]:
    state = case.state
    lines = [f"{state.banner.title}: {state.banner.allows} {_power(case)}", *_not_off(case)]
    if state.live:
        lines.append(f"Live work is going on in {zone_of(case, state.live.zone)}, by {state.live.person}.")
    if state.countdown is not None and state.countdown > state.last:
        lines.append(f"Stored energy: the wait on the label ends {time(case, state.countdown)}.")
    if state.remedy and not state.closed:
        lines.append(f"A remedy was carried out and awaits its proof: {remedied(case, state.remedy)}.")
        if state.fault_gone and not state.proved:
            lines.append("Fault gone, not yet running.")
        lines += [f"Still to be done before the proof: {step.rstrip('.')}." for step in state.proof_first]
    for i, want, now in state.proof:
        if now not in want:
            seen = f"it is {plain(now)}" if now else "not seen yet"
            lines.append(f"{title_of(case.machine, i)} should be {listed(map(plain, want), 'or')}; {seen}.")
    return tuple(lines)


def _power(case: Case) -> str:
    """Whether the power is off, said only where every point of each zone that is locked out is confirmed off."""
    state = case.state
    if state.energised:
        return "Power on."
    if any(lockout.phase is Phase.STOP for lockout in state.lockouts.values()):
        return "The power is NOT proved off."
    return "The power is NOT all off." if _still_on(case) else "Power off."


def _still_on(case: Case) -> tuple[str, ...]:
    """Points not confirmed off, of the zones where a lockout is under way or a point is off."""
    state, machine = case.state, case.machine
    under_way = [z for z, lockout in state.lockouts.items() if lockout.phase is not Phase.NONE]
    zones = [zone for id, zone in machine.zones.items() if id in under_way or set(zone.points) & set(state.off)]
    return tuple(p for p in machine.points if p not in state.off and any(p in zone.points for zone in zones))


def _not_off(case: Case) -> tuple[str, ...]:
    return tuple(f"NOT OFF: {case.machine.points[p].title}." for p in _still_on(case))


def _locks(case: Case) -> tuple[str, ...]:
    points = case.machine.points
    locks = tuple(
        f"LOCK ON: {points[p].title if p in points else p}, lock of {who}. Only {who} takes it off."
        for p, who in case.state.locks
    )
    state, stored = case.state, case.machine.stored
    held = tuple(f"STILL IN: {stored[s].title}. On the return to service: {_put_back(case, s)}." for s in state.holds)
    off = tuple(f"OFF, NOT BACK: {what}, {zone_of(case, zone)}." for zone, what in state.taken)
    shared = tuple(
        f"LOCK ON at {one.tag}, here {points[one.point].title}: {tags.in_words(one)}. It is no lock of this machine."
        for one in state.tag_locks
    )
    named = standing_words(state, case.machine)
    return (*(locks or ("No lock has been entered as on.",)), *shared, *named, *held, *off)


def _put_back(case: Case, stored: str) -> str:
    back = case.machine.stored[stored].put_back
    return back.do.rstrip(".") if back is not None else ""


def _hazards(case: Case) -> tuple[str, ...]:
    machine = case.machine
    stored = (f"Stored energy: {s.title}." for s in machine.stored.values())
    return (*(f"Hazard: {h}." for h in machine.hazards), *stored, *(f"Still moves: {n}." for n in machine.neighbours))


def _whom(case: Case) -> tuple[str, ...]:
    machine, state = case.machine, case.state
    called = tuple(f"Called: {role}." for role in state.called)
    ours = state.person.role
    return called + tuple(f"{r.value.capitalize()}: {text}" for r, text in machine.call.items() if r is not ours)


def _seen(case: Case, kinds: tuple[Kind, ...]) -> tuple[str, ...]:
    machine = case.machine
    wanted = {i for i, ind in machine.indications.items() if ind.kind in kinds and i not in machine.resets}
    return tuple(fact_line(case, f) for f in case.state.facts if f.indication in wanted)


def fact_line(case: Case, fact: Fact) -> str:
    """One fact: what was found, exactly as it was said, when, by whom and with what tool, and whether it counts."""
    ind = case.machine.indications[fact.indication]
    state, said = ind.state(fact.state), fact.said.strip()
    looks = [
        f"“{fact.said}”" if said and said not in (fact.state, plain(fact.state)) else "",
        state.means,
        state.pattern,
    ]
    if fact.could_be:
        looks.append("in doubt: could be " + listed(map(plain, (fact.state, *fact.could_be)), "or"))
    told = ", ".join(filter(None, looks))
    id = next((s.event.check for s in entered(case) if s.seq == fact.seq and isinstance(s.event, e.Found)), "")
    check = case.machine.checks.get(id)
    with_ = f", with {check.tool}" if check is not None and check.tool else ""
    when = f"found before this case by {fact.before}" if fact.before else f"{time(case, fact.at)}, {fact.by}"
    round_ = f", round {fact.round}" if fact.round > 1 else ""
    worth = "" if fact.counts else f" {fact.why}"
    where = f" ({ind.where})" if ind.where else ""
    found = answered(fact.title + where, plain(fact.state)) + (f" ({told})" if told else "")
    return f"{found}; {when}{with_}{round_}.{worth}"


def _not_seen(case: Case) -> tuple[str, ...]:
    shown = (i for block in case.machine.face for row in block.rows for i in row)
    missing = [title_of(case.machine, i) for i in dict.fromkeys(shown) if i not in case.state.current]
    return (f"Not looked at: {listed(missing)}.",) if missing else ()


def _causes(case: Case) -> tuple[str, ...]:
    advice = case.advice()
    shown = [c for n, c in enumerate(advice.causes[:CAUSES]) if n == 0 or c.probability >= LEAST]
    lines = [f"{c.title}, {percent(c.probability)}" for c in shown]
    lines += [f"{d.name}. It can mean that {listed(d.causes, 'or that')}." for d in case.state.disagreements]
    return (*lines, *filter(None, (advice.tree_says, "" if case.state.closed else advice.odd)))


def _ruled_out(case: Case) -> tuple[str, ...]:
    found = case.ruled_out()
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
    """Remedies of the likely causes that were not tried. What is to be done inside waits for the gate."""
    machine = case.machine
    if case.state.closed == "cured":
        return ()
    now = {likely.id: likely.probability for likely in case.advice().causes}
    likely = (machine.causes[c].remedy for c, p in now.items() if p >= LIKELY and c in machine.causes)
    tried = {s.event.remedy for s in entered(case) if isinstance(s.event, e.Remedied)}
    lines = {}
    for remedy in likely:
        if remedy is not None and remedy.id not in tried:
            parts = f", parts: {listed(remedy.parts)}" if remedy.parts else ""
            who = listed((r.value for r in remedy.who), "or")
            told = f"({ACCESS[remedy.access]}, {remedy.minutes:g} min, {who}{parts})"
            lines[remedy.id] = f"{remedy_title(machine, remedy, now)} {told}"
    return tuple(lines.values())
