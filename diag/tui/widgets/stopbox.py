"""The stop box: a danger sign goes before everything, across the whole width."""

from __future__ import annotations

from collections.abc import Mapping

from diag.case.snapshot import State
from diag.machine.model import Machine, Role
from diag.tui.widgets.written import Written, clickable, line, lines, text
from diag.tui.words import clean


class StopBox(Written):
    """Shown while a danger sign stands; says what to do, whom to call, and nothing else."""

    def show(self, machine: Machine, state: State, signs: str = "") -> None:
        """`signs`: the facts that say so."""
        self.display = bool(state.danger)
        if not state.danger:
            return
        call = reach(state.danger_call, machine.call)
        rows = [text("▲ STOP", ".loud"), text(clean(state.danger), ".strong")]
        if signs:
            rows.append(text(f"Because: {clean(signs)}."))
        if state.danger_call in state.called:
            rows.append(text(f"✓ Called: {clean(call)}."))
        else:
            rows.append(clickable(line(("c", ".key"), f" record the call to: {clean(call)}"), ("screen.call", ())))
        rows.append(text("No check, remedy or reset is offered. Entered by mistake: u takes it back.", ".quiet"))
        self.write(lines(rows))


def reach(role: str, call: Mapping[Role, str]) -> str:
    """A role and how to reach it, from the machine file."""
    try:
        found = call.get(Role(role), "")
    except ValueError:
        return role
    return f"{role}, {found}" if found else role
