"""A machine turned into arrays. Only this module and `situation` know a machine.

Layout: causes are rows. The last listed cause is followed by `unlisted` (where it is like none of them;
`unlisted_mixture` has the rest), then by `healthy`, the machine with no fault showing, which intermittent causes fall
back to and which has no prior. The states of all indications stand side by side in one axis of length S; indication `i`
owns the columns `start[i]:start[i + 1]`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from diag.machine.model import UNLISTED, Access, Energy, Indication, Machine, Role, scaled
from diag.reason.constants import SLIP, UNLISTED_COUNTS, UNLISTED_OFF_NORMAL, UNLISTED_PRIOR
from diag.reason.table.joint import Condition, Joint, JointTooLarge, connect
from diag.reason.table.situation import Minutes, Place

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

MACHINES_KEPT: Final = 8
_tables: dict[int, tuple[Machine, Table]] = {}
"""The machines compiled last, by identity; each is kept with its table, so no identity here is another machine's."""

HEALTHY = -1
"""The row of the machine on which nothing shows, in `Table.p` and in whatever has its rows."""


class CannotCompile(ValueError):
    """The machine asks for more than exact sums can do; the message names the `indications`."""

    def __init__(self, text: str, indications: tuple[str, ...] = ()) -> None:
        super().__init__(text)
        self.indications = indications


@dataclass(frozen=True, slots=True)
class TableCheck:
    """A check in numbers."""

    __test__ = False
    id: str
    gives: tuple[int, ...]
    minutes: float
    place: Place
    who: frozenset[Role]
    needs: tuple[tuple[int, ...], ...]
    """For each indication that has to be in some state first, the columns of which any will do."""


