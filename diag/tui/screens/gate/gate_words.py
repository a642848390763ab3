"""What the gate screen says beside its list: the cautions, the step that Enter confirms, or why there is none."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta

from textual.content import Content

from diag.case.snapshot import CaseState
from diag.machine.model import Machine, Role
from diag.panel.meter.meter import BadReading
from diag.panel.meter.volts import row
from diag.safety import Act, Lockout, Person, Phase, Step
from diag.safety import cautions as caution
from diag.safety.measured import at_voltage, pairs_of
from diag.safety.types import same_name
from diag.text import one_line
from diag.tui.looks.wording import minutes, reach
from diag.tui.questions import Answers, AskLines, ChooseOne, Line, Row
from diag.tui.widgets.written import clickable, line, lines, text

WORDS, CHARACTERS, PERMIT_CHARACTERS = 3, 12, 3
"""How many words or characters make a reason that is typed, and how many characters a permit."""
LEAST = (60, 18)
"""Columns and rows that the gate needs: below that a step may stand there half, and nobody confirms what they have not
read."""
TOO_SMALL = (
    f"This window is too small for the gate. Make it at least {LEAST[0]} by {LEAST[1]}; nothing is confirmed here."
)
FINDINGS = {
    Act.VOLTAGE_FOUND: "Voltage or energy found",
    Act.METER_FAILED: "The meter cannot be proved",
    Act.MOVED: "It moved",
}

FOR_STEP = {
    Act.TOLD: (caution.SITE_FIRST, caution.WORD_ONLY),
    Act.SHUT_DOWN: (caution.CONTROLS,),
    Act.OFF_AND_LOCKED: (caution.OWN_LOCK, caution.STAYS_LIVE),
    Act.RELEASED: (caution.STORED,),
    Act.START_TRIED: (caution.CONTROLS,),
    Act.OPENED: (caution.STAYS_LIVE,),
    Act.METER_PROVED: (caution.PROVE,),
    Act.TESTED_DEAD: (caution.PROVE, caution.STAYS_LIVE),
    Act.LOCKS_OFF: (caution.OWN_LOCK,),
    Act.BEFORE_OFF: (caution.CONTROLS,),
    Act.WAIT_BEGUN: (caution.STORED,),
    Act.POWER_ON: (caution.RESET,),
}
"""Which cautions go first at which step."""


def cautions(machine: Machine, due: Step | None) -> Content:
    """All cautions, those for the step that is due first."""
    first = [c.text for c in FOR_STEP.get(due.act, ())] if due is not None else []
    rest = [c.text for c in caution.AT_THE_GATE if c.text not in first]
    own = [*machine.hazards, *(f"Still moves: {n}" for n in machine.neighbours)]
    rows = [line(("▲ ", ".warn"), (words, ".strong")) for words in first]
    return lines(rows + [line(("▲ ", ".warn"), one_line(words)) for words in (*own, *rest)])


def step_due(step: Step, person: Person, rest: str, digit: int = 0, ahead: bool = False) -> Content:
    """The step that Enter confirms, in full. `rest`: what is left of its label's wait, empty when that is over;
    `digit`: its digit, where several are due; `ahead`: a step further on is for a person who is qualified."""
    rows = [line((f"↵ {digit} " if digit else "↵ ", ".key"), (one_line(step.text), ".strong"))]
    if step.wait:
        words = f"{rest} of it is left." if rest else "It is over; the meter shows whether it was long enough."
        rows.append(line(("▲ ", ".warn"), f"The label says to wait {minutes(step.wait)}. {words}"))
    has = {"authorised": person.authorised, "qualified": person.qualified}
    if not has.get(step.needs, True):
        words = f"For a person who is {step.needs}. "
        rows.append(line(("✕ ", ".warn"), words, ("p", ".key"), " changes the person, or what you may do."))
    elif ahead and not person.qualified and not step.wait:
        words = "Further on, opening and testing are for a person who is qualified: "
        rows.append(line(("▲ ", ".warn"), words, ("p", ".key"), "."))
    return lines(rows)


def way_ended(machine: Machine, state: CaseState, lockout: Lockout) -> Content:
    """The return to service is done; this is the lockout that went it. Only what is on is said to be on."""
    points = machine.zones[lockout.zone].points
    off = [machine.points[p].title for p in points if p in state.off]
    words = "Power is back on for the test. " if lockout.again else "The power is back on. "
    if off:
        words = f"Back in service, and still off for another zone: {', '.join(off)}. "
    return line(("✓ ", ".done"), (one_line(words) + " ", ".strong"), _to_the_case(" back to the case."))


def _to_the_case(words: str) -> Content:
    return clickable(line(("↵", ".key"), words), ("screen.confirm", ()))


def measured(machine: Machine, step: Step) -> AskLines:
    """What the meter reads at a test point: every pair in one row, with the unit."""
    point = machine.test_points[step.target]
    pairs = pairs_of(point)

    def check(answers: Answers) -> str:
        try:
            row(answers[0], len(pairs))
        except BadReading as bad:
            return str(bad)
        return ""

    def tell(answers: Answers) -> str:
        try:
            volts = dict(zip(pairs, row(answers[0], len(pairs)), strict=True))
        except BadReading:
            return ""
        live = at_voltage(point, volts)
        said = " · ".join(f"{one_line(pair)} {value:g} V" for pair, value in volts.items())
        return f"{said}{' · VOLTAGE: ' + ', '.join(map(one_line, live)) if live else ''}"

    about = f"Measure {', '.join(pairs)}, in this order. Each reads below {point.below:g} V when it is dead."
    return AskLines(f"TEST · {point.title}", about, (Line("Read", example="0.1 0 0 V"),), check, tell, True, (" ", "V"))


def done_at(now: datetime) -> AskLines:
    """Asks at what time a remedy was done."""

    def check(answers: Answers) -> str:
        return "" if time_said(answers[0], now) else "Type the time of day as 3:10 or 03:10."

    about = "You did it yourself, under your own lock. The time of day on this machine's clock."
    return AskLines("DONE INSIDE · when was it done?", about, (Line("At", value=f"{now.astimezone():%H:%M}"),), check)


def time_said(typed: str, now: datetime) -> datetime | None:
    """The last time that it was so late, up to now; None where that is no time of day."""
    found = re.fullmatch(r"([01]?[0-9]|2[0-3])[:.]([0-5][0-9])", typed.strip())
    if found is None:
        return None
    here = now.astimezone()
    at = here.replace(hour=int(found[1]), minute=int(found[2]), second=0, microsecond=0)
    return at if at <= here else at - timedelta(days=1)


def nothing_due(machine: Machine, state: CaseState, lockout: Lockout) -> Content:
    """Why no step may be confirmed."""
    if lockout.phase is Phase.DEAD:
        return line(("✓ ", ".done"), ("Dead for you. ", ".strong"), _to_the_case(" back to the case and the work."))
    if lockout.phase is Phase.STOP:
        call = reach(Role.ENGINEER.value, machine.call)
        return line(("✖ ", ".warn"), ("Stopped. Keep out and call: ", ".strong"), one_line(call))
    zone = machine.zones[lockout.zone]
    key = (" y", ".key")
    for tag in state.tags:
        if set(zone.points).intersection(state.off) and tag.point in ("", *zone.points):
            words = f"A danger tag names {tag.person}. It stays off until {tag.person} takes the tag down."
            return line((one_line(words), ".strong"), key, " enters it.")
    owners = sorted({who for p, who in state.locks if p in zone.points and not same_name(who, state.person.name)})
    if lockout.phase is Phase.BACK and owners:
        words = f"Locks are still on: {', '.join(owners)}. Owners take off their own."
        return line((one_line(words), ".strong"), key, " where one is absent.")
    if state.person.role is Role.OPERATOR:
        words = "Operators do not lock out or go inside. Call an electrician or an engineer."
        return text(words, ".strong")
    return text("Nothing can be confirmed here now.", ".quiet")


def reason_wrong(typed: str) -> str:
    """What is wrong with a typed reason; empty when nothing is."""
    if len(typed.split()) >= WORDS or len(typed) >= CHARACTERS:
        return ""
    return "Choose with a digit, or type the reason in three words or more."


def permit_wrong(typed: str) -> str:
    """What is wrong with a typed permit; a number may do."""
    return "" if len(typed) >= PERMIT_CHARACTERS else "Choose with a digit, or type the permit's number or name."


def _asks(title: str, *words: str, wrong: Callable[[str], str] | None = None, marks: bool = True) -> ChooseOne:
    """Asks for words: one of these, which come up often, by digit or click; or others, typed."""
    rows = tuple(Row(w, w) for w in words)
    return ChooseOne(title, rows, digits=True, free="a digit, or type it", wrong=wrong, marks=marks)


DECISION = _asks(
    "THE SITE'S DECISION · what was found, who decided?",
    "Found and put right; the duty engineer decided",
    "The meter was at fault and another is used; the duty engineer decided",
)
REASON = _asks(
    "LIVE WORK · why can it not be done dead?",
    "The voltage itself has to be measured",
    "The fault shows only with the power on",
    "Switching off would add a greater hazard",
    "The device must run while it is watched",
    wrong=reason_wrong,
)
PERMIT = _asks(
    "LIVE WORK · by which permit? It covers you, here, now",
    "The permit on the board for this machine",
    "The permit that the shift leader holds",
    wrong=permit_wrong,
    marks=False,
)


def lock_off(point: str) -> ChooseOne:
    """Before a lock is taken out of the record."""
    rows = (Row("on", "it is on: leave the record as it is"), Row("off", "it is off: take it out of the record"))
    return ChooseOne(f"IS YOUR LOCK OFF {point}?", rows, digits=True)
