"""The end of a case: cured and proved, running with its cause not found, or handed over."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual import events, on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Input

from diag.case.snapshot import Advice, State
from diag.machine.model import Role
from diag.tui.helps import FINISH
from diag.tui.keys import HELP, HELP_F1, QUIT, Key, bindings
from diag.tui.screens.base import Room
from diag.tui.screens.choose import Choose, Picked
from diag.tui.widgets.banner import BannerBar
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import Row
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text
from diag.tui.words import clean, percent, plain

if TYPE_CHECKING:
    from diag.case.events import Closed
    from diag.tui.session import Sitting

CURED, RUNNING, HANDED = "cured", "running", "handed-over"
OUTCOMES = (
    (CURED, "cured", "the cause is found, the remedy done, its proof seen"),
    (RUNNING, "running", "it runs again; the cause was not found"),
    (HANDED, "handed over", "somebody else goes on with it"),
)

ONE = Key("outcome(0)", "1", "1", "cured", "Cured: the remedy is done and its proof was seen.")
TWO = Key("outcome(1)", "2", "2", "running", "It runs, and the cause was not found.")
THREE = Key("outcome(2)", "3", "3", "handed over", "Somebody else goes on; say who.")
CAUSE = Key("cause", "c", "c", "cause", "Which cause it was, where the likeliest is not the one.")
TO = Key("to", "o", "o", "to whom", "Who takes over.")
NOTE = Key("note", "w", "w", "note", "A note for the record.")
CLOSE = Key("close", "enter,f", "↵ f", "close the case", "Close the case as it stands here.")
BACK = Key("back", "escape", "esc", "case", "Back to the case; it stays open.")
KEEP = Key("keep_note", "enter", "↵", "keep the note", "The note stands; on with the rest.")
BACK_UP = Key("back", "escape", "esc", "leave the line", "The note stays as it is.")
TYPING = (KEEP, BACK_UP, HELP_F1)
"""While the note is typed every other key is text."""
TABLE = (ONE, TWO, THREE, CAUSE, TO, NOTE, CLOSE, BACK, HELP, QUIT)


class FinishScreen(Room):
    """Starts at the end that the facts allow, so that a proved case takes one key more."""

    HELP_DATA = FINISH
    TABLE = TABLE
    BINDINGS = bindings("finish", TABLE)

    def __init__(self, sitting: Sitting, advice: Advice | None) -> None:
        super().__init__(id="finish")
        self.sitting = sitting
        self.machine = sitting.case.machine
        self._advice = advice
        ending = sitting.case.ending()
        self._outcome = self._likely(ending.outcome)
        self._cause = ending.cause or self._likeliest()
        self._to = self.state.called[-1] if self.state.called and not self.state.locks else ""

    @property
    def state(self) -> State:
        return self.sitting.case.state

    def _likely(self, allowed: str) -> str:
        """The end that is marked first: two keys close a case for good, so they must not say what nobody saw."""
        state = self.state
        if state.locks or (state.called and allowed != CURED):
            return HANDED
        return CURED if state.remedy else allowed  # what is still to be seen of the proof then stands below

    def _likeliest(self) -> str:
        state = self.state
        causes = self.machine.causes_of.get(state.remedy, ()) if state.remedy else ()
        ranked = [c.id for c in self._advice.causes] if self._advice else []
        return next((c for c in ranked if not causes or c in causes), ranked[0] if ranked else "")

    # ------------------------------------------------------------ drawing

    def compose(self) -> ComposeResult:
        yield BannerBar(id="banner")
        yield Written(text("FINISH", ".loud"), classes="head")
        with VerticalScroll(id="finish-scroll", can_focus=False):
            yield Written(id="finish-form")
        yield Written(text("Note"), classes="ask")
        yield Input(
            placeholder="what the next person should know; may stay empty",
            compact=True,
            id="finish-note",
            max_length=1000,
        )
        yield Status(id="status")
        yield KeyBar(TABLE, id="keys")

    def on_mount(self) -> None:
        self.set_focus(None)
        self.show()

    def on_screen_resume(self) -> None:
        if self.query("#banner"):
            self.show()

    def show(self) -> None:
        state = self.state
        place = f"{clean(self.machine.title)} · case {state.id}"
        self.query_one(BannerBar).show(state.banner, state.person, place, badges=self.machine.standing.badges)
        self.query_one("#finish-form", Written).write(lines(self._form()))
        self._show_keys()

    def keys(self) -> Iterable[Key]:
        if self.query_one("#finish-note", Input).has_focus:
            return TYPING
        wanted = {CURED: CAUSE, HANDED: TO}.get(self._outcome)
        return [k for k in TABLE if k is not QUIT and (k not in (CAUSE, TO) or k is wanted)]

    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def other_focus(self) -> None:
        self._show_keys()

    def _show_keys(self) -> None:
        self.query_one(KeyBar).show(self.keys(), hold=self.query_one("#finish-note", Input).has_focus)

    def _form(self) -> list[Content]:
        state = self.state
        rows = []
        for n, (outcome, name, about) in enumerate(OUTCOMES):
            chosen = outcome == self._outcome
            mark = line((f"{n + 1} ", ".key"), ("●" if chosen else "○", ".key" if chosen else ".quiet"), " ")
            row = line(mark, (name, CURSOR if chosen else ".strong"), " " * (13 - len(name)), (about, ".quiet"))
            rows.append(clickable(row, ("screen.outcome", (n,))))
        rows.append(Content(""))
        if self._outcome == CURED:
            rows += self._cured()
        elif self._outcome == HANDED:
            to = line(("o ", ".key"), ("To:      ", ".strong"), clean(self._to) or "still to be said")
            rows.append(clickable(to, ("screen.to", ())))
        if state.locks:
            names = {p: clean(self.machine.points[p].title) for p, _ in state.locks if p in self.machine.points}
            locks = ", ".join(f"{names.get(p, p)} ({clean(who)})" for p, who in state.locks)
            rows.append(line(("▲ Locks on: ", ".warn"), locks))
        spent = max(int((self.sitting.clock() - state.opened).total_seconds() // 60), 0)
        rows.append(text(f"  Minutes: {spent}, since the case was opened", ".quiet"))
        return rows

    def _cured(self) -> list[Content]:
        state = self.state
        title, share = self._named()
        cause = line(("c ", ".key"), ("Cause:   ", ".strong"), title, (f"  {share.strip()}" if share else "", ".quiet"))
        rows = [clickable(cause, ("screen.cause", ()))]
        if state.remedy:
            remedy = self.machine.remedies.get(state.remedy)
            rows.append(line(("  Remedy:  ", ".strong"), clean(remedy.do if remedy else state.remedy)))
        else:
            rows.append(line(("  Remedy:  ", ".strong"), ("none was entered as done", ".warn")))
        for id, states, found in state.proof:
            indication = self.machine.indications.get(id)
            name = clean(indication.title) if indication else id
            wanted = " or ".join(plain(s) for s in states)
            if found in states:
                rows.append(line(("  ✓ ", ".done"), f"{name}: {plain(found)}"))
            else:
                seen = f"found {plain(found)}, proof is {wanted}" if found else f"still to be seen: {wanted}"
                rows.append(line(("  ✕ " if found else "  ○ ", ".warn"), f"{name}: ", (seen, ".warn")))
        return rows

    def _named(self) -> tuple[str, str]:
        for cause in self._advice.causes if self._advice else ():
            if cause.id == self._cause:
                return clean(cause.title), percent(cause.probability)
        found = self.machine.causes.get(self._cause)
        return (clean(found.title) if found else self._cause or "still to be said"), ""

    # ------------------------------------------------------------ actions

    def action_outcome(self, number: int | str) -> None:
        self.set_focus(None)
        self._outcome = OUTCOMES[int(number)][0]
        self.show()
        if self._outcome == HANDED:
            self.action_to()

    def action_cause(self) -> None:
        rows = tuple(
            Row(c.id, c.title, percent(c.probability).strip()) for c in (self._advice.causes if self._advice else ())
        )

        def take(picked: Picked | None) -> None:
            if picked is not None and picked.id:
                self._cause = picked.id
                self.show()

        self.app.push_screen(Choose("WHICH CAUSE WAS IT?", rows), take)

    def action_to(self) -> None:
        here = self.state.person.name
        rows = tuple(Row(name, name, p.role.value) for name, p in self.sitting.people.items() if name != here)
        calls = self.machine.call
        rows += tuple(Row(role.value, role.value, calls.get(role, "")) for role in reversed(Role))

        def take(picked: Picked | None) -> None:
            if picked is not None:
                self._to = picked.typed or picked.id
                self.show()

        self.app.push_screen(Choose("WHO TAKES OVER?", rows, digits=True, free="a digit, or type a name"), take)

    def action_note(self) -> None:
        self.query_one("#finish-note", Input).focus()

    @on(Input.Submitted, "#finish-note")
    def action_keep_note(self) -> None:
        self.set_focus(None)

    def _event(self) -> Closed:
        from diag.case.events import Closed

        note = self.query_one("#finish-note", Input).value
        if self._outcome == CURED:
            return Closed(outcome="cured", cause=self._cause, note=note)
        if self._outcome == HANDED:
            return Closed(outcome="handed-over", to=self._to, note=note)
        return Closed(outcome="running", note=note)

    def action_close(self) -> None:
        if self._outcome == HANDED and not self._to:
            self.action_to()
            return
        wrong = self.sitting.attempt(lambda: self.sitting.case.post(self._event()))
        if wrong:
            self.query_one(Status).warn(wrong)
        else:
            self.dismiss(None)

    def action_back(self) -> None:
        """From the note to the rest of the form; from there to the case."""
        if self.query_one("#finish-note", Input).has_focus:
            self.set_focus(None)
        else:
            self.dismiss(None)
