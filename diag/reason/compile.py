"""A machine turned into arrays, once. The only module of this room that knows a machine.

Layout: causes are rows; the last listed row is followed by `unlisted` (where it is like none of them; `guises` has the
rest), then by `quiet`, the machine with no fault showing, which intermittent causes fall back to and which has no
prior. The states of all indications stand side by side in one axis of length S; indication `i` owns the columns
`start[i]:start[i + 1]`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from diag.machine.model import Cause, Energy, Indication, Machine, Role
from diag.reason.constants import SLIP, UNLISTED, UNLISTED_COUNTS, UNLISTED_OFF_NORMAL, UNLISTED_PRIOR
from diag.reason.joint import Joint, JointTooLarge, connect
from diag.reason.situation import Place

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

ROLES = tuple(Role)


class CannotCompile(ValueError):
    """The machine asks for more than exact sums can do; the message names the `indications`."""

    def __init__(self, text: str, indications: tuple[str, ...] = ()) -> None:
        super().__init__(text)
        self.indications = indications


@dataclass(frozen=True, slots=True)
class Test:
    """A check in numbers."""

    __test__ = False
    id: str
    gives: tuple[int, ...]
    minutes: float
    place: Place
    who: frozenset[Role]
    needs: tuple[tuple[int, tuple[int, ...]], ...]
    """Indication and the columns, any of which will do."""


@dataclass(frozen=True, slots=True)
class Cure:
    """A remedy in numbers; `minutes` holds its own and its proof's."""

    id: str
    minutes: float
    place: Place
    who: frozenset[Role]


