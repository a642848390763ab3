"""What the gate screen says beside its list: the cautions, the step that Enter confirms, or why there is none."""

from __future__ import annotations

from textual.content import Content

from diag.case.snapshot import State
from diag.machine.model import Machine, Role
from diag.safety import Act, Lockout, Person, Phase, Step
from diag.safety.cautions import (
    AT_THE_GATE,
    CONTROLS,
    OWN_LOCK,
    PROVE,
    RESET,
    SITE_FIRST,
    STAYS_LIVE,
    STORED,
    WORD_ONLY,
)
from diag.tui.widgets.stopbox import reach
from diag.tui.widgets.written import line, lines, text
from diag.tui.words import clean, minutes

LIVE_REASONS = (
    "The voltage itself has to be measured",
    "The fault shows only with the power on",
    "Switching off would add a greater hazard",
    "The device must run while it is watched",
)
"""Why live work cannot be done dead; any other reason is typed."""
PERMITS = ("The permit on the board for this machine", "The permit that the shift leader holds")
DECISIONS = (
    "Found and put right; the duty engineer decided",
    "The meter was at fault; another one is used, the duty engineer decided",
)
"""Words that come up often, so that they need no typing."""

FOR_STEP = {
    Act.TOLD: (SITE_FIRST, WORD_ONLY),
    Act.SHUT_DOWN: (CONTROLS,),
    Act.OFF_AND_LOCKED: (OWN_LOCK, STAYS_LIVE),
    Act.RELEASED: (STORED,),
    Act.START_TRIED: (CONTROLS,),
    Act.OPENED: (STAYS_LIVE,),
    Act.METER_PROVED: (PROVE,),
    Act.TESTED_DEAD: (PROVE, STAYS_LIVE),
    Act.LOCKS_OFF: (OWN_LOCK,),
    Act.POWER_ON: (RESET,),
}
"""Which cautions go first at which step."""


def cautions(machine: Machine, due: Act | None) -> Content:
    """All cautions, those for the step that is due first."""
    first = [c.text for c in FOR_STEP.get(due, ())] if due is not None else []
    rest = [c.text for c in AT_THE_GATE if c.text not in first]
    own = [*machine.hazards, *(f"Still moves: {n}" for n in machine.neighbours)]
    rows = [line(("▲ ", ".warn"), (words, ".strong")) for words in first]
    return lines(rows + [line(("▲ ", ".warn"), clean(words)) for words in (*own, *rest)])


def step_due(step: Step, person: Person, rest: str) -> Content:
    """The step that Enter confirms, in full. `rest`: what is left of its label's wait, empty when that is over."""
    rows = [line(("↵ ", ".key"), (clean(step.text), ".strong"))]
    if step.wait:
        words = f"{rest} of them are left." if rest else "They are over; the meter says whether it is enough."
        rows.append(line(("▲ ", ".warn"), f"The label says to wait {minutes(step.wait)}. {words}"))
    lacks = (step.needs == "authorised" and not person.authorised) or (
        step.needs == "qualified" and not person.qualified
    )
    if lacks:
        words = f"For a person who is {step.needs}. "
        rows.append(line(("✕ ", ".warn"), words, ("p", ".key"), " changes the person, or what you may do."))
    return lines(rows)


def way_ended(lockout: Lockout) -> Content:
    """The way back is done; this is the lockout that went it."""
    words = "Power is back on for the test. " if lockout.again else "The power is back on. "
    return line(("✓ ", ".done"), (words, ".strong"), ("↵", ".key"), " back to the case.")


def nothing_due(machine: Machine, state: State, lockout: Lockout) -> Content:
    """Why no step may be confirmed."""
    if lockout.phase is Phase.DEAD:
        return line(("✓ ", ".done"), ("Dead for you. ", ".strong"), ("↵", ".key"), " back to the case and the work.")
    if lockout.phase is Phase.STOP:
        call = reach(Role.ENGINEER.value, machine.call)
        return line(("✖ ", ".warn"), ("Stopped. Keep out and call: ", ".strong"), clean(call))
    if state.person.role is Role.OPERATOR:
        words = "An operator does not lock out and does not go inside. Call an electrician or an engineer."
        return text(words, ".strong")
    return text("Nothing can be confirmed here now.", ".quiet")
