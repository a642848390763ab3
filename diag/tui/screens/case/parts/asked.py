"""What is selected and asked, and which key gives which answer. Plain data, worked out from the snapshots.

The next thing to do is selected until somebody walks over the panel (`PANEL`) or finds an indication by name (`FOUND`);
Escape goes back to it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from diag.case.snapshot import Action, Advice, CaseState
from diag.machine.model import Indication, Kind, Machine
from diag.tui.case_session import AnswerAccess
from diag.tui.looks.signs import flashes
from diag.tui.looks.wording import plain

NEXT, PANEL, FOUND = "NEXT", "PANEL", "FOUND"
DIGITS = 9
"""States that have a digit of their own; what is beyond is chosen from a list."""


def offers(advice: Advice | None) -> tuple[Action, ...]:
    """The next thing and its alternatives."""
    return (advice.next, *advice.others) if advice is not None and advice.next is not None else ()


@dataclass(frozen=True, slots=True)
class Selection:
    source: str = NEXT
    indication: str = ""
    """Which one, where it was selected on the panel or found by name."""
    chosen: int = 0
    """Which of the next thing and its alternatives is shown in full."""
    before: str = ""
    """The next answer was found before this case, by this person."""

    def to(self, indication: str, source: str) -> Selection:
        return replace(self, source=source, indication=indication)

    def other(self, advice: Advice | None, chosen: int | None = None) -> Selection:
        """The alternative of that number, or the one after the present."""
        count = len(offers(advice))
        if chosen is None:
            chosen = self.chosen + 1 if self.source == NEXT else 0
        return Selection(chosen=chosen % count if count else 0, before=self.before)

    def kept(self, before: Advice | None, after: Advice) -> Selection:
        """The same action under new advice, wherever it stands there; the next thing when it is offered no more."""
        was = [(a.kind, a.id) for a in offers(before)][self.chosen : self.chosen + 1]
        now = [(a.kind, a.id) for a in offers(after)]
        return replace(self, chosen=now.index(was[0]) if self.chosen and was and was[0] in now else 0)

    def answered(self, unseen: str) -> Selection:
        """After an answer: on the panel the next indication that nobody has looked at (`unseen`, empty when there is
        none), after a find the next thing again."""
        if self.source == PANEL and unseen:
            return replace(self, indication=unseen, before="")
        return replace(self, before="") if self.source == NEXT else Selection()

    def action(self, advice: Advice | None) -> Action | None:
        """What is shown in full, while it is selected."""
        offered = offers(advice)
        return offered[self.chosen] if self.source == NEXT and self.chosen < len(offered) else None


@dataclass(frozen=True, slots=True)
class Asked:
    """The indication that a key marks now."""

    indication: Indication
    source: str = NEXT
    """Where it was selected: `NEXT`, `PANEL` or `FOUND`, as the strip is headed."""
    check: str = ""
    state: str = ""
    """The state that it has now, which is marked among the others."""
    before: str = ""
    """The answer will be recorded as found before this case, by this person."""
    of: str = ""
    """`2/4` for a check that gives several."""
    closed: str = ""
    """Why no answer is taken as done now; empty when one is."""
    shut: bool = False
    """The place for the answer is closed as well: it is inside, and the lockout is not passed."""

    @property
    def open(self) -> bool:
        """An answer may be given: one of now, or one that was found before this case."""
        return not self.shut or bool(self.before)

    @property
    def typed(self) -> bool:
        """It is answered by typing."""
        return self.indication.kind in (Kind.READING, Kind.DISPLAY, Kind.HISTORY)

    @property
    def by_digit(self) -> tuple[str, ...]:
        """The states that the digits from 1 give, in order; none where the answer is typed."""
        return () if self.typed else self.indication.state_ids[:DIGITS]

    @property
    def listed(self) -> bool:
        """It has more states than digits, so that Enter opens them as a list."""
        return len(self.indication.states) > DIGITS

    @property
    def way(self) -> str:
        """The other way to read it off, in a word or two for the key `e`; empty when there is none."""
        match self.indication.kind:
            case Kind.LAMP if any(flashes(s.pattern) for s in self.indication.states):
                return "tap along"
            case Kind.DISPLAY:
                return "draw it"
            case Kind.CONTACT if self.indication.measured:
                return "measured"
            case Kind.READING:
                return "work it out" if self.indication.formula else "keypad"
        return ""

    def with_unit(self, words: str) -> str:
        """A bare number with the unit that it was asked in, so that the record says what was measured."""
        if self.indication.kind is not Kind.READING or words.strip(" +-.,0123456789"):
            return words
        return f"{words.strip()} {self.indication.unit}".strip()


def asked_now(
    selection: Selection,
    machine: Machine,
    state: CaseState,
    advice: Advice | None,
    access: Callable[[str], AnswerAccess],
    fresh: bool,
) -> Asked | None:
    """What is answered now; None when an act or nothing is selected. `access` tells how an indication would be answered
    now. With advice that is not `fresh`, a check with all its answers asks for nothing more: what comes next is not yet
    known."""
    if state.closed:
        return None
    if selection.source != NEXT:
        found = machine.indications.get(selection.indication)
        if found is None:
            return None
        how = access(found.id)
        now = state.current.get(found.id, "")
        return Asked(found, selection.source, how.check, now, selection.before, closed=how.closed, shut=how.shut)
    action = selection.action(advice)
    if action is None or action.kind not in ("look", "check"):
        return None
    gives = [id for id in action.gives if id in machine.indications]
    done = {*(f.indication for f in state.facts if f.round == state.round), *state.cannot_tell}
    left = [id for id in gives if id not in done] or (gives if fresh else [])
    if not left:
        return None
    id = left[0]
    return Asked(
        machine.indications[id],
        check=action.id if action.kind == "check" else "",
        state=state.current.get(id, ""),
        before=selection.before,
        of=f"{gives.index(id) + 1}/{len(gives)}" if len(gives) > 1 else "",
        closed="" if action.permission.now else action.permission.because,
        shut=not action.permission.how,
    )


def unseen_after(machine: Machine, state: CaseState, indication: str) -> str:
    """The next indication on the machine's face that nobody has looked at yet, from there on and round; empty when
    there is none."""
    order = on_the_face(machine)
    at = order.index(indication) + 1 if indication in order else 0
    seen = {*state.current, *state.cannot_tell, indication}
    return next((id for id in order[at:] + order[:at] if id not in seen), "")


def on_the_face(machine: Machine) -> tuple[str, ...]:
    """Every indication of the machine's face, from the top left."""
    return tuple(id for block in machine.face for row in block.rows for id in row if id in machine.indications)


def limits(indication: Indication) -> str:
    """The bands of a reading as the file gives them: `absent below 5, low 5 to 20.4 …`, for the help line."""
    return ", ".join(_band(plain(b.state), b.low, b.high) for b in indication.bands)


def _band(name: str, low: float | None, high: float | None) -> str:
    if low is None:
        return name if high is None else f"{name} below {high:g}"
    return f"{name} above {low:g}" if high is None else f"{name} {low:g} to {high:g}"
