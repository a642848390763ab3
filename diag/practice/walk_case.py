"""One stop followed to its end through a `Case`, as somebody would who does what the screen advises, and nothing else.

Every check is done as the gate asks: locked out, acknowledged as live work, or with the power back on. A remedy is
done and then proved. The stop ends when it is cured, or when the advice is to call; what happens behind that call is
not followed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Final

from diag.case.case import Case
from diag.case.log.events import Called, Closed, Did, Gate, Prepared, Remedied, RemedyFailed, ResetDone, Skipped
from diag.case.observe.observation import plain
from diag.case.snapshot import Action, Likely
from diag.machine.model import Machine, Role
from diag.safety import Act, Person, Phase, Refused, Step
from diag.safety.measured import pairs_of
from diag.tree.walk import Ask, CallFor, Concluded, Instruct

WALKER: Final = Person("practice", Role.ELECTRICIAN, authorised=True, qualified=True)
"""Who follows: allowed all that an electrician may, and calls the engineer for the rest."""
NODES: Final = 60
"""Nodes after which a look ahead is halted. A count halts every run at the same place, where a clock would not."""
PROOF_LOOKS: Final = 4
"""How often one check is done to prove one remedy before the proof is given up."""
MOST_STEPS: Final = 300
"""Steps after which a stop is given up; no machine that ships comes near it."""
START: Final = datetime(2000, 1, 1, tzinfo=UTC)

Answers = Mapping[str, str | None]
"""By indication, the state that is answered; None where nobody could tell."""


class PracticeClock:
    """A clock that stands still until somebody spends time."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        return self.now

    def spend(self, minutes: float) -> None:
        self.now += timedelta(minutes=minutes)


@dataclass(frozen=True)
class Stopped:
    """A stopped machine as the person at it finds it."""

    answers: Answers
    truth: Mapping[str, str]
    """What each indication really shows."""
    cures: frozenset[str]
    """The remedies that cure it."""


@dataclass
class Followed:
    """How a stop went."""

    ending: str = ""
    """`cured` and proved; `unproved` (cured, and the proof asked for could not be completed); `called`; `danger` (a
    danger sign: keep away and call); or `lost` (the steps ran out)."""
    checks: list[str] = field(default_factory=list)
    """The checks done, in order."""
    answered: set[str] = field(default_factory=set)
    """Indications that were answered before anything was tried."""
    remedies: list[str] = field(default_factory=list)
    minutes: float = 0.0
    """Checks, remedies, set-ups at the gate and the wait for whoever is called."""
    diagnosis: tuple[Likely, ...] = ()
    """The ranking when the looking was over: before the first remedy, or at the end."""
    concluded: tuple[str, ...] = ()
    """The causes that the tree alone had led to."""


def opened(machine: Machine, person: Person = WALKER) -> tuple[Case, PracticeClock]:
    """A case of this machine that is kept nowhere, and its clock."""
    clock = PracticeClock()
    return Case.open(machine, person, clock=clock), clock


def walk(case: Case, clock: PracticeClock, stopped: Stopped) -> Followed:
    """Follows the very advice that the app shows to the end of the stop."""
    return _Walker(case, clock, stopped).to_the_end(partial(advised, case))


def walk_tree(case: Case, clock: PracticeClock, stopped: Stopped) -> Followed:
    """Follows the authored tree alone, as its trainer wrote it: what it asks, instructs and concludes. The remedies of
    the causes that it concludes are tried in its order; where it says no more, whoever follows it calls."""
    walker = _Walker(case, clock, stopped)
    return walker.to_the_end(walker.by_tree)


def advised(case: Case) -> Action | None:
    """The next thing as the app shows it, once it has looked ahead. Where the tree leads, it leads there too."""
    advice = case.advice()
    lookahead = None if advice.next is None or advice.next.by_tree else case.lookahead()
    plan = lookahead.look(nodes=NODES) if lookahead is not None else None
    return case.adopt_plan(lookahead, plan).next if lookahead is not None and plan is not None else advice.next


