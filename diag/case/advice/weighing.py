"""The facts of a case in numbers. No other module of this room loads NumPy, so this one is loaded late."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import numpy as np

from diag.case.advice.rationale import cause_title, of_odd
from diag.case.log.projection import Projection
from diag.case.phrases import answered, shown_state
from diag.case.snapshot import Likely, Two, Weight
from diag.machine.model import UNLISTED, Machine
from diag.reason.advice.look_ahead import look_ahead
from diag.reason.advice.one_step import Plan, advise
from diag.reason.belief.belief import Belief, believe, weights
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.belief.misfit import Misfit, misfit
from diag.reason.belief.overturn import overturn
from diag.reason.belief.pairs import pair_up
from diag.reason.constants import UNLISTED_TITLE
from diag.reason.table.compile import table_of
from diag.reason.table.situation import Situation
from diag.safety import dead_zones, live_zones
from diag.text import percent

CONSIDERED = 0.01
"""A cause that falls below this after it stood above it counts as ruled out on the sheet."""
PAIR_NAMED = 0.05
"""Two causes are named when they are at least this likely."""
KEPT = 64
"""How many beliefs and plans are kept: undo and a note then cost nothing."""

T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Lookahead:
    """A look ahead with all that it needs, so that any thread may take it."""

    key: object
    belief: Belief
    situation: Situation
    plan: Plan

    def look(
        self, off: Callable[[], bool] = bool, late: Callable[[], bool] = bool, nodes: int | None = None
    ) -> Plan | None:
        """The plan by what comes after it, as `diag.reason.advice.look_ahead` finds it."""
        return look_ahead(self.belief, self.situation, self.plan, off, late, nodes)


class Weighing:
    """Beliefs and plans of one case, kept by what they were computed from. `Case` says what each method answers."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.table = table_of(machine)
        self._beliefs: dict[object, Belief] = {}
        self._plans: dict[object, Plan] = {}

    def belief(self, projection: Projection) -> Belief:
        evidence = evidence_of(projection)
        return _kept(self._beliefs, _key(evidence), partial(believe, self.table, evidence))

    def plan(self, projection: Projection, excluded: frozenset[str]) -> Plan:
        """The next thing by expected minutes, for the person at the keys and the machine as it stands."""
        return self.lookahead(projection, excluded).plan

    def lookahead(self, projection: Projection, excluded: frozenset[str]) -> Lookahead:
        state, belief = projection.state, self.belief(projection)
        situation = Situation(
            role=state.person.role,
            energised=state.energised,
            dead=dead_zones(self.machine, projection.isolation, state.person),
            live=live_zones(self.machine, projection.isolation, state.person),
            excluded=excluded,
            partially_done=partially_done(self.machine, projection),
        )
        key = (_key(belief.evidence), situation)
        return Lookahead(key, belief, situation, _kept(self._plans, key, partial(advise, belief, situation)))

    def adopt_plan(self, lookahead: Lookahead, plan: Plan) -> None:
        """From now on this plan stands where the look ahead began."""
        self._plans[lookahead.key] = plan

    def misfit(self, projection: Projection) -> Misfit | None:
        """How odd the facts are for any single cause, and what else would explain them; None without facts."""
        return misfit(self.belief(projection))

    def odd(self, projection: Projection) -> str:
        """What to do about facts that no single cause explains, in one line; empty where one does."""
        found = self.misfit(projection)
        if found is None or not found.unexplained:
            return ""
        again = dict.fromkeys(projection.evidence[a.observation].title for a in found.again)
        two = found.pair.causes if found.pair and found.pair.probability >= PAIR_NAMED else ()
        return of_odd(tuple(again), tuple(cause_title(self.machine, c) for c in two))

    def two(self, projection: Projection, most: int) -> tuple[Two, ...]:
        found = []
        for pair in pair_up(self.belief(projection)).best(most):
            first, second = (cause_title(self.machine, c) for c in pair.causes)
            found.append(Two(pair.causes, (first, second), pair.probability))
        return tuple(found)

    def likely(self, projection: Projection) -> tuple[Likely, ...]:
        belief, found = self.belief(projection), []
        for c in belief.order:
            id = self.table.causes[c]
            cause = self.machine.causes.get(id)
            title, part = (cause.title, cause.part) if cause else (UNLISTED_TITLE, "")
            found.append(Likely(id, title, part, float(belief.posterior[c])))
        return tuple(found)

    def weights(self, projection: Projection, cause: str) -> tuple[Weight, ...]:
        """In the order in which the facts were entered."""
        found = []
        for fact, decibans in zip(projection.evidence, weights(self.belief(projection), cause), strict=True):
            shown = shown_state(self.machine.indications[fact.indication], fact.state)
            found.append(Weight(fact.seq, answered(fact.title, shown), decibans))
        return tuple(sorted(found, key=lambda w: w.fact))

    def log_likelihood(self, projection: Projection, cause: str) -> float:
        return float(self.belief(projection).log_likelihood[self.table.cause_index[cause]])

    def overturn(self, projection: Projection, cause: str) -> str:
        found = overturn(self.belief(projection), cause)
        if found is None:
            return ""
        ind = self.machine.indications[found.indication]
        fact = f"{ind.title} {shown_state(ind, found.state)} ({percent(found.chance)})"
        if found.leads == cause:
            return f"It would lead after: {fact}."
        return f"Overturned by: {fact}; then {cause_title(self.machine, found.leads)} leads."

    def could_be(
        self, projection: Projection, indication: str, seen: Mapping[str, float]
    ) -> tuple[tuple[str, float], ...]:
        """Best first. Raises KeyError."""
        belief = self.belief(projection)
        i = self.table.index[indication]
        now = belief.posterior @ belief.predicted[:, self.table.columns(i)]
        fits = {s: float(p) * seen.get(s, 0.0) for s, p in zip(self.table.states[i], now, strict=True)}
        total = sum(fits.values())
        return tuple(sorted(((s, w / total) for s, w in fits.items() if w > 0.0), key=lambda pair: -pair[1]))

    def ruled_out(self, projection: Projection) -> tuple[tuple[str, float, str], ...]:
        """Those that stood at `CONSIDERED` or above after some of the facts, and are below it now."""
        belief = self.belief(projection)
        whole, peak = belief.evidence, belief.posterior
        seqs = [f.seq for f in projection.evidence]
        for seq in seqs:
            before = tuple(s for s, n in zip(whole.observed, seqs, strict=True) if n < seq)
            peak = np.maximum(peak, believe(self.table, Evidence(before, whole.cleared)).posterior)
        found = []
        for c in np.argsort(-peak, kind="stable"):
            id = self.table.causes[c]
            if id != UNLISTED and belief.posterior[c] < CONSIDERED <= peak[c]:
                against = min(self.weights(projection, id), key=lambda w: w.decibans, default=None)
                text = against.text if against is not None and against.decibans < 0 else ""
                found.append((id, float(belief.posterior[c]), text))
        return tuple(found)


