"""The proof that no path leads to work inside an enclosure without the gate.

Every path of the authored trees is walked, every answer at every question, and every computed advice over every
outcome to a stated depth, for each role with every power that a person can have. At each position of each path the
machine is as it was found, with nothing locked out; then everything that the case can offer is asked for: no check,
remedy or reset that goes inside may show how it is done, be answered, or be entered as done.

Then each zone is locked out, proved dead and returned to service through the case, and the same is asked for at each
step: dead, the remedies of that zone may be entered, and nothing else; before and after, none. `prove_gate` walks every
state of the gate and every way back.

It trusts the access that the file declares for each check and remedy, and that a tree's own instructions are for
outside only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import copy
from dataclasses import dataclass, field
from datetime import UTC, datetime

from diag.case.case import Case
from diag.case.log.events import CannotTell, Did, Event, Found, Gate, Remedied
from diag.case.snapshot import Action
from diag.machine.model import Access, Machine, Role
from diag.reason.advice.one_step import Outcome
from diag.safety import Act, Person, Phase
from diag.safety.measured import pairs_of
from diag.tree import walk as tree
from diag.vet.proof.prove_gate import GateProof, prove_gate

BY = "the proof"
ANOTHER = "somebody else"
"""What is found inside is never an operator's own, so it is entered as another person's."""
DEPTH = 1
"""Checks of the computed advice, one after another, when nothing else is said."""

Step = tuple[str, str]
"""An indication and its state, empty where nobody could tell; or a tree and its instruction."""
Path = tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Counter:
    """A path that leads inside."""

    role: Role
    path: Path
    action: str
    wrong: str

    @property
    def text(self) -> str:
        way = ", ".join(f"{what} {state or 'not to be told'}" for what, state in self.path) or "at once"
        return f"as {self.role.value}: {way}: {self.action} {self.wrong}"


@dataclass(slots=True)
class Proof:
    """How much was walked, and the first path that leads inside, if one does."""

    machine: str
    depth: int
    tree_paths: int = 0
    """From the start tree's root to an end, over all roles."""
    advice_paths: int = 0
    positions: int = 0
    """Positions on the paths at which everything was asked for."""
    asked: int = 0
    """Actions that were asked for, each at each position."""
    inside: int = 0
    """Of those, the ones that go inside and were refused."""
    steps: int = 0
    """Steps of the gates and of the ways back that were taken through a case, over all roles that may."""
    gate: GateProof = field(default_factory=GateProof)
    counter: Counter | None = None

    @property
    def holds(self) -> bool:
        return self.counter is None and not self.gate.counter


class _Broken(Exception):
    """A path that leads inside was found."""


def prove(machine: Machine, depth: int = DEPTH, done: Callable[[int], None] = lambda n: None) -> Proof:
    """Walks everything; ends at the first path that leads inside. `done` is told of every position."""
    proof = Proof(machine.id, depth)
    try:
        for role in Role:
            prover = _Prover(machine, role, proof, done)
            if machine.start in machine.trees:
                prover.tree(prover.start(), ())
            prover.advice(prover.start(), (), depth)
            if role is not Role.OPERATOR:
                prover.gates()
        proof.gate = prove_gate(machine, done)
    except _Broken:
        pass
    return proof