@dataclass(frozen=True, slots=True)
class TableRemedy:
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
    """[C + 1, S]: P(observation | cause), with the slip; the last row is `healthy`. Where something follows, it is
    P(true state | cause) where no rule holds, and each observation has its own slip: one must not darken all that hangs
    on it."""
    rest_probability: Array
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
    joined: Flags
    """[I]: whether the indication is in a connected part."""
    latched: Mapping[tuple[int, int], frozenset[str]]
    """Indication and state (within it): what clears it."""
    checks: tuple[TableCheck, ...]
    remedies: tuple[TableRemedy, ...]
    cured: Array
    """[M, C]: chance that the remedy cures, given the cause."""
    group: Index
    """[C]: causes with the same remedy or the same signature share a number."""
    times: Minutes

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Indication id to its number."""
        return {id: i for i, id in enumerate(self.indications)}

    @cached_property
    def cause_index(self) -> Mapping[str, int]:
        return {id: c for c, id in enumerate(self.causes)}

    @cached_property
    def remedy_index(self) -> Mapping[str, int]:
        return {remedy.id: m for m, remedy in enumerate(self.remedies)}

    @cached_property
    def owner(self) -> Index:
        """[S]: the indication that owns each column."""
        return np.repeat(np.arange(len(self.indications)), np.diff(self.start))

    @cached_property
    def touches(self) -> Flags:
        """[C + 1, I]: whether a row shows anything else of an indication than the healthy machine does."""
        return np.asarray(np.logical_or.reduceat(self.p != self.p[HEALTHY], self.start[:-1], axis=1))

    def columns(self, i: int) -> slice:
        """The columns of indication `i`."""
        return slice(int(self.start[i]), int(self.start[i + 1]))

    def parted(self, told: Flags) -> tuple[list[int], list[Joint]]:
        """The indications flagged in `told` [I] that are linked with no other, and the connected parts of the rest."""
        parts = [part for joint in self.joints for part in joint.parts_of(told)]
        linked = {i for part in parts for i in part.members}
        return [i for i in np.flatnonzero(told).tolist() if i not in linked], parts

    def of_causes(self, kept: Flags) -> Table:
        """The table with only the causes flagged in `kept` [C], their priors as they are."""
        return replace(
            self,
            causes=tuple(np.array(self.causes)[kept].tolist()),
            log_prior=self.log_prior[kept],
            p=self.p[np.append(kept, True)],
            rest_probability=self.rest_probability[kept],
            cured=self.cured[:, kept],
            group=np.unique(self.group[kept], return_inverse=True)[1].astype(np.intp),
        )


def level(row: Mapping[str, float], base: Array, states: tuple[str, ...]) -> Array:
    """One cause's probabilities over one indication's states, shape [k].

    The chances of the states named are `scaled` where they add up to more than 1; else the rest goes to `base` (all
    of it on the normal state, or a question's usual mix). Then the slip: every state gets (1 - e) p + e / k.
    """
    chances = scaled(row)
    named = np.array([chances.get(s, 0.0) for s in states])
    rest = max(0.0, 1.0 - sum(row.values()))
    return slip(named + rest * base)


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
    """[S]: what a cause shows that nobody wrote down and that is like none of the listed ones (`components`): as those
    [C - 1, S] do on average, each alike, and what `spread` says with the weight of `UNLISTED_COUNTS` causes."""
    return np.asarray((listed.sum(axis=0) + UNLISTED_COUNTS * spread) / (len(listed) + UNLISTED_COUNTS))


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


class _Layout:
    """Where each indication and each of its states stands."""

    def __init__(self, machine: Machine) -> None:
        self.indications = tuple(machine.indications.values())
        self.sizes = [len(ind.states) for ind in self.indications]
        self.index = {ind.id: i for i, ind in enumerate(self.indications)}
        self.start = np.concatenate([[0], np.cumsum(self.sizes)]).astype(np.intp)
        self.state = [{s: k for k, s in enumerate(ind.state_ids)} for ind in self.indications]
        """For each indication: its states, by their place among them."""

    def columns(self, i: int) -> slice:
        return slice(int(self.start[i]), int(self.start[i + 1]))

    def column(self, id: str, state: str) -> int:
        i = self.index[id]
        return int(self.start[i]) + self.state[i][state]


def compile(machine: Machine) -> Table:
    """The machine as arrays. Raises `CannotCompile` when its connected parts are too large for exact sums."""
    at = _Layout(machine)
    causes = (*machine.causes, UNLISTED)
    rates = np.array([cause.rate for cause in machine.causes.values()])
    joints = _joints(machine, at)
    joined = np.zeros(len(at.indications), dtype=bool)
    joined[[i for joint in joints for i in joint.members]] = True
    p = _rows(machine, at)
    for i in np.flatnonzero(joined).tolist():
        p[:, at.columns(i)] = unslip(p[:, at.columns(i)])
    return Table(
        causes=causes,
        log_prior=np.log(np.append(rates / rates.sum() * (1.0 - UNLISTED_PRIOR), UNLISTED_PRIOR)),
        p=p,
        rest_probability=np.array([*(cause.rest_probability for cause in machine.causes.values()), 0.0]),
        indications=tuple(at.index),
        states=tuple(ind.state_ids for ind in at.indications),
        start=at.start,
        normal=np.array([at.column(ind.id, ind.normal) for ind in at.indications], dtype=np.intp),
        joints=joints,
        free=np.flatnonzero(~joined),
        joined=joined,
        latched={
            (i, k): frozenset(state.cleared_by)
            for i, ind in enumerate(at.indications)
            for k, state in enumerate(ind.states)
            if state.cleared_by
        },
        checks=_checks(machine, at),
        remedies=_remedies(machine),
        cured=_cured(machine, causes),
        group=_groups(machine, p),
        times=machine.minutes,
    )


def _rows(machine: Machine, at: _Layout) -> Array:
    """[C + 1, S]: `Table.p`, each observation with its slip. A cause changes the few indications that it names."""
    bases = [_base(ind) for ind in at.indications]
    healthy = np.concatenate([slip(base) for base in bases])
    p = np.tile(healthy, (len(machine.causes) + 2, 1))
    for row, cause in zip(p, machine.causes.values(), strict=False):
        for id, shown in cause.shows.items():
            if (i := at.index.get(id)) is not None:  # else it is the outcome of a reset
                row[at.columns(i)] = level(shown, bases[i], at.indications[i].state_ids)
    p[-2] = unlisted_row(p[:-2], np.concatenate([_spread(ind) for ind in at.indications]))
    return p


def _joints(machine: Machine, at: _Layout) -> tuple[Joint, ...]:
    """The connected parts of indications that follow one another. Raises `CannotCompile`."""

    def condition(id: str, states: Sequence[str]) -> Condition:
        return at.index[id], tuple(at.state[at.index[id]][s] for s in states)

    rules = {
        i: tuple((tuple(condition(*one) for one in rule.when), at.state[i][rule.shows]) for rule in ind.follows)
        for i, ind in enumerate(at.indications)
        if ind.follows
    }
    try:
        return connect(rules, at.sizes)
    except JointTooLarge as error:
        drivers = tuple(at.indications[i].id for i in error.drivers)
        text = f"{machine.id}: {error.count} joint states of what others follow ({', '.join(drivers)}); split them"
        raise CannotCompile(text, drivers) from None


def _checks(machine: Machine, at: _Layout) -> tuple[TableCheck, ...]:
    return tuple(
        TableCheck(
            check.id,
            tuple(at.index[i] for i in check.gives),
            check.minutes,
            _place(machine, check.access, check.zone, check.energy),
            frozenset(check.who),
            tuple(tuple(at.column(i, s) for s in states) for i, states in check.needs.items()),
        )
        for check in machine.checks.values()
    )


def _place(machine: Machine, access: Access, zone: str, energy: Energy) -> Place:
    return Place(access, zone, energy, machine.zones[zone].lock if zone in machine.zones else None)


def _remedies(machine: Machine) -> tuple[TableRemedy, ...]:
    """Each with the minutes of its proof, on average over the causes that it is for."""
    found = []
    for remedy in machine.remedies.values():
        whose = machine.causes_of[remedy.id]
        proofs = (machine.checks_for[i] for c in whose for i in machine.causes[c].proof)
        proof = sum(min((check.minutes for check in ways), default=0.0) for ways in proofs) / max(len(whose), 1)
        place = _place(machine, remedy.access, remedy.zone, Energy.ANY)
        found.append(TableRemedy(remedy.id, remedy.minutes + proof, place, frozenset(remedy.who)))
    return tuple(found)


def _cured(machine: Machine, causes: Sequence[str]) -> Array:
    """[M, C]: `Table.cured`."""
    number = {id: c for c, id in enumerate(causes)}
    cured = np.zeros((len(machine.remedies), len(causes)))
    for m, remedy in enumerate(machine.remedies.values()):
        cured[m, [number[c] for c in machine.causes_of[remedy.id]]] = remedy.chance
    return cured


def table_of(machine: Machine) -> Table:
    """The machine's table, compiled once and kept for whoever asks next. Raises `CannotCompile`."""
    found = _tables.get(id(machine))
    if found is None:
        if len(_tables) >= MACHINES_KEPT:
            del _tables[next(iter(_tables))]
        found = _tables[id(machine)] = (machine, compile(machine))
    return found[1]