def partially_done(machine: Machine, projection: Projection) -> tuple[tuple[str, float], ...]:
    """The checks that give several answers and were begun with the last one, each with the share that is still open.

    Whoever has read the first of a row of lamps stands in front of the others, so these cost only what is left of the
    check's minutes. Each answer counts as the same share of them."""
    here = [f for f in projection.state.facts if f.round == projection.state.round and not f.before]
    if not here or here[-1] is not projection.state.facts[-1]:
        return ()
    answered = {f.indication for f in here}.union(projection.state.cannot_tell)
    found = []
    for check in machine.checks_for.get(here[-1].indication, ()):
        open_ = sum(id not in answered for id in check.gives)
        if 0 < open_ < len(check.gives):
            found.append((check.id, open_ / len(check.gives)))
    return tuple(found)


def evidence_of(projection: Projection) -> Evidence:
    """The facts of a case in the form that reasoning takes."""
    return Evidence(
        tuple(Observed(f.indication, f.seen, f.round) for f in projection.evidence),
        projection.cleared,
        projection.failed,
    )


def _key(evidence: Evidence) -> object:
    observed = tuple((s.indication, tuple(s.seen.items()), s.round) for s in evidence.observed)
    return observed, evidence.cleared, evidence.failed


def _kept(kept: dict[object, T], key: object, make: Callable[[], T]) -> T:
    """What is kept under a key, made where it is not; of more than `KEPT` the oldest goes."""
    if key not in kept:
        if len(kept) >= KEPT:
            del kept[next(iter(kept))]
        kept[key] = make()
    return kept[key]
