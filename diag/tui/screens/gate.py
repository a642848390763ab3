"""The gate: the steps of one zone, confirmed one key each by the person who did them; findings, ways out, live work.

What may be confirmed comes from the case (`State.steps`, `State.ways`); this screen offers that and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content

from diag.case.snapshot import State
from diag.safety import Act, Lockout, Phase, Step
from diag.tui.helps import GATE
from diag.tui.keys import Key, bindings
from diag.tui.plan import plan, restored
from diag.tui.screens import gate_keys as keys
from diag.tui.screens.base import Room
from diag.tui.screens.choose import Choose, Picked
from diag.tui.screens.gate_words import (
    DECISIONS,
    LIVE_REASONS,
    PERMITS,
    cautions,
    nothing_due,
    step_due,
    way_ended,
)
from diag.tui.screens.who import hand_over
from diag.tui.widgets.banner import BannerBar, wait
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import Row
from diag.tui.widgets.status import Status
from diag.tui.widgets.ticklist import TickList
from diag.tui.widgets.written import Written, line, text
from diag.tui.words import clean, left

if TYPE_CHECKING:
    from diag.tui.session import Sitting

APART = 0.4
"""Seconds between two confirmations. A key that is held down repeats faster, and must not confirm a lockout."""
HELD = 0.12
"""Seconds between two presses of the key that takes back; a key that is held down repeats faster."""


class GateScreen(Room):
    """One zone at a time; the machine's other zones are a key away."""

    HELP_DATA = GATE
    TABLE = keys.TABLE
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("gate", (*keys.TABLE, keys.UP, keys.ZONE_BACK, keys.CAUTIONS_UP)),
        *[Binding(str(n), f"digit({n})", show=False) for n in range(1, 10)],
    ]

    def __init__(self, sitting: Sitting, zone: str = "", live: bool = False) -> None:
        """`live`: ask at once for the acknowledgement of live work."""
        super().__init__(id="gate")
        self.sitting = sitting
        self.machine = sitting.case.machine
        self._zones = tuple(self.machine.zones)
        begun = [z for z in self._zones if self._lockout(z).phase is not Phase.NONE]
        self._zone = zone if zone in self._zones else (begun or self._zones)[0]
        self._at = 0
        self._live = live
        self._armed: Act | None = None
        self._restored: Lockout | None = None
        """The way back that has just ended: nothing is due until this screen is left or turned to another zone."""
        self._last = self._took_back = -APART

    # ------------------------------------------------------------ what is so

    @property
    def state(self) -> State:
        return self.sitting.case.state

    def left_behind(self) -> str:
        return self.sitting.left_behind()

    @property
    def due(self) -> tuple[Step, ...]:
        return () if self._restored else self.state.steps.get(self._zone, ())

    @property
    def ways(self) -> tuple[Step, ...]:
        return () if self._restored else self.state.ways.get(self._zone, ())

    @property
    def _ended(self) -> bool:
        """Nothing is left to confirm here, and Enter goes back to the case."""
        return self._restored is not None or self._lockout(self._zone).phase is Phase.DEAD

    def _lockout(self, zone: str) -> Lockout:
        return self.sitting.case.folded.site.lockout(zone)

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
        self.set_interval(1.0, self._countdown)
        self.show()
        if self._live and any(w.act is Act.LIVE for w in self.ways):
            self.action_way(Act.LIVE.value)

    def on_screen_resume(self) -> None:
        if self.query("#banner"):
            self.show()

    def show(self) -> None:
        """Paint what the case says now."""
        self._at = min(self._at, max(len(self.due) - 1, 0))
        self._banner()
        zone = self.machine.zones[self._zone]
        title = line(("LOCKOUT ", ".loud"), (clean(zone.title), ".strong"))
        if len(self._zones) > 1:
            title = line(title, (f"   zone {self._zones.index(self._zone) + 1} of {len(self._zones)}", ".quiet"))
        self.query_one("#gate-zone", Written).write(title)
        lockout = self._lockout(self._zone)
        if self._restored is not None and lockout.phase not in (Phase.NONE, Phase.TESTING):
            self._restored = None
        ended = self._restored
        items = restored(ended) if ended else plan(self.machine, self.state, zone, lockout)
        ticks = self.query_one(TickList)
        ticks.show(items, self._at + 1, len(self.due) > 1)
        self.query_one("#gate-cautions", Written).write(cautions(self.machine, self._act))
        self._armed = None
        self.call_after_refresh(self._scroll)
        self.query_one("#gate-now", Written).write(self._now())
        self.query_one(KeyBar).show(self.keys())

    def _scroll(self) -> None:
        """What is due is in sight, with a little of what was done above it."""
        due = self.query_one(TickList).due
        self.query_one("#gate-steps", VerticalScroll).scroll_to(y=max(due - 3, 0), animate=False)

    def _banner(self) -> None:
        state, more = self.state, ""
        if state.countdown is not None:
            locking = self._lockout(self._zone).phase is Phase.LOCKING
            more = wait(self.machine, state, self.sitting.clock()) or ("label's wait over: measure" if locking else "")
        place = f"{clean(self.machine.title)} · case {state.id}"
        self.query_one(BannerBar).show(state.banner, state.person, place, more, self.machine.standing.badges)

    def _countdown(self) -> None:
        if self.is_current and self.state.countdown is not None:
            self._banner()
            self.query_one("#gate-now", Written).write(self._now())

    @property
    def _act(self) -> Act | None:
        """The kind of step that Enter confirms."""
        return self.due[self._at].act if self.due else None

    def _now(self) -> Content:
        """The step that Enter confirms, in full; or why there is none."""
        if self.state.danger:
            return text("Stop. A danger sign stands: keep away and call.", ".strong")
        if self._restored is not None:
            return way_ended(self._restored)
        if self.due:
            step = self.due[self._at]
            return step_due(step, self.state.person, self._rest(step))
        return nothing_due(self.machine, self.state, self._lockout(self._zone))

    def keys(self) -> Iterable[Key]:
        ways = {w.act for w in self.ways}
        shown = []
        for key in self.TABLE:
            if key in keys.WAYS and keys.WAYS[key] not in ways:
                continue
            if key in keys.FOUND and not self._may_find(keys.FOUND[key]):
                continue
            if (key in (keys.DIGIT, keys.CHOOSE) and len(self.due) < 2) or (key is keys.ZONE and len(self._zones) < 2):
                continue
            if key is keys.CONFIRM and not self.due and not self._ended:
                continue
            shown.append(key)
        return [key for key in shown if key.action != "app.quit"]

    def _may_find(self, act: Act) -> bool:
        """A finding has its key while the zone stands on its isolation points, and at a step that names it."""
        if self._restored is not None:
            return False
        if any(act in step.fails for step in self.due):
            return True
        lockout = self._lockout(self._zone)
        return lockout.phase in (Phase.LOCKING, Phase.DEAD, Phase.BACK) and (
            lockout.phase is not Phase.LOCKING or lockout.has(Act.SHUT_DOWN)
        )

    # ------------------------------------------------------------ confirming

    def post(self, act: Act, target: str = "", reason: str = "", permit: str = "", said: str = "") -> bool:
        from diag.case.events import Gate

        self._armed, before = None, self._lockout(self._zone)
        event = Gate(zone=self._zone, act=act, target=target, reason=reason, permit=permit)
        wrong = self.sitting.attempt(lambda: self.sitting.case.post(event))
        if wrong:
            self.query_one(Status).warn(wrong)
            return False
        self._at = 0
        self._last = self.sitting.seconds()
        self._restored = before if act is Act.POWER_ON else None
        self.show()
        self.query_one(Status).say(f"{said} {self.state.person.name}.")
        return True

    def action_confirm(self) -> None:
        if self.due and self._at < len(self.due):
            self._confirm(self.due[self._at])
        elif self._ended:
            self.action_case()

    def action_digit(self, digit: int | str) -> None:
        n = int(digit) - 1
        if len(self.due) == 1:
            # Whoever goes on pressing the digit of a list that has ended has not read what is due now.
            self.query_one(Status).hint(f"{digit} was not taken: one step is due, and Enter confirms it.")
        elif n < len(self.due):
            self._confirm(self.due[n])
        else:
            self.query_one(Status).hint(f"There is no step {digit} here now.")

    def _confirm(self, step: Step) -> None:
        if self.sitting.seconds() - self._last < APART:
            self.query_one(Status).hint("Too quick to have been read. Read the step that is due, then confirm it.")
        elif step.asks:
            self._ask(step)
        elif rest := self._rest(step):
            self._countdown()
            self.query_one(Status).warn(f"{rest} of the label's wait are left. Confirm it when they are over.")
        else:
            self.post(step.act, step.target, said="Confirmed by")

    def _rest(self, step: Step) -> str:
        """What is left of the wait on the label of this stored energy."""
        end = self.state.waits.get(step.target) if step.wait else None
        return left(end, self.sitting.clock()) if end is not None else ""

    def action_choose(self, by: int | str) -> None:
        if self.due:
            self._at = (self._at + int(by)) % len(self.due)
            self.show()

    def action_found(self, act: str) -> None:
        """A finding: said twice, because it stops the zone and is not taken back."""
        found = Act(act)
        if not self._may_find(found):
            return
        words = {
            Act.VOLTAGE_FOUND: "Voltage or energy found",
            Act.METER_FAILED: "The meter does not prove",
            Act.MOVED: "It moved",
        }
        if self._armed is not found:
            self._armed = found
            self.query_one(Status).warn(f"{words[found]}? The same key again says so and stops the zone.")
            return
        self.post(found, said=f"{words[found]}. Keep out and call. Said by")

    def action_way(self, act: str) -> None:
        wanted = Act(act)
        way = next((w for w in self.ways if w.act is wanted), None)
        if way is None:
            self.query_one(Status).hint("That is not open here now.")
        elif wanted is Act.LIVE:
            self._ask_live()
        elif wanted is Act.RETRACT:
            self._take_back(way)
        else:
            self._confirm(way)

    def _take_back(self, way: Step) -> None:
        """One step back for each press; a key that is held down takes back one."""
        now = self.sitting.seconds()
        held, self._took_back = now - self._took_back < HELD, now
        if held:
            self.query_one(Status).hint("One step back for each press.")
        else:
            self.post(way.act, way.target, said="Taken back by")

    def _ask(self, step: Step) -> None:
        """A step that asks for words: the site's decision after a stop."""

        def decided(words: str) -> None:
            self.post(step.act, step.target, reason=words, said="Confirmed by")

        self._words("THE SITE'S DECISION · what was found, who decided?", DECISIONS, decided)

    def _ask_live(self) -> None:
        """Live work: the reason by digit or typed, then the permit."""

        def reasoned(reason: str) -> None:
            self._words(
                "LIVE WORK · by which permit? It covers you, here, now", PERMITS, lambda permit: live(reason, permit)
            )

        def live(reason: str, permit: str) -> None:
            if self.post(Act.LIVE, reason=reason, permit=permit, said="Live work acknowledged by"):
                self.action_case()

        if not self.state.person.qualified:
            words = "Live work is for a person who is qualified for it. p changes the person, or what you may do."
            self.query_one(Status).warn(words)
            return
        self._words("LIVE WORK · why can it not be done dead?", LIVE_REASONS, reasoned)

    def _words(self, title: str, rows: tuple[str, ...], then: Callable[[str], None]) -> None:
        """Ask for words: one of these by digit or click, or typed."""

        def take(picked: Picked | None) -> None:
            if picked is not None:
                then(picked.typed or picked.id)

        choice = Choose(title, tuple(Row(r, r) for r in rows), digits=True, free="a digit, or type it")
        self.app.push_screen(choice, take)

    # ------------------------------------------------------------ elsewhere

    def action_zone(self, by: int | str) -> None:
        at = (self._zones.index(self._zone) + int(by)) % len(self._zones)
        self._zone, self._at, self._restored = self._zones[at], 0, None
        self.show()

    def action_person(self) -> None:
        def done(said: str, wrong: str) -> None:
            self.show()
            if wrong:
                self.query_one(Status).warn(wrong)
            else:
                self.query_one(Status).say(said)

        hand_over(self.app, self.sitting, done)

    def action_cautions(self, by: int | str) -> None:
        side = self.query_one("#gate-side", VerticalScroll)
        side.scroll_relative(y=int(by) * max(side.size.height - 1, 1), animate=False)

    def action_case(self) -> None:
        self.dismiss(None)
