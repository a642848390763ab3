"""The end of a case: cured and proved, running with its cause not found, or handed over."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final, Literal

from textual import events, on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Input

from diag.case.snapshot import Advice
from diag.machine.model import Role
from diag.text import one_line, percent
from diag.tui.case_session import TOO_QUICK
from diag.tui.key_table import HELP, HELP_F1, QUIT, Key, bindings
from diag.tui.looks.wording import plain
from diag.tui.questions import ChooseOne, Picked, Row
from diag.tui.screen_help import FINISH
from diag.tui.screens.over_case import OverCase
from diag.tui.widgets.banner import BannerBar
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text

if TYPE_CHECKING:
    from diag.tui.case_session import CaseSession

Outcome = Literal["cured", "running", "handed-over"]
CURED: Final = "cured"
HANDED: Final = "handed-over"
OUTCOMES: tuple[tuple[Outcome, str, str], ...] = (
    (CURED, "cured", "the cause is found, the remedy done, its proof seen"),
    ("running", "running", "it runs again; the cause was not found"),
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


class FinishScreen(OverCase):
    """Starts at the end that the facts allow, so that a proved case takes one key more."""

    HELP_DATA = FINISH
    TABLE = TABLE
    BINDINGS = bindings("finish", TABLE)

    def __init__(self, session: CaseSession, advice: Advice | None) -> None:
        super().__init__(session, id="finish")
        self._ranked = advice.causes if advice is not None else ()
        ending = session.case.ending()
        self._outcome: Outcome = CURED if self.state.remedy else ending.outcome
        # Two keys close a case for good, so they must not say what nobody saw; what is still to be seen of the proof
        # stands below.
        if self.state.locks or (self.state.called and ending.outcome != CURED):
            self._outcome = HANDED
        self._cause = ending.cause or self._likeliest()
        self._to = self.state.called[-1] if self.state.called and not self.state.locks else ""

    def _likeliest(self) -> str:
        causes = self.machine.causes_of.get(self.state.remedy, ())
        ranked = [c.id for c in self._ranked]
        return next((c for c in ranked if not causes or c in causes), ranked[0] if ranked else "")

    @property
    def under_keys(self) -> object:
        return self.state.locks, self.state.proof, self.state.remedy, self.state.danger

    # ------------------------------------------------------------ drawing

    def compose(self) -> ComposeResult:
        yield BannerBar(id="banner")
        yield Written(text("FINISH", ".loud"), classes="head")
        with VerticalScroll(id="finish-scroll", can_focus=False):
            yield Written(id="finish-form")
        yield Written(text("Note"), classes="ask")
        about = "what the next person should know; may stay empty"
        yield Input(placeholder=about, compact=True, id="finish-note", max_length=1000)
        yield Status(id="status")
        yield KeyBar(TABLE, id="keys")

    def on_mount(self) -> None:
        self.set_focus(None)
        self.paint()

    def paint(self) -> None:
        self.paint_banner()
        self.query_one("#finish-form", Written).write(lines(self._form()))
        self._show_keys()

    @property
    def _note(self) -> Input:
        return self.query_one("#finish-note", Input)

    def keys(self) -> Iterable[Key]:
        if self._note.has_focus:
            return TYPING
        wanted = {CURED: CAUSE, HANDED: TO}.get(self._outcome)
        return [k for k in TABLE if k is not QUIT and (k not in (CAUSE, TO) or k is wanted)]

    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def _show_keys(self) -> None:
        self.query_one(KeyBar).show(self.keys(), hold=self._note.has_focus)

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
            to = line(("o ", ".key"), ("To:      ", ".strong"), one_line(self._to) or "still to be said")
            rows.append(clickable(to, ("screen.to", ())))
        if state.locks:
            names = {p: one_line(self.machine.points[p].title) for p, _ in state.locks if p in self.machine.points}
            locks = ", ".join(f"{names.get(p, p)} ({one_line(who)})" for p, who in state.locks)
            rows.append(line(("▲ Locks on: ", ".warn"), locks))
        spent = max(int((self.session.clock() - state.opened).total_seconds() // 60), 0)
        rows.append(text(f"  Minutes: {spent}, since the case was opened", ".quiet"))
        return rows

    def _cured(self) -> list[Content]:
        state = self.state
        title, share = self._named()
        cause = line(("c ", ".key"), ("Cause:   ", ".strong"), title, (f"  {share.strip()}" if share else "", ".quiet"))
        rows = [clickable(cause, ("screen.cause", ()))]
        remedy = self.machine.remedies.get(state.remedy)
        done = one_line(remedy.do if remedy else state.remedy) or ("none was entered as done", ".warn")
        rows.append(line(("  Remedy:  ", ".strong"), done))
        for id, states, found in state.proof:
            indication = self.machine.indications.get(id)
            name = one_line(indication.title) if indication else id
            wanted = " or ".join(plain(s) for s in states)
            if found in states:
                rows.append(line(("  ✓ ", ".done"), f"{name}: {plain(found)}"))
            else:
                seen = f"found {plain(found)}, proof is {wanted}" if found else f"still to be seen: {wanted}"
                rows.append(line(("  ✕ " if found else "  ○ ", ".warn"), f"{name}: ", (seen, ".warn")))
        return rows

    def _named(self) -> tuple[str, str]:
        for cause in self._ranked:
            if cause.id == self._cause:
                return one_line(cause.title), percent(cause.probability)
        found = self.machine.causes.get(self._cause)
        return (one_line(found.title) if found else self._cause or "still to be said"), ""

    # ------------------------------------------------------------ actions

    def action_outcome(self, number: int) -> None:
        self.set_focus(None)
        self._outcome = OUTCOMES[number][0]
        self.paint()
        if self._outcome == HANDED:
            self.action_to()

    def action_cause(self) -> None:
        def take(picked: Picked) -> None:
            self._cause = picked.id
            self.paint()

        rows = tuple(Row(c.id, c.title, percent(c.probability)) for c in self._ranked)
        self.choose(ChooseOne("WHICH CAUSE WAS IT?", rows), take)

    def action_to(self) -> None:
        def take(picked: Picked) -> None:
            self._to = picked.words
            self.paint()

        here, calls = self.state.person.name, self.machine.call
        rows = [Row(name, name, p.role.value) for name, p in self.session.people.items() if name != here]
        rows += [Row(role.value, role.value, calls.get(role, "")) for role in reversed(Role)]
        self.choose(ChooseOne("WHO TAKES OVER?", tuple(rows), digits=True, free="a digit, or type a name"), take)

    def action_note(self) -> None:
        self._note.focus()

    @on(Input.Submitted, "#finish-note")
    def action_keep_note(self) -> None:
        self.unhurried()
        self.set_focus(None)

    def action_close(self) -> None:
        from diag.case.log.events import Closed

        if self.aimed_before():
            return
        note = self._note.value
        cause, to = self._cause if self._outcome == CURED else "", self._to if self._outcome == HANDED else ""
        if not self.unhurried():
            self.query_one(Status).hint(TOO_QUICK)
        elif self._outcome == HANDED and not self._to:
            self.action_to()
        else:
            entry = self.session.post(Closed(outcome=self._outcome, cause=cause, to=to, note=note))
            self.entered(entry, "Closed.", lambda: self.dismiss(None))

    def action_back(self) -> None:
        """From the note to the rest of the form; from there to the case."""
        if self._note.has_focus:
            self.set_focus(None)
        else:
            self.dismiss(None)
