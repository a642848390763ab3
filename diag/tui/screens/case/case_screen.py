"""The case screen: the panel, the next thing to do, the likely causes and the facts, and one strip to answer in.

This module only wires: keys, clicks and boxes go to the plain parts (`answering`, `reading`, `finding`, `recording`,
`doing`, `typed_keys`), which change the `CaseModel` and answer with a `Reply`; then what changed in its view is
painted, once. The advice is weighed in a thread, and painted when it is there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Concatenate, ParamSpec

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import Screen
from textual.timer import Timer
from textual.widgets import Input

from diag.case.phrases import gone
from diag.record.errors import CasebookError
from diag.safety.types import same_name
from diag.text import one_line
from diag.tui.case_session import CaseSession
from diag.tui.following import Following
from diag.tui.key_table import Key, bindings
from diag.tui.questions import AskLines, ChooseOne, Picked, Question, Row
from diag.tui.screen_help import CASE
from diag.tui.screens.ask import Ask
from diag.tui.screens.case.advice_thread import AdviceThread
from diag.tui.screens.case.page_turning import PageTurning
from diag.tui.screens.case.panes.answer_strip import AnswerStrip, Typed
from diag.tui.screens.case.panes.cause_panes import Causes, Evidence
from diag.tui.screens.case.panes.fact_pane import Facts
from diag.tui.screens.case.panes.machine_front import Panel
from diag.tui.screens.case.panes.next_pane import NextPane
from diag.tui.screens.case.panes.pane import Pane
from diag.tui.screens.case.panes.stop_box import StopBox
from diag.tui.screens.case.parts import answering, case_keys, doing, finding, reading, recording, requests, typed_keys
from diag.tui.screens.case.parts.case_model import CaseModel
from diag.tui.screens.case.parts.requests import Reply, hint, say, warn
from diag.tui.screens.case.parts.typed_keys import Press, TypedKeys
from diag.tui.screens.choose import Choose
from diag.tui.screens.over_case import OverCase
from diag.tui.screens.tags_and_owners import stands
from diag.tui.widgets.banner import BannerBar, wait
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status

if TYPE_CHECKING:
    from diag.case.log.stored import Stream
    from diag.case.observe.observation import Observation

BACK_AGAIN = "The casebook answers again. What was not stored may be entered once more."
DIGIT_KEYS = [Binding(str(n), f"digit({n})", show=False) for n in range(10)]
Arguments = ParamSpec("Arguments")


def key(does: Callable[Concatenate[CaseModel, Arguments], Reply]) -> Callable[Concatenate[CaseScreen, Arguments], None]:
    """The action of a key that one of the parts answers."""

    def action(screen: CaseScreen, /, *given: Arguments.args, **named: Arguments.kwargs) -> None:
        if not screen.aimed_before():
            screen.reply(does(screen.model, *given, **named))

    return action


class CaseScreen(OverCase):
    """One open case."""

    HELP_DATA = CASE
    TABLE = case_keys.TABLE
    BINDINGS: ClassVar[list[BindingType]] = [*bindings("case", case_keys.TABLE), *DIGIT_KEYS]

    def __init__(self, session: CaseSession) -> None:
        super().__init__(session)
        self.model = CaseModel(session)
        self.typed_keys = TypedKeys()
        self.pages = PageTurning(self)
        self.advice = AdviceThread(self, self.model, self.reply)
        self._following = Following(session, self._heard, lambda: self.call_later(self._answers_again))
        self._ring: Timer | None = None
        """Rings when a held letter has waited long enough."""

    # ------------------------------------------------------------ painting

    def compose(self) -> ComposeResult:
        yield BannerBar(id="banner")
        yield StopBox(id="stop")
        with Horizontal(id="body"):
            with VerticalScroll(id="panel-side", can_focus=False):
                yield Panel(self.machine, self.session.seconds, id="panel")
            with Vertical(id="right"):
                with Vertical(id="near"):
                    yield NextPane(id="next")
                    yield Facts(id="facts")
                with Vertical(id="far"):
                    yield Causes(id="causes")
                    yield Evidence(id="evidence")
        yield AnswerStrip(id="answer")
        yield Status(id="status")
        yield KeyBar(id="keys")

    def on_mount(self) -> None:
        if self.session.follows:
            self.session.lost = lambda: self._following.lost
            self._following.start()
            self.app.app_resume_signal.subscribe(self, self._resumed)
        self.query_one(Panel).focus()
        self.pages.to(0)
        machine, state = self.machine, self.state
        if state.problems:
            self.warn(f"{len(state.problems)} entries of the record could not be read: {state.problems[0]}")
        elif machine.gone:
            self.warn(gone(machine))
        elif machine.revision != state.revision:
            now, then = one_line(machine.revision), one_line(state.revision)
            self.warn(f"The machine file has changed since this case began: {now} now, {then} then.")
        elif machine.approval.changed:
            self.warn(machine.approval.warning)
        elif what := stands(state):
            self.warn(f"{what}. y says what stands, and enters its end.")
        elif not same_name(state.lead.name, state.person.name):
            self.reply(hint(f"{one_line(state.lead.name)} has this case in hand; p takes it over."))
        else:
            self.reply(hint("? help. Mark what the machine shows, in any order."))

    def on_unmount(self) -> None:
        self._following.stop()

    def _heard(self, news: Stream) -> None:
        self.call_later(self.take_in, news)

    def _answers_again(self) -> None:
        """The casebook is back: a line that said why nothing could be stored is no longer so."""
        wrong = self.session.entries.entry.wrong
        for screen in self.app.screen_stack:
            if isinstance(screen, OverCase) and wrong and screen.query_one(Status).warns(wrong):
                screen.hint(BACK_AGAIN)

    def _resumed(self, _: object) -> None:
        """The program was suspended, and nothing that was painted before may be trusted: it is read at once."""
        try:
            self._following.now()
        except (CasebookError, KeyError) as error:
            self.warn(one_line(str(error)))

    def warn(self, words: str) -> None:
        self.reply(warn(words))

    def hint(self, words: str) -> None:
        self.reply(hint(words))

    @property
    def under_keys(self) -> object:
        return self.model.under_keys

    def taken_in(self, words: str, *, warns: bool = False) -> None:
        self.model.others_entered()
        if self.session.came_out and not warns:
            self.reply(replace(say(words), tone="stop"))
        else:
            self.told(words, warns=warns)

    def told(self, words: str, *, warns: bool = False) -> None:
        self.reply(warn(words) if warns else say(words))

    def reply(self, reply: Reply) -> None:
        """Does what a part answered: the line of status, the focus, a box; and paints what has changed."""
        self.model.told(reply)
        line = self.query_one(Typed)
        if reply.clear:
            line.value = self.model.line = ""
        if reply.to_panel and line.has_focus:
            self.query_one(Panel).focus()
        if reply.begin is not None:
            line.begin(reply.begin)
        self.paint()
        if reply.entry is not None:
            self.when_stored(reply.entry, lambda: self.reply(reply.then(None)))
        elif reply.request is not None:
            asked, plain = reply.request, isinstance(reply.request, requests.PLAIN)
            again = partial(self._again, reply)
            self.ask(self._opened(asked), lambda given: self.reply(reply.then(given)), plain=plain, again=again)

    def _again(self, reply: Reply, given: Any, wrong: str) -> Screen[Any] | None:
        """The box once more, with what was answered in it. What was tapped or drawn is kept as it is."""
        match reply.request:
            case ChooseOne() | AskLines() as asked:
                return self._opened(asked.again(given, wrong))
            case requests.TapAlongWith() | requests.DrawIt():
                self._keep(reply, given, wrong)
        return None

    def _keep(self, reply: Reply, given: Observation, wrong: str) -> None:
        def chosen(picked: Picked) -> None:
            if picked.id == "store":
                self.reply(reply.then(given))

        rows = (Row("store", f"store it now: {given.said}"), Row("leave", "leave it"))
        question = ChooseOne("NOT STORED", rows, digits=True, about=wrong)
        keep = partial(self._keep, reply, given)
        self.ask(Choose(question, self.unhurried), chosen, plain=True, again=lambda _, wrong: keep(wrong))

    def paint(self) -> None:
        """Paints what has changed since the last time; each pane compares what it shows."""
        view = self.model.view
        self.paint_banner()
        self.set_class(bool(view.state.danger), "-danger")
        self.set_class(view.away, "-away")
        for pane in self.query(Pane):
            pane.show(view)
        if view.strip is not None:
            # While the facts are weighed strip and footer stay as they are; they will change in a moment, and once is
            # enough.
            self.query_one(AnswerStrip).show(view.strip)
            self._paint_keys()
        self.query_one(Status).show(self.model.tone, self.model.words)
        self._head_pages()
        self.advice.weigh(view.state)

    def more(self) -> str:
        if self.state.countdown is not None:
            return wait(self.machine, self.state, self.session.clock())
        return "No reset is left: call." if self.model.view.no_reset_left else ""

    def keys(self) -> Iterable[Key]:
        """The keys that do something now; while a line is typed in all others are text."""
        if self.query_one(Typed).has_focus:
            return case_keys.TYPING
        return case_keys.shown(self.model.view, self.has_class("-narrow"))

    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def _paint_keys(self) -> None:
        self.query_one(KeyBar).show(self.keys(), hold=self.query_one(Typed).has_focus)

    def on_resize(self) -> None:
        self.call_after_refresh(self._head_pages)
        self.call_after_refresh(self._paint_keys)

    def _head_pages(self) -> None:
        self.pages.head(self.state, self.model.view.told)

    def action_turn_page(self) -> None:
        self.pages.on()

    # ------------------------------------------------------------ boxes and other screens

    def _opened(self, question: Question[Any]) -> Screen[Any]:
        """The box that asks this, or the screen that it leads to. What is heavy is loaded here."""
        match question:
            case ChooseOne():
                return Choose(question, self.unhurried)
            case AskLines():
                return Ask(question)
            case requests.TapAlongWith(lamp):
                from diag.tui.screens.tapping.tap_along import TapAlong

                return TapAlong(lamp, self.session.seconds)
            case requests.DrawIt(display, begun, could_be):
                from diag.tui.screens.segments.draw_segments import Segments

                return Segments(display, could_be, begun)
            case requests.AskReset():
                from diag.tui.screens.case.action_boxes import ResetBox

                return ResetBox(self.machine, question, self.unhurried)
            case requests.InFull():
                from diag.tui.screens.case.action_boxes import InFullBox

                return InFullBox(question)
            case requests.ToLockout(zone, live):
                from diag.tui.screens.gate.gate_screen import GateScreen

                return GateScreen(self.session, zone, live, lambda words: self.reply(say(words)))
        from diag.tui.screens.finish import FinishScreen

        return FinishScreen(self.session, self.model.advised.advice)

    # ------------------------------------------------------------ typing

    async def on_key(self, event: events.Key) -> None:
        """Taken here and not by its binding, so that what is typed fast keeps its order."""
        if self.not_taken(event):
            return
        bound = self.active_bindings.get(event.key)
        does = (bound.binding.description or bound.binding.action) if bound is not None else ""
        press = Press(event.key, event.character or "", event.is_printable, does)
        step = self.typed_keys.press(press, self.model.view.asked, self.query_one(Typed).value)
        if not step.stop:
            if press.printable and bound is None:
                name = "The space bar" if press.character == " " else one_line(press.character)
                self.reply(hint(f"{name} does nothing here. ? lists the keys."))
            return
        event.stop()
        if self._ring is not None:
            self._ring.stop()
        if step.warn:
            self.warn(step.warn)
        elif step.hint is not None:
            self.reply(hint(step.hint))
        if step.hold:
            self._ring = self.set_timer(typed_keys.HOLD, self._let_go)
        if step.begin:
            self.reply(reading.begin(self.model, step.begin))
        if step.let_go:
            await self._run(step.let_go)
        if step.again:
            self.app.post_message(events.Key(event.key, event.character))

    async def _let_go(self) -> None:
        """The held letter is no code: it does what its key does."""
        await self._run(self.typed_keys.let_go())

    async def _run(self, key: str) -> None:
        bound = self.active_bindings.get(key) if key and self.is_current else None
        if bound is not None:
            self.reply(hint(""))
            await self.run_action(bound.binding.action)

    def chosen_by_digit(self) -> None:
        self.typed_keys.chosen_by_digit()

    @on(Input.Submitted, "#answer-typed")
    def typed_it(self, event: Input.Submitted) -> None:
        model, unhurried = self.model, self.unhurried()
        if self.aimed_before():
            return
        self.reply(answering.line(model, event.value, unhurried) if event.value.strip() else reading.work_out(model))

    async def action_send(self) -> None:
        await self.query_one(Typed).action_submit()

    def action_stop_typing(self) -> None:
        """Escape: what stands in the line is given up."""
        self.reply(Reply("", to_panel=True, clear=True))

    @on(Input.Changed, "#answer-typed")
    def typing(self, event: Input.Changed) -> None:
        self.model.line = event.value
        if self.model.tone == "warn":
            self.reply(hint(""))

    # ------------------------------------------------------------ keys

    def action_digit(self, digit: int) -> None:
        self.typed_keys.chosen_by_digit()
        if not self.aimed_before():
            self.reply(answering.digit(self.model, digit))

    action_mark = key(answering.digit)
    action_cannot_tell = key(answering.cannot_tell)
    action_say_nothing = key(answering.nothing_there)
    action_read = key(reading.read)
    action_do = key(doing.enter)
    action_done = key(doing.done)
    action_gate = key(doing.lockout)
    action_finish = key(doing.finish)
    action_next = key(finding.next_thing)
    action_another = key(finding.another)
    action_choose_action = key(finding.alternative)
    action_find = key(finding.find)
    action_list_states = key(finding.list_states)
    action_before = key(finding.before)
    action_info = key(finding.info)
    action_skip = key(recording.skip)
    action_reset = key(recording.resets)
    action_call = key(recording.call)
    action_failed = key(recording.failed)
    action_note = key(recording.note)
    action_made_safe = key(recording.made_safe)
    action_undo = key(recording.undo)
    action_take_back = key(recording.take_back)
    action_sheet = key(recording.sheet)

    def action_walk(self) -> None:
        self.query_one(Panel).focus()

    def action_point(self, indication: str) -> None:
        self.typed_keys.other_key()
        self.reply(finding.point(self.model, indication))

    def action_choose_cause(self, cause: str) -> None:
        self.pages.to_evidence()
        self.model.choose_cause(cause)
        self.paint()

    def action_machines(self) -> None:
        self.app.pop_screen()
