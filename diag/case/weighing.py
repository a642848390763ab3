"""The facts of a case in numbers. The one module of this room that loads NumPy, and so is itself loaded late."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from diag.case.folded import Folded
from diag.case.snapshot import Likely, Two, Weight
from diag.case.telling import cause_title, of_odd, percent
from diag.case.words import answered, shown_state
from diag.machine.model import Machine
from diag.reason import belief as beliefs
from diag.reason.advise import Plan, advise
from diag.reason.belief import Belief, believe
from diag.reason.compile import Table, compile
from diag.reason.constants import UNLISTED, UNLISTED_TITLE
from diag.reason.deeper import deepen
from diag.reason.evidence import Evidence, Sight
from diag.reason.overturn import overturn
from diag.reason.pairs import pair_up
from diag.reason.situation import Situation
from diag.reason.surprise import Oddity, oddity
from diag.safety import dead_zones, live_zones

CONSIDERED = 0.01
"""A cause that falls below this after it stood above it counts as ruled out on the sheet."""
PAIR_NAMED = 0.05
"""Two causes are named when they are at least this likely."""
KEPT = 64
"""How many beliefs and plans are kept: undo and a note then cost nothing."""

_tables: dict[int, tuple[Machine, Table]] = {}
"""The machines compiled last, by identity; each is kept with its table, so no identity here is another machine's."""
MACHINES_KEPT = 8


def table_of(machine: Machine) -> Table:
    """The machine's table, compiled once. Raises `CannotCompile`."""
    found = _tables.get(id(machine))
    if found is None:
        _trim(_tables, MACHINES_KEPT)
        found = _tables[id(machine)] = (machine, compile(machine))
    return found[1]


@dataclass(frozen=True, eq=False)
class Further:
    """What there is to look at further ahead; it holds all that this needs, and may be asked in any thread."""

    key: object
    belief: Belief
    situation: Situation
    plan: Plan

    def look(self, off: Callable[[], bool], late: Callable[[], bool] = bool) -> Plan | None:
        """The plan by what comes after; None when it was called off, or was late too early. Both are asked every few
        milliseconds: `off`, whether nobody wants to know any more; `late`, whether what was found is to count."""
        return deepen(self.belief, self.situation, self.plan, off, late)


