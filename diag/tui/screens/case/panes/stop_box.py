"""A danger sign goes before everything, across the whole width."""

from __future__ import annotations

from diag.case.phrases import answered
from diag.safety.types import same_name
from diag.text import one_line
from diag.tui.looks.wording import plain, reach
from diag.tui.screens.case.panes.pane import Pane
from diag.tui.screens.case.parts.case_model import CaseView
from diag.tui.widgets.written import clickable, line, lines, text


class StopBox(Pane):
    """Shown while a danger sign stands; says what to do, whom to call, and nothing else."""

    def show(self, view: CaseView) -> None:
        state = view.state
        self.display = bool(state.danger)
        if not state.danger:
            return
        call = one_line(reach(state.danger_call, view.machine.call))
        rows = [text("▲ STOP", ".loud"), text(one_line(state.danger), ".strong")]
        if (raised := state.danger_raised) is not None:
            where = "" if raised.case == state.id else f", case {one_line(raised.case)}"
            what = answered(one_line(raised.title), plain(raised.state))
            when = raised.at.astimezone().strftime("%H:%M")
            rows.append(text(f"Because: {what}. {one_line(raised.by)}, {when}{where}."))
        points = view.machine.points
        own = [points[p].title for p, who in state.locks if p in points and same_name(who, state.person.name)]
        if own:
            rows.append(text(f"Your locks stay on: {one_line(', '.join(own))}.", ".strong"))
        if state.danger_call in state.called:
            rows.append(text(f"✓ Called: {call}."))
        else:
            rows.append(clickable(line(("c", ".key"), f" record the call to: {call}"), ("screen.call", ())))
        over = line(("o", ".key"), " record how it was made safe, by an electrician or an engineer")
        rows.append(clickable(over, ("screen.made_safe", ())))
        rows.append(text("No check, remedy or reset is offered. Entered by mistake: u takes it back.", ".quiet"))
        self.write(lines(rows))