@dataclass(frozen=True, eq=False)
class Table:
    """What reasoning needs of a machine. C causes (with `unlisted`), S states in all, M remedies.

    A table equals only itself, so that what is drawn from it once can be kept with it."""

    causes: tuple[str, ...]
    log_prior: Array
    """[C], logs."""
    p: Array
    """[C + 1, S]: P(sight | cause), the slip in it; the last row is `quiet`. For what follows or is followed it is
    P(true state | cause) where no rule holds, and each sight has its own slip: one must not darken all that hangs."""
    quiet: Array
    """[C]: chance per round that an intermittent cause shows nothing; 0 for a lasting one."""
    indications: tuple[str, ...]
    states: tuple[tuple[str, ...], ...]
    start: Index
    """[I + 1]."""
    normal: Index
    """[I]: the column of the normal state."""
    joints: tuple[Joint, ...]
    """Connected parts of indications that follow one another."""
    free: Index
    """Indications in no connected part."""
    joined: npt.NDArray[np.bool_]
    """[I]: whether the indication is in a connected part."""
    latched: Mapping[tuple[int, int], frozenset[str]]
    """Indication and state (within it): what clears it."""
    tests: tuple[Test, ...]
    cures: tuple[Cure, ...]
    cured: Array
    """[M, C]: chance that the remedy cures, given the cause."""
    group: Index
    """[C]: causes with the same remedy or the same signature share a number."""
    lock: float
    restore: float
    live: float
    call: float

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Indication id to its number."""
        return {id: i for i, id in enumerate(self.indications)}

    @cached_property
    def cause_index(self) -> Mapping[str, int]:
        return {id: i for i, id in enumerate(self.causes)}

    @cached_property
    def owner(self) -> Index:
        """[S]: the indication that owns each column."""
        return np.repeat(np.arange(len(self.indications)), np.diff(self.start))

    def columns(self, i: int) -> slice:
        """The columns of indication `i`."""
        return slice(int(self.start[i]), int(self.start[i + 1]))


def level(row: Mapping[str, float], base: Array, states: tuple[str, ...]) -> Array:
    """One cause's probabilities over one indication's states, shape [k].

    With W the sum over the states named: above 1, divide by it; else the rest goes to `base` (all of it on the normal
    state, or a question's usual mix). Then the slip: every state gets (1 - e) p + e / k.
    """
    named = np.array([row.get(s, 0.0) for s in states])
    total = named.sum()
    p = named / total if total > 1.0 else named + (1.0 - total) * base
    return slip(p)


def slip(p: Array) -> Array:
    """(1 - e) p + e / k over the last axis."""
    return np.asarray((1.0 - SLIP) * p + SLIP / p.shape[-1])


def unslip(p: Array) -> Array:
    """The inverse of `slip`; rounding is kept from going below zero."""
    true = np.clip((p - SLIP / p.shape[-1]) / (1.0 - SLIP), 0.0, None)
    return np.asarray(true / true.sum(axis=-1, keepdims=True))


def _base(ind: Indication) -> Array:
    """What an indication shows when no cause touches it, before the slip."""
    if ind.usual:
        return np.array(ind.usual)
    return np.array([float(s == ind.normal) for s in ind.state_ids])


def _spread(ind: Indication) -> Array:
    """Off its normal state with a fixed chance, every other state alike."""
    k = len(ind.states)
    if k == 1:
        return np.ones(1)
    off = UNLISTED_OFF_NORMAL / (k - 1)
    return np.array([1.0 - UNLISTED_OFF_NORMAL if s == ind.normal else off for s in ind.state_ids])


def unlisted_row(listed: Array, spread: Array) -> Array:
    """[S]: what a cause shows that nobody wrote down and that is like none of the listed ones (`guises`): as those
    [C - 1, S] do on average, each alike, and what `spread` says with the weight of `UNLISTED_COUNTS` causes."""
    return np.asarray((listed.sum(axis=0) + UNLISTED_COUNTS * spread) / (len(listed) + UNLISTED_COUNTS))


def _row(cause: Cause, inds: tuple[Indication, ...], bases: list[Array], healthy: Array, start: Index) -> Array:
    """[S]: what the machine shows with nothing wrong, but for the indications that the cause names."""
    row = healthy.copy()
    for i, ind in enumerate(inds):
        if ind.id in cause.shows:
            row[start[i] : start[i + 1]] = level(cause.shows[ind.id], bases[i], ind.state_ids)
    return row


def _groups(machine: Machine, p: Array) -> Index:
    """Same remedy or same row: same number. `unlisted` stands alone."""
    number: dict[object, int] = {}
    found: list[int] = []
    for c, cause in enumerate(machine.causes.values()):
        row = p[c].tobytes()
        key = cause.remedy.id if cause.remedy else cause.id
        g = number.get(("remedy", key), number.get(("row", row), len(found)))
        number.setdefault(("remedy", key), g)
        number.setdefault(("row", row), g)
        found.append(g)
    found.append(len(found))
    return np.unique(np.array(found), return_inverse=True)[1].astype(np.intp)


def _proof_minutes(machine: Machine, cause: Cause) -> float:
    return sum(min((check.minutes for check in machine.checks_for[i]), default=0.0) for i in cause.proof)


def compile(machine: Machine) -> Table:
    """The machine as arrays. Raises `CannotCompile` when its connected parts are too large for exact sums."""
    inds = tuple(machine.indications.values())
    index = {ind.id: i for i, ind in enumerate(inds)}
    sizes = [len(ind.states) for ind in inds]
    start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)
    column = {(ind.id, s): int(start[i]) + k for i, ind in enumerate(inds) for k, s in enumerate(ind.state_ids)}

    bases = [_base(ind) for ind in inds]
    healthy = np.concatenate([slip(base) for base in bases])
    rows = [_row(cause, inds, bases, healthy, start) for cause in machine.causes.values()]
    rows.append(unlisted_row(np.array(rows), np.concatenate([_spread(ind) for ind in inds])))
    rows.append(healthy)
    p = np.array(rows)

    rates = np.array([cause.rate for cause in machine.causes.values()])
    prior = np.append(rates / rates.sum() * (1.0 - UNLISTED_PRIOR), UNLISTED_PRIOR)

    rules = {
        i: tuple(
            (
                tuple(
                    (index[j], tuple(column[j, s] - int(start[index[j]]) for s in states)) for j, states in rule.when
                ),
                column[ind.id, rule.shows] - int(start[i]),
            )
            for rule in ind.follows
        )
        for i, ind in enumerate(inds)
        if ind.follows
    }
    try:
        joints = connect(rules, sizes)
    except JointTooLarge as error:
        drivers = tuple(inds[i].id for i in error.drivers)
        text = f"{machine.id}: {error.count} joint states of what others follow ({', '.join(drivers)}); split them"
        raise CannotCompile(text, drivers) from None
    joined = np.zeros(len(inds), dtype=bool)
    joined[[i for joint in joints for i in joint.members]] = True
    for i in np.flatnonzero(joined):
        span = slice(int(start[i]), int(start[i + 1]))
        p[:, span] = unslip(p[:, span])

    tests = tuple(
        Test(
            check.id,
            tuple(index[i] for i in check.gives),
            check.minutes,
            Place(check.access, check.zone, check.energy),
            frozenset(check.who),
            tuple((index[i], tuple(column[i, s] for s in states)) for i, states in check.needs.items()),
        )
        for check in machine.checks.values()
    )
    causes = tuple(machine.causes)
    cures, cured = [], np.zeros((len(machine.remedies), len(causes) + 1))
    for m, remedy in enumerate(machine.remedies.values()):
        whose = machine.causes_of[remedy.id]
        proof = sum(_proof_minutes(machine, machine.causes[c]) for c in whose) / max(len(whose), 1)
        place = Place(remedy.access, remedy.zone, Energy.ANY)
        cures.append(Cure(remedy.id, remedy.minutes + proof, place, frozenset(remedy.who)))
        cured[m, [causes.index(c) for c in whose]] = remedy.chance

    return Table(
        causes=(*causes, UNLISTED),
        log_prior=np.log(prior),
        p=p,
        quiet=np.array([*(cause.quiet for cause in machine.causes.values()), 0.0]),
        indications=tuple(index),
        states=tuple(ind.state_ids for ind in inds),
        start=start,
        normal=np.array([column[ind.id, ind.normal] for ind in inds], dtype=np.intp),
        joints=joints,
        free=np.flatnonzero(~joined),
        joined=joined,
        latched={
            (i, k): frozenset(state.cleared_by)
            for i, ind in enumerate(inds)
            for k, state in enumerate(ind.states)
            if state.cleared_by
        },
        tests=tests,
        cures=tuple(cures),
        cured=cured,
        group=_groups(machine, p),
        lock=machine.minutes.lock,
        restore=machine.minutes.restore,
        live=machine.minutes.live,
        call=machine.minutes.call,
    )