class Weighing:
    """Beliefs and plans of one case, kept by what they were computed from."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.table = table_of(machine)
        self._beliefs: dict[object, Belief] = {}
        self._plans: dict[object, Plan] = {}
        self._oddities: dict[object, Oddity | None] = {}

    def belief(self, folded: Folded) -> Belief:
        evidence = evidence_of(folded)
        key = _key(evidence)
        if key not in self._beliefs:
            _trim(self._beliefs)
            self._beliefs[key] = believe(self.table, evidence)
        return self._beliefs[key]

    def plan(self, folded: Folded, barred: frozenset[str]) -> Plan:
        """The next thing by expected minutes, for the person at the keys and the machine as it stands."""
        situation, belief = self._situation(folded, barred), self.belief(folded)
        key = (_key(belief.evidence), situation)
        if key not in self._plans:
            _trim(self._plans)
            self._plans[key] = advise(belief, situation)
        return self._plans[key]

    def further(self, folded: Folded, barred: frozenset[str]) -> Further:
        """The same, to be looked at further ahead."""
        situation, belief = self._situation(folded, barred), self.belief(folded)
        return Further((_key(belief.evidence), situation), belief, situation, self.plan(folded, barred))

    def heed(self, further: Further, plan: Plan) -> None:
        """From now on this plan is given where that one was."""
        self._plans[further.key] = plan

    def _situation(self, folded: Folded, barred: frozenset[str]) -> Situation:
        state = folded.state
        return Situation(
            role=state.person.role,
            energised=state.energised,
            dead=dead_zones(self.machine, folded.site, state.person),
            live=live_zones(self.machine, folded.site, state.person),
            barred=barred,
            begun=begun(self.machine, folded),
        )

    def oddity(self, folded: Folded) -> Oddity | None:
        """How odd the facts are for any single cause, and what else would explain them; None without facts."""
        belief = self.belief(folded)
        key = _key(belief.evidence)
        if key not in self._oddities:
            _trim(self._oddities)
            self._oddities[key] = oddity(belief)
        return self._oddities[key]

    def odd(self, folded: Folded) -> str:
        """What to do about facts that no single cause explains, in one line; empty where one does."""
        found = self.oddity(folded)
        if found is None or not found.odd:
            return ""
        again = dict.fromkeys(folded.evidence[a.sight].title for a in found.again)
        pair = found.pair if found.pair and found.pair.probability >= PAIR_NAMED else None
        return of_odd(tuple(again), tuple(cause_title(self.machine, c) for c in pair.causes) if pair else ())

    def two(self, folded: Folded, most: int) -> tuple[Two, ...]:
        """The likeliest two causes at once, best first, whether or not one alone explains the facts."""
        found = []
        for pair in pair_up(self.belief(folded)).best(most):
            first, second = (cause_title(self.machine, c) for c in pair.causes)
            found.append(Two(pair.causes, (first, second), pair.probability))
        return tuple(found)

    def likely(self, folded: Folded) -> tuple[Likely, ...]:
        """All causes, best first, `unlisted` among them."""
        belief = self.belief(folded)
        found = []
        for c in belief.order:
            id = self.table.causes[int(c)]
            p = float(belief.posterior[int(c)])
            if id == UNLISTED:
                found.append(Likely(id, UNLISTED_TITLE, "", p))
            else:
                cause = self.machine.causes[id]
                found.append(Likely(id, cause.title, cause.part, p))
        return tuple(found)

    def weights(self, folded: Folded, cause: str) -> tuple[Weight, ...]:
        """What each fact says about one cause, in decibans, in the order of the facts. Raises KeyError."""
        decibans = beliefs.weights(self.belief(folded), cause)
        found = [
            Weight(
                fact.seq, answered(fact.title, shown_state(self.machine.indications[fact.indication], fact.state)), d
            )
            for fact, d in zip(folded.evidence, decibans, strict=True)
        ]
        return tuple(sorted(found, key=lambda w: w.fact))

    def overturn(self, folded: Folded, cause: str) -> str:
        """What single fact would end the lead of this cause, or give it the lead, in words; empty when none would.

        Raises KeyError."""
        belief = self.belief(folded)
        found = overturn(belief, cause)
        if found is None:
            return ""
        ind = self.machine.indications[found.indication]
        fact = f"{ind.title} {shown_state(ind, found.state)} ({percent(found.chance)})"
        if found.leads == cause:
            return f"It would lead after: {fact}."
        return f"Overturned by: {fact}; then {cause_title(self.machine, found.leads)} leads."

    def could_be(self, folded: Folded, indication: str, seen: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
        """States that a sight fits, with their shares by what else is known, best first. Raises KeyError."""
        belief = self.belief(folded)
        i = self.table.index[indication]
        now = belief.posterior @ belief.predicted[:, self.table.columns(i)]
        weights = {s: float(p) * seen.get(s, 0.0) for s, p in zip(self.table.states[i], now, strict=True)}
        total = sum(weights.values())
        ranked = sorted(((s, w / total) for s, w in weights.items() if w > 0.0), key=lambda pair: -pair[1])
        return tuple(ranked)

    def ruled_out(self, folded: Folded) -> tuple[tuple[str, float, str], ...]:
        """Causes that stood at `CONSIDERED` or above at some time and are below it now: cause, its probability, and the
        fact that speaks most against it (or empty); the ones that stood highest first."""
        belief = self.belief(folded)
        facts = sorted(folded.evidence, key=lambda f: f.seq)
        whole = evidence_of(folded)
        peak = belief.posterior
        for n in range(len(facts)):
            so_far = {f.seq for f in facts[:n]}
            sights = tuple(s for s, f in zip(whole.sights, folded.evidence, strict=True) if f.seq in so_far)
            peak = np.maximum(peak, believe(self.table, Evidence(sights, whole.cleared)).posterior)
        found = []
        for c in np.argsort(-peak, kind="stable"):
            id = self.table.causes[int(c)]
            if id != UNLISTED and belief.posterior[c] < CONSIDERED <= peak[c]:
                against = min(self.weights(folded, id), key=lambda w: w.decibans, default=None)
                text = against.text if against is not None and against.decibans < 0 else ""
                found.append((id, float(belief.posterior[c]), text))
        return tuple(found)


def begun(machine: Machine, folded: Folded) -> tuple[tuple[str, float], ...]:
    """The checks of several answers that the last answer was one of, and the share of each that is still to be told.

    Whoever reads a row of lamps and has told the first stands in front of the others: they cost what is left of the
    check's minutes, each answer taken as the same share of them."""
    here = [f for f in folded.state.facts if f.round == folded.state.round and not f.before]
    if not here or here[-1] is not folded.state.facts[-1]:
        return ()
    answered = {f.indication for f in here}.union(folded.state.cannot_tell)
    found = []
    for check in machine.checks_for.get(here[-1].indication, ()):
        open_ = sum(id not in answered for id in check.gives)
        if 0 < open_ < len(check.gives):
            found.append((check.id, open_ / len(check.gives)))
    return tuple(found)


def evidence_of(folded: Folded) -> Evidence:
    """What reasoning takes of a case."""
    return Evidence(tuple(Sight(f.indication, f.seen, f.round) for f in folded.evidence), folded.cleared, folded.failed)


def _key(evidence: Evidence) -> object:
    sights = tuple((s.indication, tuple(s.seen.items()), s.round) for s in evidence.sights)
    return sights, evidence.cleared, evidence.failed


def _trim(kept: dict[Any, Any], most: int = KEPT) -> None:
    if len(kept) >= most:
        del kept[next(iter(kept))]