class _Clock:
    """It stands still, but for the waits of stored energy."""

    def __init__(self) -> None:
        self.now = datetime(2000, 1, 1, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now


class _Prover:
    def __init__(self, machine: Machine, role: Role, proof: Proof, done: Callable[[int], None]) -> None:
        self.machine, self.role, self.proof, self.done = machine, role, proof, done
        self.seen: set[frozenset[Step]] = set()
        self.clock = _Clock()
        self.inner = [
            *(("check", c.id) for c in machine.checks.values() if c.access is not Access.OUTSIDE),
            *(("remedy", r.id) for r in machine.remedies.values() if r.access is not Access.OUTSIDE),
        ]

    def start(self) -> Case:
        return Case.open(self.machine, Person(BY, self.role, authorised=True, qualified=True), clock=self.clock)

    def then(self, case: Case, *steps: Step) -> Case:
        """The case after these steps. Facts from inside are entered as found before the case, as anybody could enter
        them to get past the gate."""
        case = copy(case)
        for what, state in steps:
            event: Event = (
                Found(indication=what, seen={state: 1.0}, said=state, before=ANOTHER)
                if state
                else CannotTell(indication=what)
            )
            case.post(Did(tree=what, text=state) if what in self.machine.trees else event)
        return case

    # ---------------------------------------------------------------- paths

    def tree(self, case: Case, path: Path) -> None:
        self.position(case, path)
        danger = case.state.danger
        match case.tree_position():
            case tree.Ask(indication=indication) if not danger and indication not in dict(path):
                steps = [(indication, s) for s in (*self.machine.indications[indication].state_ids, "")]
            case tree.Instruct(tree=of, text=text) if not danger:
                steps = [(of, text)]
            case _:
                steps = []
                self.proof.tree_paths += 1
        for step in steps:
            self.tree(self.then(case, step), (*path, step))

    def advice(self, case: Case, path: Path, left: int) -> None:
        self.position(case, path)
        outcomes: tuple[Outcome, ...] = ()
        if left and (lookahead := case.lookahead()) is not None:
            outcomes = lookahead.plan.best.outcomes
            self.offered(case, path)
        self.proof.advice_paths += not outcomes
        for outcome in outcomes:
            self.advice(self.then(case, *outcome.states), (*path, *outcome.states), left - 1)

    # ---------------------------------------------------------------- the gates

    def gates(self) -> None:
        """Each zone through its gate and back, with all that goes inside asked for at each step."""
        for zone in self.machine.zones.values():
            if zone.points and zone.test_points:
                case = self.start()
                path: Path = ()
                for begin in (Act.TOLD, Act.BACK):
                    path = self.confirmed(case, path, Gate(zone=zone.id, act=begin))
                    while steps := case.state.steps[zone.id]:
                        step, point = steps[0], self.machine.test_points.get(steps[0].target)
                        if step.act is Act.RELEASED:
                            self.clock.now = max(self.clock.now, case.state.waits.get(step.target, self.clock.now))
                        values = dict.fromkeys(pairs_of(point), 0.0) if "values" in step.asks and point else {}
                        said = Gate(zone=zone.id, act=step.act, target=step.target, values=values)
                        if begin is Act.BACK and case.state.lockouts[zone.id].phase is Phase.NONE:
                            break
                        path = self.confirmed(case, path, said)

    def confirmed(self, case: Case, path: Path, said: Gate) -> Path:
        """The path after this confirmation; what may be entered then is asked for."""
        case.post(said)
        path = (*path, (f"{said.zone} {said.act}", said.target or "done"))
        dead = case.state.lockouts[said.zone].phase is Phase.DEAD
        for kind, id in self.inner:
            action = self.machine.remedies[id] if kind == "remedy" else self.machine.checks[id]
            within = dead and action.zone == said.zone and action.access is Access.DEAD
            refused = self.refused(case, kind, id)
            if not refused and not within:
                self.broken(path, id, "is taken as done without the gate")
            if refused and within and kind == "remedy" and self.role in action.who:
                self.broken(path, id, "is refused past the gate")
        self.proof.asked += len(self.inner)
        self.proof.steps += 1
        self.done(1)
        return path

    # ---------------------------------------------------------------- one position

    def position(self, case: Case, path: Path) -> None:
        """Asks for everything here, once for each set of facts."""
        facts = frozenset(path)
        if facts not in self.seen:
            self.seen.add(facts)
            for kind, id in self.inner:
                self.inspect(case.action(id), path)
                if not self.refused(case, kind, id):
                    self.broken(path, id, "is taken as done without the gate")
            for id in self.machine.resets:
                self.inspect(case.action(id), path)
            self.proof.positions += 1
            self.proof.asked += len(self.inner) + len(self.machine.resets)
            self.proof.inside += len(self.inner)
            self.done(1)

    def offered(self, case: Case, path: Path) -> None:
        """Inspects what the advice shows here."""
        advice = case.advice()
        for action in filter(None, (advice.next, *advice.others, *advice.checks)):
            self.inspect(action, path)
            self.proof.asked += 1

    def inspect(self, action: Action, path: Path) -> None:
        if action.access is Access.OUTSIDE:
            return
        rule = action.permission
        if rule.how or action.how:
            self.broken(path, action.id, "shows how work inside is done without the gate")
        if rule.now:
            self.broken(path, action.id, "may be done inside without the gate")

    def refused(self, case: Case, kind: str, id: str) -> bool:
        """Whether the case refuses to enter it as done."""
        event: Event = Remedied(remedy=id)
        if kind == "check":
            indication = self.machine.checks[id].gives[0]
            state = self.machine.indications[indication].state_ids[0]
            event = Found(indication=indication, seen={state: 1.0}, said=state, check=id)
        return case.refusal(event) != ""

    def broken(self, path: Path, action: str, wrong: str) -> None:
        self.proof.counter = Counter(self.role, path, action, wrong)
        raise _Broken


def lines(proof: Proof) -> Iterator[str]:
    """The result in words."""
    yield (
        f"{proof.machine}: {proof.tree_paths:,} paths of the trees, {proof.advice_paths:,} of the computed advice "
        f"{proof.depth} deep, for each role with every power"
    )
    if proof.counter is not None or proof.gate.counter:
        yield f"  DOES NOT HOLD {proof.counter.text if proof.counter is not None else proof.gate.counter}"
        return
    yield (
        f"  {proof.positions:,} positions, {proof.asked:,} actions asked for, {proof.inside:,} that go inside: none "
        "shown, answered or entered as done without the gate"
    )
    yield (
        f"  {proof.steps:,} steps through the gates of {proof.gate.zones} zones and back, and "
        f"{proof.gate.states:,} states of these gates: no check and no remedy inside is offered or taken but past the "
        "gate"
    )
    yield (
        f"  {proof.gate.ways:,} ways back, also with all off that a check or a remedy takes off, and as power for a "
        "test: each ends with power on, and nothing left in, off or lifted"
    )
    yield "  It trusts the access that the file declares, and that a tree's own instructions are for outside only."
