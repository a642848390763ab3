"""The case as its screen holds it: the selection, the advice that is shown, and the view that is worked out from them.

Plain. The parts that answer keys change it; the screen paints its `view`, which is worked out once after each change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from operator import is_not

from diag.case.phrases import answered
from diag.case.snapshot import Action, Advice, CaseState, Fact, Likely, Weight
from diag.machine.model import Machine
from diag.text import one_line
from diag.tui.case_session import CaseSession
from diag.tui.looks.wording import plain
from diag.tui.screens.case.parts.asked import NEXT, Asked, Selection, asked_now, offers, unseen_after
from diag.tui.screens.case.parts.requests import NOTHING, Reply, Tone, hint
from diag.tui.screens.case.parts.strip import Strip, strip


@dataclass(frozen=True, slots=True)
class Advised:
    """The advice that is shown, and the state that it is for."""

    advice: Advice | None = None
    state: CaseState | None = None

    def looked_ahead(self, advice: Advice, reading: bool) -> tuple[Advised, str]:
        """The advice with what was found further ahead for the same state, and what to say about it, if anything.
        `reading`: somebody may have read what is shown, so it keeps its place and the better thing stands beside it."""
        now = self.advice.next if self.advice is not None else None
        held = next((a for a in advice.others if now and (a.kind, a.id) == (now.kind, now.id)), None)
        if held is None or advice.next is None or not reading:
            return replace(self, advice=advice), ""
        others = (advice.next, *(a for a in advice.others if a is not held))
        said = f"Looked further ahead: doing “{one_line(advice.next.title)}” first ends this sooner (a)."
        return replace(self, advice=replace(advice, next=held, others=others)), said


@dataclass(frozen=True, slots=True)
class CauseEvidence:
    """What each fact says about one cause, and which further fact would end its lead or give it the lead."""

    cause: str = ""
    title: str = ""
    weights: tuple[Weight, ...] = ()
    """The weightiest first."""
    facts: tuple[Fact, ...] = ()
    overturn: str = ""


@dataclass(frozen=True)
class CaseView:
    """What the screen shows of a case, worked out once from the snapshots and the selection."""

    machine: Machine
    state: CaseState
    selection: Selection
    advised: Advised
    fresh: bool
    """The advice is that of the present state."""
    asked: Asked | None
    offered: tuple[Action, ...]
    action: Action | None
    """What is shown in full, while it is selected: the keys do it."""
    strip: Strip | None
    """What the strip says; None while it stays as it is."""
    evidence: CauseEvidence

    @property
    def causes(self) -> tuple[Likely, ...]:
        """All of them, best first; none until the facts were weighed."""
        return self.advised.advice.causes if self.advised.advice is not None else ()

    @property
    def in_full(self) -> Action | None:
        """What is shown in full, selected or not."""
        return self.offered[self.selection.chosen] if self.selection.chosen < len(self.offered) else None

    @property
    def away(self) -> bool:
        """Something else than the next thing is selected."""
        return self.selection.source != NEXT

    @property
    def told(self) -> CaseState:
        """The state to show beside the advice: the one that it is for, except that a stop or the end counts at once."""
        if self.state.danger or self.state.closed or self.advised.state is None:
            return self.state
        return self.advised.state

    @cached_property
    def said(self) -> dict[str, str]:
        """How each indication was said the last time."""
        return {f.indication: f.said for f in self.state.facts}

    @cached_property
    def unknown(self) -> frozenset[str]:
        """Indications that nobody could tell."""
        return frozenset(self.state.cannot_tell) - frozenset(self.state.current)

    @cached_property
    def danger_signs(self) -> str:
        """The facts that are signs of danger and still stand, in one line."""
        signs = {(id, state) for d in self.machine.dangers for id, states in d.when for state in states}
        standing = signs & set(self.state.current.items())
        facts = [f for f in self.state.facts if (f.indication, f.state) in standing]
        return "; ".join(answered(one_line(f.title), plain(f.state)) for f in facts)

    @property
    def no_reset_left(self) -> bool:
        resets = self.state.resets
        return bool(resets) and not self.state.closed and sum(r.done for r in resets) >= resets[0].limit > 0


class CaseModel:
    """One open case as the keys have left it."""

    def __init__(self, session: CaseSession) -> None:
        self.session = session
        self.machine = session.case.machine
        self.selection = Selection()
        self.advised = Advised()
        self.evidence = CauseEvidence()
        self._follows = True
        """The evidence is that for the likeliest cause, until somebody chooses another."""
        self.line = ""
        """What stands in the line to type in."""
        self.doubted = ""
        """The odd answer that was asked about, to be taken when it is sent again."""
        self.asked_sure = ""
        """The question that a second Enter confirms."""
        self.words = ""
        """The line of status."""
        self.tone: Tone = "hint"
        self._held = False
        """Others entered something: what is asked stands, where it may, though the advice changes."""
        self._view: CaseView | None = None
        self._of: tuple[object, ...] = ()

    @property
    def state(self) -> CaseState:
        return self.session.case.state

    @property
    def view(self) -> CaseView:
        of = (self.state, self.advised, self.evidence)
        if self._view is None or self._view.selection != self.selection or any(map(is_not, of, self._of)):
            self._view, self._of = self._worked_out(*of), of
        return self._view

    def _worked_out(self, state: CaseState, advised: Advised, evidence: CauseEvidence) -> CaseView:
        fresh = advised.state is state
        # A stop and the end count at once, whatever was advised before.
        advice = None if state.danger or state.closed else advised.advice
        asked = asked_now(self.selection, self.machine, state, advice, self.session.access_to, fresh)
        action = self.selection.action(advice)
        says = strip(state, asked, action, fresh, first=advised.advice is None)
        offered = offers(advice)
        return CaseView(self.machine, state, self.selection, advised, fresh, asked, offered, action, says, evidence)

    @property
    def under_keys(self) -> object:
        """What the keys act on now, to be compared: what is asked and whether it may be answered, and what is to be
        done and whether it may be."""
        asked, action = self.view.asked, self.view.action
        question = None if asked is None else (asked.indication.id, asked.check, asked.open)
        return question, None if action is None else (action.kind, action.id, action.permission)

    # ------------------------------------------------------------ what keys change

    def told(self, reply: Reply) -> None:
        if reply.words is not None:
            self.words, self.tone = reply.words, reply.tone

    def answered(self, indication: str) -> None:
        """This one was answered; selects what is asked next."""
        self.selection = self.selection.answered(unseen_after(self.machine, self.state, indication))

    def others_entered(self) -> None:
        """What stands under the keys is kept while the advice is worked out anew."""
        self._held = True

    def choose_cause(self, cause: str) -> None:
        """Shows what speaks for and against this cause."""
        self._follows = [cause] == [c.id for c in self.view.causes[:1]]
        self._weigh_cause(cause)

    # ------------------------------------------------------------ what reasoning brings

    def weighed(self, state: CaseState, advice: Advice) -> Reply | None:
        """The facts were weighed; None where that comes too late: something else was entered meanwhile."""
        if state is not self.state:
            return None
        before = self.under_keys
        advised, held = Advised(advice, state), self._held
        if held:
            advised, _ = Advised(self.advised.advice, state).looked_ahead(advice, reading=True)
        self._advise(advised)
        self._held = False
        if held and self.under_keys != before:
            self.session.has_changed()
        return NOTHING

    def looked_ahead(self, state: CaseState, advice: Advice, reading: bool) -> Reply | None:
        """Something was found further ahead; None where that comes too late."""
        if state is not self.state or self.advised.advice is None:
            return None
        advised, words = Advised(self.advised.advice, state).looked_ahead(advice, reading or bool(self.line))
        self._advise(advised)
        return hint(words) if words else NOTHING

    def _advise(self, advised: Advised) -> None:
        assert advised.advice is not None
        ids, chosen = [c.id for c in advised.advice.causes], self.evidence.cause
        self.selection = self.selection.kept(self.advised.advice, advised.advice)
        self.advised = advised
        self._weigh_cause(ids[0] if ids and (self._follows or chosen not in ids) else chosen)

    def _weigh_cause(self, cause: str) -> None:
        causes = self.advised.advice.causes if self.advised.advice is not None else ()
        title = next((one_line(c.title) for c in causes if c.id == cause), None)
        if title is None:
            return
        weights, overturn = self.session.evidence(cause)
        weights = tuple(sorted(weights, key=lambda w: -abs(w.decibans)))
        self.evidence = CauseEvidence(cause, title, weights, self.state.facts, overturn)
