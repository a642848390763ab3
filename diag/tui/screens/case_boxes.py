"""What the case screen asks in a box of its own: find, before, reset, call, note, person, set aside, in full."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from diag.case.snapshot import Advice, State
from diag.machine.model import Machine, Role
from diag.safety import Phase
from diag.tui import turn as turns
from diag.tui.screens.ask import Answers, Ask, Line
from diag.tui.screens.choose import Choose, Picked
from diag.tui.turn import Turn
from diag.tui.widgets.answer import Target, limits
from diag.tui.widgets.causes import Causes
from diag.tui.widgets.next import offers
from diag.tui.widgets.picklist import Row
from diag.tui.widgets.stopbox import reach
from diag.tui.words import clean, cut, plain

if TYPE_CHECKING:
    from typing import Any

    from textual.app import App

    from diag.tui.session import Sitting


class CaseBoxes:
    """The half of the case screen that opens boxes. It leans on what `CaseScreen` defines."""

    if TYPE_CHECKING:
        sitting: Sitting
        machine: Machine
        advice: Advice | None
        turn: Turn
        app: App[object]
        query_one: Any

        @property
        def state(self) -> State: ...
        def enter(self, do: Callable[[], object], said: str) -> bool: ...
        def answer(self, words: str) -> bool: ...
        def hint(self, words: str) -> None: ...
        def warn(self, words: str) -> None: ...
        def say(self, words: str) -> None: ...
        def show(self) -> None: ...
        def action_type(self) -> None: ...
        def _show_turn(self) -> None: ...
        def _target(self) -> Target | None: ...

    def action_skip(self) -> None:
        from diag.case.events import Skipped

        action = self.turn.action(self.advice)
        if action is None:
            return

        def take(picked: Picked | None) -> None:
            if picked is not None:
                why = picked.typed or picked.id
                self.enter(
                    lambda: self.sitting.case.post(Skipped(action=action.id, why=why)), f"Set aside: {action.title}"
                )

        reasons = ("no tool", "no part", "no time", "cannot be reached", "not safe here and now")
        rows = tuple(Row(r, r) for r in reasons)
        self.app.push_screen(
            Choose("SET ASIDE · why?", rows, digits=True, free="a digit, or type another reason"), take
        )

    # ------------------------------------------------------------ finding

    def action_find(self) -> None:
        def take(picked: Picked | None) -> None:
            if picked is not None and picked.id:
                self.turn = self.turn.to(picked.id, turns.FOUND)
                self._show_turn()

        self.app.push_screen(Choose("FIND · anything to see, read, measure or ask", self._findable()), take)

    def _findable(self) -> tuple[Row, ...]:
        standing = self.state.standing
        rows = []
        for i in self.machine.indications.values():
            state = standing.get(i.id, "")
            label = f"{i.label} · " if i.label and i.label not in i.title else ""
            rows.append(
                Row(
                    i.id,
                    f"{label}{i.title}",
                    f"now {plain(state)}" if state else i.where,
                    also=f"{plain(i.id)} {i.unit}",
                )
            )
        return tuple(rows)

    def action_list_states(self) -> None:
        target = self._target()
        if target is None or not target.open:
            return
        indication = target.indication
        means = {c.state: c.means for c in indication.codes}
        codes = {s: ", ".join(c.pattern for c in indication.codes if c.state == s) for s in indication.state_ids}
        rows = tuple(
            Row(
                s.id,
                f"{codes[s.id]}  {plain(s.id)}".strip() if codes[s.id].strip() else plain(s.id),
                s.means or means.get(s.id, ""),
            )
            for s in indication.states
        )

        def take(picked: Picked | None) -> None:
            if picked is not None and picked.id:
                self.answer(picked.id)

        self.app.push_screen(Choose(cut(clean(indication.title), 60), rows), take)

    # ------------------------------------------------------------ before, person

    def action_before(self) -> None:
        """The next answer was found before this case."""
        if self.turn.before:
            self.turn = Turn(self.turn.source, self.turn.indication, self.turn.chosen)
            self._show_turn()
            self.hint("The next answer is one of this case again.")
            return

        def take(picked: Picked | None) -> None:
            if picked is not None:
                name = picked.typed or picked.id
                self.turn = Turn(self.turn.source, self.turn.indication, self.turn.chosen, name)
                self._show_turn()
                self.hint(f"The next answer was found before this case, by {name}. b again takes that back.")

        rows = tuple(Row(name, name, person.role.value) for name, person in self.sitting.people.items())
        free = "a digit, or type a name"
        self.app.push_screen(Choose("FOUND BEFORE THIS CASE · by whom?", rows, digits=True, free=free), take)

    def action_person(self) -> None:
        """Somebody else takes the keys, without typing when they were here before."""
        from diag.tui.screens.who import hand_over

        hand_over(self.app, self.sitting, self._took_over)

    def _took_over(self, said: str, wrong: str) -> None:
        self.show()
        if wrong:
            self.warn(wrong)
        else:
            self.say(said)

    # ------------------------------------------------------------ resets, calls, notes, sheets

    def action_reset(self) -> None:
        counts = {r.id: r for r in self.state.resets}
        rows = []
        for reset in self.machine.resets.values():
            count = counts.get(reset.id)
            beside = f"done {count.done}; {count.because}" if count is not None else ""
            rows.append(Row(reset.id, reset.title, beside))
        if not rows:
            self.hint("The machine file names no reset.")
        elif len(rows) == 1:
            self._reset(rows[0].id)
        else:

            def take(picked: Picked | None) -> None:
                if picked is not None and picked.id:
                    self._reset(picked.id)

            self.app.push_screen(Choose("RESET · which one?", tuple(rows), digits=True), take)

    def _reset(self, id: str) -> None:
        from diag.tui.screens.reset import ResetBox

        count = next((r for r in self.state.resets if r.id == id), None)
        standing = self.state.standing
        missing = [i for i in self.machine.resets[id].note_first if i not in standing]

        def take(done: bool | None) -> None:
            from diag.case.events import ResetDone

            if done:
                post = self.sitting.case.post
                self.enter(lambda: post(ResetDone(reset=id)), "Reset done. Now: what came of it?")

        action = self.sitting.case.action(id)
        self.app.push_screen(ResetBox(self.machine, self.machine.resets[id], count, action, missing), take)

    def action_call(self) -> None:
        rows = tuple(Row(role.value, role.value, self.machine.call.get(role, "")) for role in self._whom())

        def take(picked: Picked | None) -> None:
            if picked is not None and picked.id:
                self._called(picked.id)

        self.app.push_screen(Choose("CALL · whom did you call?", rows, digits=True), take)

    def _whom(self) -> list[Role]:
        """Whom to call, the one that the advice names first; nobody calls their own role while there is another."""
        named = next((action.id for action in offers(self.advice) if action.kind == "call"), "")
        here = self.state.person.role
        others = [role for role in (Role.ENGINEER, Role.ELECTRICIAN, Role.OPERATOR) if role is not here]
        return sorted(others, key=lambda role: role.value != named)

    def _called(self, role: str) -> None:
        from diag.case.events import Called

        if role not in set(Role):
            self.action_call()
            return
        call = reach(role, self.machine.call)
        self.enter(lambda: self.sitting.case.post(Called(role=Role(role))), f"Called: {call}")

    def action_note(self) -> None:
        from diag.case.events import Noted

        def take(answers: Answers | None) -> None:
            if answers is not None:
                self.enter(lambda: self.sitting.case.post(Noted(text=answers[0])), f"Noted: {cut(answers[0], 50)}")

        self.app.push_screen(Ask("NOTE", "What the next person should know.", (Line("Note"),)), take)

    def action_sheet(self) -> None:
        from diag.tui.paper import CannotWrite, write

        try:
            paths = write(self.sitting.case)
        except CannotWrite as error:
            self.warn(str(error))
        else:
            self.say(f"Written: {paths[0]} and {paths[1].name}")

    def action_info(self) -> None:
        from diag.tui.screens.about import About

        target, action = self._target(), self.turn.action(self.advice)
        if action is not None:
            self.app.push_screen(About(action, self.state.disagreements, self.advice.odd if self.advice else ""))
        elif target is not None:
            indication = target.indication
            words = [f"Where: {indication.where}." if indication.where else ""]
            if indication.bands:
                words.append(f"{limits(indication)} {indication.unit}.")
            words.append(f"Source: {indication.source}." if indication.source else "")
            self.hint(" ".join(w for w in words if w) or "Nothing more is known about it.")

    # ------------------------------------------------------------ other screens

    def action_gate(self, zone: str = "", live: bool = False) -> None:
        from diag.tui.screens.gate import GateScreen

        if not self.machine.zones:
            self.hint("The machine file names no zone, so nothing of it may be opened.")
            return
        action = self.turn.action(self.advice)
        if not zone and action is not None:
            zone, live = action.zone, action.permission.way == "live"
        elif not zone and self.turn.indication:
            how = self.sitting.may(self.turn.indication)
            zone, live = how.zone, how.way == "live"
        self.hint("")  # what was refused before is no word on what comes back from there
        self.app.push_screen(GateScreen(self.sitting, zone or self._zone_in_mind(), live))

    def _zone_in_mind(self) -> str:
        """Where what is marked names no zone: the one that is in hand; else that of the remedy of the cause that is
        marked, or of the first alternative that names one. Empty where nothing does."""
        if any(lockout.phase is not Phase.NONE for lockout in self.sitting.case.folded.site.lockouts):
            return ""
        cause = self.machine.causes.get(self.query_one(Causes).chosen)
        wanted = [cause.remedy.zone] if cause is not None and cause.remedy is not None else []
        return next(filter(None, (*wanted, *(action.zone for action in offers(self.advice)))), "")

    def action_finish(self) -> None:
        from diag.tui.screens.finish import FinishScreen

        if self.state.closed:
            self.hint("This case is closed.")
            return
        self.app.push_screen(FinishScreen(self.sitting, self.advice))

    def action_machines(self) -> None:
        self.app.pop_screen()
