"""The proof that no path leads to work inside an enclosure without the gate.

Every path of the authored trees is walked, every answer at every question, and every computed advice over every
outcome to a stated depth, for each role with every power that a person can have. At each position of each path the
machine is as it was found, with nothing locked out; then everything that the case can offer is asked for: no check,
remedy or reset that goes inside may show how it is done, be answered, or be entered as done.

It trusts the access that the file declares for each check and remedy, and that a tree's own instructions are for
outside only. That the gate itself holds is walked state by state in the tests of `safety`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import copy
from dataclasses import dataclass

from diag.case.case import Case
from diag.case.log.events import CannotTell, Did, Event, Found, Remedied
from diag.case.snapshot import Action
from diag.machine.model import Access, Machine, Role
from diag.reason.advice.one_step import Outcome
from diag.safety import Person
from diag.tree import walk as tree

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
    counter: Counter | None = None

    @property
    def holds(self) -> bool:
        return self.counter is None


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
    except _Broken:
        pass
    return proof


class _Prover:
    def __init__(self, machine: Machine, role: Role, proof: Proof, done: Callable[[int], None]) -> None:
        self.machine, self.role, self.proof, self.done = machine, role, proof, done
        self.seen: set[frozenset[Step]] = set()
        self.inner = [
            *(("check", c.id) for c in machine.checks.values() if c.access is not Access.OUTSIDE),
            *(("remedy", r.id) for r in machine.remedies.values() if r.access is not Access.OUTSIDE),
        ]

    def start(self) -> Case:
        return Case.open(self.machine, Person(BY, self.role, authorised=True, qualified=True))

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
    if proof.counter is not None:
        yield f"  DOES NOT HOLD {proof.counter.text}"
        return
    yield (
        f"  {proof.positions:,} positions, {proof.asked:,} actions asked for, {proof.inside:,} that go inside: none "
        "shown, answered or entered as done without the gate"
    )
    yield "  It trusts the access that the file declares, and that a tree's own instructions are for outside only."