class _Walker:
    def __init__(self, case: Case, clock: PracticeClock, stopped: Stopped) -> None:
        self.case, self.clock, self.stopped = case, clock, stopped
        self.machine = case.machine
        self.found = Followed()
        self.cured = False
        self.proof_looks: Counter[str] = Counter()
        """How often each check was done to prove the last remedy."""
        self.untried: list[str] | None = None
        """Of the tree alone: the remedies of what it concluded that were not tried yet."""

    def to_the_end(self, next_thing: Callable[[], Action | None]) -> Followed:
        for _ in range(MOST_STEPS):
            action = next_thing()
            if action is None or action.kind in ("remedy", "call"):
                self._diagnosed()
            if action is None:
                self._called("danger" if self.case.state.danger else "called")
                break
            if self._do(action):
                break
        else:
            self.found.ending = "lost"
            self._diagnosed()
        return self.found

    def by_tree(self) -> Action | None:
        """The next thing by the tree alone; None where it says no more."""
        case, machine = self.case, self.machine
        if case.state.danger:
            return None
        if case.state.remedy:
            return case.advice().next  # the proof, which is asked for in the same way whatever led there
        if self.untried is None:
            match case.tree_position():
                case Ask(indication=indication) if indication not in self._answered():
                    ways = [case.action(check.id) for check in machine.checks_for.get(indication, ())]
                    ways = [way for way in ways if way.permission.way != "call"]
                    return next((way for way in ways if way.permission.now), ways[0] if ways else None)
                case Instruct(tree=tree, text=text):
                    self.case.post(Did(tree=tree, text=text))
                    return self.by_tree()
                case Concluded(causes=causes):
                    self.found.concluded = causes
                    cures = (machine.causes[cause].remedy for cause in causes)
                    self.untried = list(dict.fromkeys(remedy.id for remedy in cures if remedy is not None))
                case CallFor() | _:
                    return None
        for id in self.untried or ():
            action = case.action(id)
            if id not in self.found.remedies and action.permission.way != "call":
                return action
        return None

    # ------------------------------------------------------------ one step

    def _do(self, action: Action) -> bool:
        """Does it, and says whether that ends the stop."""
        match action.kind:
            case "call":
                return self._call(action)
            case "do" if not action.id:
                if action.permission.way == "restore":
                    self._go_back()
                self.case.post(Prepared(text=action.title))
            case "do":
                self.case.post(Did(tree=action.id, text=action.title))
            case "close":
                return self._close(proved=True)
            case "failed":
                self.case.post(RemedyFailed(remedy=action.id))
            case "reset":
                if not self._open_way(action):
                    return self._called()
                self._spend(action.minutes)
                self.case.post(ResetDone(reset=action.id))
            case "remedy":
                if not self._open_way(action):
                    return self._called()
                self._spend(action.minutes)
                self.case.post(Remedied(remedy=action.id))
                self.found.remedies.append(action.id)
                self.proof_looks.clear()
                self.cured = self.cured or action.id in self.stopped.cures
            case _:
                if self.case.state.remedy and self.proof_looks[action.id] >= PROOF_LOOKS:
                    return self._close(proved=False)
                if action.by_tree and self._answered().issuperset(action.gives):
                    self.case.post(Skipped(action=action.id, why="It was answered already."))
                    return False
                if not self._open_way(action):
                    return self._called()
                self._look(action)
        return False

    def _look(self, action: Action) -> None:
        """Do a check and answer all that it gives."""
        here = self._answered()
        self._spend(action.minutes)
        self.found.checks.append(action.id)
        proving = bool(self.case.state.remedy)
        self.proof_looks[action.id] += proving
        wanted = {indication: states[0] for indication, states, _ in self.case.state.proof}
        for indication in [i for i in action.gives if i not in here] or action.gives:
            answer = self.stopped.answers.get(indication)
            if proving:  # whoever proves a cure looks until it is certain
                answer = self.stopped.truth.get(indication)
                answer = wanted.get(indication, self.machine.indications[indication].normal) if self.cured else answer
            elif not self.found.diagnosis:
                self.found.answered.add(indication)
            check = action.id if action.kind == "check" else ""
            if answer is None:
                self.case.cannot_tell(indication, check)
            else:
                self.case.observe(indication, plain(self.machine.indications[indication], answer), check=check)

    def _answered(self) -> set[str]:
        """What was answered in this round. A tree asks again for a lamp that failed its lamp test, since what it shows
        is not known; whoever follows it sets that aside."""
        state = self.case.state
        here = {f.indication for f in state.facts if f.round == state.round and not f.before}
        return here.union(state.cannot_tell)

    def _call(self, action: Action) -> bool:
        if action.id not in self.case.state.called:
            self.case.post(Called(role=Role(action.id)))
        return self._called()

    def _called(self, ending: str = "called") -> bool:
        """Ends the stop with the wait for whoever is called; also where this person has no way to what is advised."""
        self._diagnosed()
        self._spend(self.machine.minutes.call)
        self.found.ending = ending
        return True

    def _close(self, proved: bool) -> bool:
        """Closes a machine that runs, as cured or without its proof. One that was not cured shows that it is not, and
        then the remedy is said to have failed."""
        if not self.cured:
            self.case.post(RemedyFailed(remedy=self.case.state.remedy))
            return False
        self._go_back()
        self.case.post(self.case.ending() if proved else Closed(outcome="running"))
        self.found.ending = "cured" if proved else "unproved"
        return True

    def _diagnosed(self) -> None:
        if not self.found.diagnosis:
            self.found.diagnosis = self.case.ranking()

    def _spend(self, minutes: float) -> None:
        self.found.minutes += minutes
        self.clock.spend(minutes)

    # ------------------------------------------------------------ the gate

    def _open_way(self, action: Action) -> bool:
        """Whatever the rule asks for before this may be done; False where this person cannot bring it about."""
        for _ in range(4):
            known = action.kind in ("remedy", "reset") or action.id in self.machine.checks
            rule = self.case.action(action.id).permission if known else action.permission
            if rule.now:
                return True
            try:
                match rule.way:
                    case "lock":
                        self._lock_out(action.zone)
                    case "isolate":
                        self._lock_out(action.zone or next(iter(self.machine.zones)))
                    case "restore":
                        self._go_back()
                    case "live":
                        self._acknowledge(action.zone)
                    case _:
                        return False
            except Refused:
                return False
        return False

    def _lock_out(self, zone: str) -> None:
        """Every step of the gate as the case names them. The label's wait is waited for."""
        self._end_live()
        own = self.machine.zones[zone].lock
        self._spend(self.machine.minutes.lock if own is None else own)
        while steps := self.case.state.steps[zone]:
            step = steps[0]
            end = self.case.state.waits.get(step.target)
            if step.act is Act.RELEASED and end is not None and end > self.clock.now:
                self._spend((end - self.clock.now).total_seconds() / 60)
            self._confirm(step)

    def _go_back(self) -> None:
        """The whole return to service, zone by zone, until everything is closed and the power is on."""
        self._end_live()
        zones = [z for z, lockout in self.case.state.lockouts.items() if lockout.phase is not Phase.NONE]
        if zones:
            self._spend(self.machine.minutes.restore)
        for zone in zones:
            if self.case.state.lockouts[zone].phase not in (Phase.BACK, Phase.HOLDS):
                self._say(zone, Act.BACK)
        # A hold that several zones share comes out in the last of them, and the others wait for it.
        while zone := next((z for z in zones if self._on_its_way(z)), ""):
            self._confirm(self.case.state.steps[zone][0])

    def _on_its_way(self, zone: str) -> bool:
        """Whether something may be confirmed on the return to service of a zone."""
        state = self.case.state
        return state.lockouts[zone].phase in (Phase.BACK, Phase.HOLDS) and bool(state.steps[zone])

    def _acknowledge(self, zone: str) -> None:
        self._end_live()
        self._spend(self.machine.minutes.live)
        reason, permit = "It is measured no other way", "practice"
        self.case.post(Gate(zone=zone, act=Act.LIVE, reason=reason, permit=permit))

    def _end_live(self) -> None:
        if self.case.state.live is not None:
            self._say(self.case.state.live.zone, Act.LIVE_OVER)

    def _confirm(self, step: Step) -> None:
        """A step of the gate; a meter at a dead point reads nothing."""
        values = {}
        if "values" in step.asks:
            values = dict.fromkeys(pairs_of(self.machine.test_points[step.target]), 0.0)
        self.case.post(Gate(zone=step.zone, act=step.act, target=step.target, values=values))

    def _say(self, zone: str, act: Act) -> None:
        self.case.post(Gate(zone=zone, act=act))
