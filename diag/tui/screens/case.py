"""The case screen: the panel, the next thing to do, the likely causes and the facts, and one strip to answer in.

It is fed two frozen snapshots, a `State` at once and an `Advice` a moment later, and turns keys and clicks into events.
Everything that a key does is a named action in `case_keys`; how advice comes stands in `case_advice`, how answers are
given in `case_answers`, what a character begins in `case_typing`, what Enter does in `case_does`, how things are read
off in `case_reads`, and what opens a box of its own in `case_boxes`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Input

from diag.case.snapshot import Advice, Fact, State
from diag.case.words import answered
from diag.tui import turn as turns
from diag.tui.helps import CASE
from diag.tui.keys import Key, bindings
from diag.tui.screens import case_keys as keys
from diag.tui.screens.base import Room
from diag.tui.screens.case_advice import CaseAdvice
from diag.tui.screens.case_answers import CaseAnswers
from diag.tui.screens.case_boxes import CaseBoxes
from diag.tui.screens.case_does import CaseDoes
from diag.tui.screens.case_reads import CaseReads
from diag.tui.screens.case_typing import CaseTyping
from diag.tui.turn import Turn
from diag.tui.waiting import waiting
from diag.tui.widgets.answer import Answer, Target, Typed, with_unit
from diag.tui.widgets.banner import BannerBar, wait
from diag.tui.widgets.causes import Causes, Evidence
from diag.tui.widgets.facts import Facts
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.next import NextPane, offers
from diag.tui.widgets.panel import Panel
from diag.tui.widgets.status import Status
from diag.tui.widgets.stopbox import StopBox
from diag.tui.words import clean, plain

if TYPE_CHECKING:
    from diag.tui.session import Sitting

PAGES = ("causes", "why", "facts")
"""What the lower right shows in turn where there is no room for all."""

DIGIT_KEYS = [Binding(str(n), f"digit({n})", show=False) for n in range(10)]


class CaseScreen(CaseAdvice, CaseAnswers, CaseBoxes, CaseDoes, CaseReads, CaseTyping, Room):
    """One open case."""

    HELP_DATA = CASE
    TABLE = keys.TABLE
    BINDINGS: ClassVar[list[BindingType]] = [*bindings("case", keys.TABLE), *DIGIT_KEYS]

    def __init__(self, sitting: Sitting) -> None:
        super().__init__()
        self.sitting = sitting
        self.machine = sitting.case.machine
        self.advice: Advice | None = None
        self.turn = Turn()
        self._page = 0
        self._asked = ""
        """The odd reading that was asked about, to be taken when it is sent again."""
        self._fresh = False
        """The advice is that of the present state."""

    @property
    def state(self) -> State:
        return self.sitting.case.state

    def left_behind(self) -> str:
        return self.sitting.left_behind()

    def compose(self) -> ComposeResult:
        yield BannerBar(id="banner")
        yield StopBox(id="stop")
        with Horizontal(id="body"):
            with VerticalScroll(id="panel-side", can_focus=False):
                yield Panel(self.machine, self.sitting.seconds, id="panel")
            with Vertical(id="right"):
                with Vertical(id="near"):
                    yield NextPane(id="next")
                    yield Facts(id="facts")
                with Vertical(id="far"):
                    yield Causes(id="causes")
                    yield Evidence(id="evidence")
        yield Answer(id="answer")
        yield Status(id="status")
        yield KeyBar(id="keys")

    def on_mount(self) -> None:
        self.query_one(Panel).focus()
        self._turn_to(0)
        self.set_interval(1.0, self._countdown)
        self.show()
        if self.state.problems:
            self.warn(f"{len(self.state.problems)} entries of the record could not be read: {self.state.problems[0]}")
        elif self.machine.revision != self.state.revision:
            now, then = clean(self.machine.revision), clean(self.state.revision)
            self.warn(f"The machine file has changed since this case began: {now} now, {then} then.")
        elif self.machine.standing.changed:
            self.warn(self.machine.standing.warning)
        else:
            self.hint("? help. Mark what the machine shows; nothing needs an order.")

    def on_screen_resume(self) -> None:
        if self.is_mounted and self.query("#banner"):
            self.show()

    # ------------------------------------------------------------ showing

    def show(self) -> None:
        """Paint the state at once; weigh the facts; paint the advice."""
        self._show_state()
        self._weigh()

    def _show_state(self) -> None:
        state = self.state
        self._show_banner()
        signs = "; ".join(answered(clean(f.title), plain(f.state)) for f in state.facts if self._is_danger(f))
        self.query_one(StopBox).show(self.machine, state, signs)
        self.set_class(bool(state.danger), "-danger")
        said = {f.indication: f.said for f in state.facts}
        self.query_one(Panel).show(state.standing, said, frozenset(state.cannot_tell) - frozenset(state.standing))
        self.query_one(Facts).show(state.facts, state.round)
        self._head_pages()
        self._show_turn()

    def _is_danger(self, fact: Fact) -> bool:
        """It is the latest word on what a danger sign shows."""
        id, state = fact.indication, fact.state
        shows = any(i == id and state in states for d in self.machine.dangers for i, states in d.when)
        return shows and self.state.standing.get(id) == state

    def _show_banner(self) -> None:
        state = self.state
        more = ""
        if state.countdown is not None:
            more = wait(self.machine, state, self.sitting.clock())
        elif state.resets and not state.closed and sum(r.done for r in state.resets) >= state.resets[0].limit > 0:
            more = "No reset is left: call."
        place = f"{clean(self.machine.title)} · case {state.id}"
        self.query_one(BannerBar).show(state.banner, state.person, place, more, self.machine.standing.badges)

    def _countdown(self) -> None:
        if self.is_current and self.state.countdown is not None:
            self._show_banner()

    def _show_evidence(self) -> None:
        causes = self.query_one(Causes)
        if causes.chosen:
            weights = self.sitting.evidence(causes.chosen)
            overturn = self.sitting.overturn(causes.chosen)
            self.query_one(Evidence).show(causes.chosen_title, weights, self.state.facts, overturn)

    def _show_turn(self) -> None:
        """The next thing, the strip, the panel's cursor and the footer, after the turn or the snapshots changed."""
        state, answer = self.state, self.query_one(Answer)
        self.query_one(NextPane).show(state, self.advice, self.turn.chosen)
        target = self._target()
        if target is not None:
            answer.show(target)
            self.query_one(Panel).point(target.indication.id)
        elif self._fresh or state.closed or state.danger or self.advice is None:
            # While the facts are weighed the strip stays as it is; it will change in a moment, and once is enough.
            head, parts = waiting(state, self.turn.action(self.advice), self._fresh)
            answer.ask(head, *parts)
            self.query_one(Panel).point("")
        self.set_class(self.turn.source != turns.NEXT, "-away")
        self._show_keys()

    def _target(self) -> Target | None:
        return turns.target(self.turn, self.machine, self.state, self.advice, self.sitting.may, self._fresh)

    # ------------------------------------------------------------ the line of status

    def say(self, words: str) -> None:
        self.query_one(Status).say(words)

    def warn(self, words: str) -> None:
        self.query_one(Status).warn(words)

    def hint(self, words: str) -> None:
        self.query_one(Status).hint(words)

    def keys(self) -> Iterable[Key]:
        """The keys that do something now; while a line is typed in all others are text."""
        if self.query_one(Answer).typed.has_focus:
            return keys.TYPING
        return keys.shown(
            self.machine, self.state, self.turn, self._target(), offers(self.advice), self.has_class("-narrow")
        )

    # ------------------------------------------------------------ entering

    def enter(self, do: Callable[[], object], said: str) -> bool:
        """Post something; paint what came of it. False, with the reason in the status line, when it was refused."""
        before = self.state
        wrong = self.sitting.attempt(do)
        if wrong:
            if self.state is not before:
                # Somebody else entered something in another terminal, and the case has taken it in.
                self.show()
            self.warn(wrong)
            return False
        self.show()
        self.say(said)
        return True

    @on(Input.Submitted, "#answer-typed")
    def typed_it(self, event: Input.Submitted) -> None:
        target = self._target()
        if not event.value.strip():
            if target is not None:
                self._formula(target)
            return
        question = self._doubt(target, event.value) if target is not None else ""
        if question and self._asked != event.value:
            self._asked = event.value
            self.warn(f"{question} Enter again takes it as it is.")
        else:
            self._asked = ""
            self.answer(with_unit(target, event.value))

    async def action_send(self) -> None:
        await self.query_one(Answer).typed.action_submit()

    @on(Typed.Left)
    def action_stop_typing(self) -> None:
        """Escape: what stands in the line is given up."""
        self.query_one(Answer).typed.value = ""
        self.hint("")
        self._focus_panel()

    @on(Input.Changed, "#answer-typed")
    def typing(self) -> None:
        if self.query_one(Status).has_class("-warn"):
            self.hint("")

    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def other_focus(self) -> None:
        self._show_keys()

    def _show_keys(self) -> None:
        self.query_one(KeyBar).show(self.keys(), hold=self.query_one(Answer).typed.has_focus)

    # ------------------------------------------------------------ turning

    def action_walk(self) -> None:
        self.query_one(Panel).focus()

    @on(Panel.Picked)
    def picked(self, event: Panel.Picked) -> None:
        self.action_point(event.indication)

    def action_point(self, indication: str) -> None:
        self.other_key()
        self.turn = self.turn.to(indication, turns.PANEL)
        self.hint("")
        self._show_turn()

    def action_next(self) -> None:
        self.turn = Turn()
        self.hint("")
        self._focus_panel()
        self._show_turn()

    def action_another(self) -> None:
        self.turn = self.turn.other(self.advice)
        self.hint("")
        self._show_turn()

    def action_choose_action(self, number: int) -> None:
        self.turn = self.turn.other(self.advice, number)
        self._show_turn()

    def action_choose_cause(self, cause: str) -> None:
        self.query_one(Causes).choose(cause)
        if self._page == PAGES.index("facts"):
            self._turn_to(1)

    @on(Causes.Chosen)
    def cause_chosen(self) -> None:
        self._show_evidence()

    def action_turn_page(self) -> None:
        self._turn_to((self._page + 1) % len(PAGES))

    def _turn_to(self, page: int) -> None:
        self._page = page
        for n, name in enumerate(PAGES):
            self.set_class(n == page, f"-page-{name}")
        self._head_pages()

    def _head_pages(self) -> None:
        """Where one page shows at a time, its head says what `t` turns to."""
        facts = f"FACTS {len(self.state.facts)}"
        names = (
            "LIKELY CAUSES",
            "FOR AND AGAINST",
            facts + (f" · ROUND {self.state.round}" if self.state.round > 1 else ""),
        )
        for n, id in enumerate(("#causes", "#evidence", "#facts")):
            after = f" · t {names[(n + 1) % 3].lower()}" if self.has_class("-narrow") else ""
            self.query_one(id).border_title = names[n] + after

    def on_resize(self) -> None:
        self.call_after_refresh(self._resized)

    def _resized(self) -> None:
        self._head_pages()
        self._show_keys()

    def action_page(self, page: int) -> None:
        self._turn_to(page)

    # ------------------------------------------------------------ taking back

    def action_undo(self) -> None:
        before = self.state.facts
        if self.enter(self.sitting.case.undo, "Taken back."):
            left = {f.seq for f in self.state.facts}
            gone = [f"{clean(f.title)}, {plain(f.state)}" for f in before if f.seq not in left]
            if gone:
                self.say(f"Taken back: {'; '.join(gone)}")

    def action_take_back(self, seq: int) -> None:
        from diag.case.events import TakenBack

        fact = next((f for f in self.state.facts if f.seq == seq), None)
        name = f": {clean(fact.title)}" if fact is not None else ""
        self.enter(lambda: self.sitting.case.post(TakenBack(seq=seq)), f"Taken back{name}")
