"""The gate: the steps of one zone, confirmed one key each by the person who did them; findings, ways out, live work.

What may be confirmed comes from the case (`CaseState.steps`, `CaseState.ways`); this screen offers nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content

from diag.machine.model import Access
from diag.panel.meter.volts import row
from diag.safety import Act, Confirmed, Lockout, Phase, Step
from diag.safety.measured import pairs_of
from diag.safety.types import same_name
from diag.text import cut, one_line
from diag.tui.case_session import TOO_QUICK
from diag.tui.key_table import QUIT, Key, bindings
from diag.tui.looks.wording import left
from diag.tui.questions import ChooseOne, Picked, Row
from diag.tui.screen_help import GATE
from diag.tui.screens.gate import gate_keys as keys
from diag.tui.screens.gate import gate_words as words
from diag.tui.screens.gate.lockout_steps import TickList, plan, restored
from diag.tui.screens.over_case import OverCase
from diag.tui.widgets.banner import BannerBar, wait
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, line, text

if TYPE_CHECKING:
    from diag.tui.case_session import CaseSession

CONFIRMED = "Confirmed by"
NAMED = 48
"""Characters of a step that was confirmed, in the line of status."""
HELD = 0.12
"""Seconds between two presses of the key that takes back; a key that is held down repeats faster."""


class GateScreen(OverCase):
    """One zone at a time; the machine's other zones are a key away."""

    HELP_DATA = GATE
    TABLE = keys.TABLE
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("gate", (*keys.TABLE, *keys.BACKWARDS)),
        *[Binding(str(n), f"digit({n})", show=False) for n in range(1, 10)],
    ]

    def __init__(self, session: CaseSession, zone: str, live: bool, parting: Callable[[str], None]) -> None:
        """`live`: ask at once for the acknowledgement of live work; `parting`: told what the case says of what was
        recorded here last, once it is back."""
        super().__init__(session, id="gate")
        self._zones = tuple(self.machine.zones)
        begun = [z for z in self._zones if self.state.lockouts[z].phase is not Phase.NONE]
        self._zone = zone if zone in self._zones else (begun or self._zones)[0]
        self._at = 0
        self._live, self._parting = live, parting
        self._armed: Act | None = None
        self._restored: Lockout | None = None
        """The return to service that has just ended: nothing is due until this screen is left or shows another zone."""
        self._took_back = -HELD

    # ------------------------------------------------------------ what is so

    @property
    def lockout(self) -> Lockout:
        return self.state.lockouts[self._zone]

    @property
    def due(self) -> tuple[Step, ...]:
        return () if self._restored else self.state.steps.get(self._zone, ())

    @property
    def ways(self) -> tuple[Step, ...]:
        return () if self._restored else self.state.ways.get(self._zone, ())

    @property
    def _ended(self) -> bool:
        """Nothing is left to confirm here, and Enter goes back to the case."""
        return self._restored is not None or self.lockout.phase is Phase.DEAD

    @property
    def under_keys(self) -> object:
        return self.due, self.ways, self._armed, self.state.danger

    # ------------------------------------------------------------ drawing

    def compose(self) -> ComposeResult:
        yield BannerBar(id="banner")
        yield Written(id="gate-zone")
        with Horizontal(id="gate-body"):
            with VerticalScroll(id="gate-steps", can_focus=False) as steps:
                steps.border_title = "STEPS"
                yield TickList(id="gate-plan")
            with VerticalScroll(id="gate-side", can_focus=False) as side:
                side.border_title = "CAUTION"
                yield Written(id="gate-cautions")
        yield Written(id="gate-now")
        yield Status(id="status")
        yield KeyBar(id="keys")

    def on_mount(self) -> None:
        self.paint()
        if self._live and any(w.act is Act.LIVE for w in self.ways):
            self.action_way(Act.LIVE.value)

    def paint(self) -> None:
        if self.lockout.phase not in (Phase.NONE, Phase.TESTING):
            self._restored = None
        self._armed = None
        self._at = min(self._at, max(len(self.due) - 1, 0))
        self.paint_banner()
        zone = self.machine.zones[self._zone]
        title = line(("LOCKOUT ", ".loud"), (one_line(zone.title), ".strong"))
        if len(self._zones) > 1:
            title = line(title, (f"   zone {self._zones.index(self._zone) + 1} of {len(self._zones)}", ".quiet"))
        self.query_one("#gate-zone", Written).write(title)
        items = (
            restored(self.machine, self._restored, self.state.person.name)
            if self._restored
            else plan(self.machine, self.state, zone, self.lockout)
        )
        self.query_one(TickList).show(items, self._at + 1, len(self.due) > 1)
        self.query_one("#gate-cautions", Written).write(words.cautions(self.machine, self._marked))
        self.call_after_refresh(self._scroll)
        self.query_one("#gate-now", Written).write(self._now())
        self.query_one(KeyBar).show(self.keys())

    def _scroll(self) -> None:
        """What is due is in sight, with a little of what was done above it."""
        due = self.query_one(TickList).due
        self.query_one("#gate-steps", VerticalScroll).scroll_to(y=max(due - 3, 0), animate=False)

    def more(self) -> str:
        if self.state.countdown is None:
            return ""
        over = "label's wait over: measure" if self.lockout.phase is Phase.LOCKING else ""
        return wait(self.machine, self.state, self.session.clock()) or over

    def count_down(self) -> None:
        self.paint_banner()
        self.query_one("#gate-now", Written).write(self._now())

    @property
    def _marked(self) -> Step | None:
        """The step that Enter confirms."""
        return self.due[self._at] if self._at < len(self.due) else None

    def _now(self) -> Content:
        """The step that Enter confirms, in full; or why there is none."""
        if self.state.danger:
            own = any(same_name(who, self.state.person.name) for _, who in self.state.locks)
            stay = " Your locks stay on." if own else ""
            return text(f"Stop. A danger sign stands: keep away and call.{stay}", ".strong")
        if self._restored is not None:
            return words.way_ended(self.machine, self.state, self._restored)
        if self._too_small:
            return text(words.TOO_SMALL, ".strong")
        if step := self._marked:
            digit = self._at + 1 if len(self.due) > 1 else 0
            zone, early = self.machine.zones[self._zone], self.lockout.phase in (Phase.NONE, Phase.LOCKING)
            return words.step_due(step, self.state.person, self._rest(step), digit, ahead=early and zone.electrical)
        return words.nothing_due(self.machine, self.state, self.lockout)

    def keys(self) -> Iterable[Key]:
        ways, several = {w.act for w in self.ways}, len(self.due) > 1
        open_now = {keys.CONFIRM: bool(self.due) or self._ended, keys.DIGIT: several, keys.CHOOSE: several}
        open_now |= {keys.ZONE: len(self._zones) > 1, QUIT: False}
        others = any(not same_name(who, self.state.person.name) for _, who in self.state.locks)
        open_now |= {keys.TAGS: others or bool(self.state.tags or self.state.to_be_told)}
        open_now |= {keys.INSIDE: self.lockout.phase is not Phase.NONE and bool(self._remedies)}
        open_now |= {key: act in ways for key, act in keys.WAYS.items()}
        open_now |= {key: self._may_find(act) for key, act in keys.FOUND.items()}
        shown = [key for key in self.TABLE if open_now.get(key, True)]
        return shown if self.due else [keys.TO_CASE if key is keys.CONFIRM else key for key in shown]

    def _may_find(self, act: Act) -> bool:
        """A finding has its key while the zone stands on its isolation points, and at a step that names it."""
        if self._restored is not None:
            return False
        lockout = self.lockout
        isolated = lockout.phase in (Phase.DEAD, Phase.BACK) or (
            lockout.phase is Phase.LOCKING and lockout.has(Act.SHUT_DOWN)
        )
        return isolated or any(act in step.fails for step in self.due)

    # ------------------------------------------------------------ confirming

    def post(self, act: Act, target: str = "", said: str = "", then: Callable[[], object] = bool, **more: Any) -> None:
        """Enters this; `said` is told of it once it is stored, and `then` goes on."""
        from diag.case.log.events import Gate

        self._armed, before, by = None, self.lockout, self.state.person.name
        name = self._named(act, target) if said == CONFIRMED else ""
        if self._too_small and act not in keys.FOUND.values():
            self.warn(words.TOO_SMALL)
            return

        def stored() -> str:
            self._at = 0
            self.unhurried()
            self._restored = None
            if before.phase in (Phase.BACK, Phase.HOLDS) and self.lockout.phase in (Phase.NONE, Phase.TESTING):
                self._restored = replace(before, trail=(*before.trail, Confirmed(act, target, by)))
            stop = act is Act.TESTED_DEAD and self.lockout.phase is Phase.STOP
            found = f"{words.FINDINGS[Act.VOLTAGE_FOUND]}. Keep out and call. Measured by"
            told = f"{found} {by}" if stop else f"{said} {by}{f': {name}' if name else ''}"
            return told if told.endswith("…") else f"{told}."

        # Where it is refused, what stood here may be over: somebody else may have been quicker.
        self.entered(self.session.post(Gate(zone=self._zone, act=act, target=target, **more)), stored, then)

    def _named(self, act: Act, target: str) -> str:
        """A step that is due or a way that is open, in a few words."""
        items = plan(self.machine, self.state, self.machine.zones[self._zone], self.lockout)
        for digit, step in enumerate(self.due, 1):
            if (step.act, step.target) == (act, target):
                found = next((item.text for item in items if item.digit == digit), step.text)
                return cut(one_line(found).rstrip("."), NAMED)
        return next((key.label for key, way in keys.WAYS.items() if way is act), "")

    @property
    def _too_small(self) -> bool:
        """Whether a step and its cautions cannot all be read here, so that none is confirmed."""
        return self.size.width < words.LEAST[0] or self.size.height < words.LEAST[1]

    def action_confirm(self) -> None:
        if not self._in_time():
            return
        if self._marked:
            self._confirm(self._marked)
        elif self._ended:
            self.action_case()

    def action_digit(self, digit: int | str) -> None:
        n = int(digit) - 1
        if not self._in_time():
            return
        if len(self.due) == 1:
            # Whoever goes on pressing the digit of a list that has ended has not read what is due now.
            self.hint(f"{digit} was not taken: one step is due, and Enter confirms it.")
        elif n < len(self.due):
            self._confirm(self.due[n])
        else:
            self.hint(f"There is no step {digit} here now.")

    def _in_time(self) -> bool:
        """Whether the key that confirms comes late enough for what is due to have been read."""
        in_time = self.unhurried()
        if self.aimed_before():
            return False
        if not in_time:
            self.hint(TOO_QUICK)
        return in_time

    def _confirm(self, step: Step) -> None:
        if self._too_small:
            self.warn(words.TOO_SMALL)
        elif "values" in step.asks:
            self.ask_lines(words.measured(self.machine, step), lambda read: self._measured(step, read[0]))
        elif step.asks:
            self.choose(
                words.DECISION,
                lambda said: self.post(step.act, step.target, CONFIRMED, reason=said.words),
            )
        elif rest := self._rest(step):
            self.count_down()
            self.warn(f"{rest} of the label's wait is left. Confirm it when it is over.")
        else:
            self.post(step.act, step.target, CONFIRMED)

    def _measured(self, step: Step, typed: str) -> None:
        """The row of voltages that the meter read at a test point."""
        pairs = pairs_of(self.machine.test_points[step.target])
        values = dict(zip(pairs, row(typed, len(pairs)), strict=True))
        self.post(step.act, step.target, CONFIRMED, values=values)

    @property
    def _remedies(self) -> tuple[Row, ...]:
        """What is done inside this zone and cures something, while the zone is on its way back or was."""
        if self.lockout.phase not in (Phase.BACK, Phase.HOLDS, Phase.TESTING, Phase.NONE) or self._restored:
            return ()
        remedies = (r for r in self.machine.remedies.values() if r.zone == self._zone and r.access is Access.DEAD)
        return tuple(Row(r.id, r.do) for r in remedies if self.state.person.role in r.who)

    def action_done_inside(self) -> None:
        """A remedy that was done under lock and is entered only now, by whoever did it."""

        def chosen(picked: Picked) -> None:
            self.ask_lines(words.done_at(self.session.clock()), lambda typed: enter(picked.id, typed[0]))

        def enter(remedy: str, typed: str) -> None:
            from diag.case.log.events import Remedied

            at = words.time_said(typed, self.session.clock())
            done = f"Entered as done at {typed} by {self.state.person.name}."
            self.entered(self.session.post(Remedied(remedy=remedy, done_at=at)), done)

        if rows := self._remedies:
            self.choose(ChooseOne("WHICH WAS DONE INSIDE?", rows, digits=True), chosen)
        else:
            self.hint("Nothing that was done inside is entered here now.")

    def _rest(self, step: Step) -> str:
        """What is left of the wait on the label of this stored energy."""
        end = self.state.waits.get(step.target) if step.wait else None
        return left(end, self.session.clock()) if end is not None else ""

    def action_choose(self, by: int | str) -> None:
        if self.due:
            self._at = (self._at + int(by)) % len(self.due)
            self.paint()

    def action_found(self, act: str) -> None:
        """A finding: said twice, because it stops the zone and is not taken back."""
        found = Act(act)
        if not self._may_find(found) or self.aimed_before():
            return
        if self._armed is found:
            self.post(found, said=f"{words.FINDINGS[found]}. Keep out and call. Said by")
        else:
            self._armed = found
            self.warn(f"{words.FINDINGS[found]}? Same key again to confirm and stop the zone.")

    def action_way(self, act: str) -> None:
        wanted = Act(act)
        way = next((w for w in self.ways if w.act is wanted), None)
        if self.aimed_before():
            return
        if way is None:
            self.hint("That is not open here now.")
        elif wanted is Act.LIVE:
            self._ask_live()
        elif wanted is Act.RETRACT:
            self._take_back(way)
        elif self._in_time():
            self._begin(way)

    def _begin(self, way: Step) -> None:
        """The return to service and power for a test end everybody's proof: where somebody else's lock is on, the key
        is asked for twice."""
        points, name = self.machine.zones[self._zone].points, self.state.person.name
        others = sorted({who for p, who in self.state.locks if p in points and not same_name(who, name)})
        if way.act in (Act.BACK, Act.TEST_POWER) and others and self._armed is not way.act:
            self._armed = way.act
            self.warn(f"Locks of {one_line(', '.join(others))} are on. Same key again begins it; nobody is dead then.")
        else:
            self._confirm(way)

    def _take_back(self, way: Step) -> None:
        """One step back for each press; a key that is held down takes back one."""
        now = self.session.seconds()
        held, self._took_back = now - self._took_back < HELD, now
        last = self.lockout.trail[-1] if self.lockout.trail else None
        if held:
            self.hint("One step back for each press.")
        elif last is not None and last.act is Act.OFF_AND_LOCKED and last.target in self.machine.points:
            point = one_line(self.machine.points[last.target].title)
            self.choose(words.lock_off(point), lambda said: self._retract(way) if said.id == "off" else None)
        else:
            self._retract(way)

    def _retract(self, way: Step) -> None:
        self.post(way.act, way.target, said="The last step is taken back by")

    def _ask_live(self) -> None:
        """Live work: the reason, then the permit."""

        def live(reason: str, permit: str) -> None:
            said = f"Live work: {reason} · {permit} ·"
            by = self.state.person.name

            def to_the_case() -> None:
                self._parting(f"{said} {by}.")
                self.action_case()

            self.post(Act.LIVE, said=said, then=to_the_case, reason=reason, permit=permit)

        def reasoned(reason: Picked) -> None:
            self.choose(words.PERMIT, lambda permit: live(reason.words, permit.words))

        if self.state.person.qualified:
            self.choose(words.REASON, reasoned)
        else:
            self.warn("Live work is for a person who is qualified for it. p changes the person, or what you may do.")

    # ------------------------------------------------------------ elsewhere

    def action_zone(self, by: int | str) -> None:
        at = (self._zones.index(self._zone) + int(by)) % len(self._zones)
        self._zone, self._at, self._restored = self._zones[at], 0, None
        self.paint()

    def action_cautions(self, by: int | str) -> None:
        side = self.query_one("#gate-side", VerticalScroll)
        side.scroll_relative(y=int(by) * max(side.size.height - 1, 1), animate=False)

    def action_case(self) -> None:
        self.dismiss(None)
