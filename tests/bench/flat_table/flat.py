"""A table of independent indications as flat arrays: a default for each, and only what each cause changes.

Most causes leave most indications alone. So an indication keeps one *default* distribution over its states, and a cause
keeps a row of its own, a *deviation*, only where it shows something else. All rows lie one after another in arrays made
once, in the two orders that are read: by state, to add over causes; by cause, to follow the few that a fact touches.
Time and memory are linear in the number of deviations, causes and states. A table of few numbers is kept whole too, as
one product is quicker there. Nothing here follows anything: given the cause, the indications are independent.

    table = from_tables([0.01, 0.99], [[[0.208, 0.792], [0.904, 0.096]]])  # flat_tables
    start(table).see(0, 1).posterior       # flat_belief: 1/13 and 12/13
    information(start(table))              # flat_scores: bits that each indication would tell
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

BIT = float(np.log(2.0))
ROUNDING = 1e-9
"""How far from 1 the sum of a distribution may be."""
MILD = 1e-100
"""Probability from which on nothing needs to be guarded against a log of 0, or a ratio too large for a number."""
WHOLE = 30_000
"""Numbers up to which a table is kept whole beside its deviations. At 40 causes and 60 indications of three states,
10,000 numbers, one product takes a fifth of the time of following the deviations; at 300 and 300, twice that."""


class BadTable(ValueError):
    """Arrays that are no table of probabilities, or a fact that is none; the message says what and where."""


@dataclass(frozen=True, eq=False)
class Flat:
    """C causes, I indications, S states in all, B deviations with N numbers. Made by the functions below.

    `columns` are the S states and after them one for each indication, for the entropy of what it shows.
    """

    prior: Array
    """[C], summing to 1."""
    log_prior: Array
    """[C]; minus infinity where the prior is 0."""
    start: Index
    """[I + 1]: indication `i` owns the states `start[i]:start[i + 1]`."""
    default: Array
    """[S + I]: P(state | cause without a deviation there), then for each default its entropy in bits, below 0."""
    first: Index
    """[I + 1]: the deviations of indication `i` are `first[i]:first[i + 1]`."""
    cause: Index
    """[B]: whose deviation it is, ascending within an indication."""
    base: Index
    """[I + 1]: the numbers of indication `i` are `base[i]:base[i + 1]`, state by state."""
    p: Array
    """[N]: P(state | cause), by indication, state, cause."""
    entry_cause: Index
    """[N + B]: whose entry it is, by column and cause."""
    entry: Array
    """[N + B]: how far the column's number under that cause is from the default."""
    filled: Index
    """Columns with any entry, ascending."""
    head: Index
    """Where the entries of each of these begin."""
    cause_first: Index
    """[C + 1]: the entries of cause `c` are `cause_first[c]:cause_first[c + 1]` of the next two arrays."""
    cause_column: Index
    """[N + B]: columns, by cause."""
    cause_entry: Array
    """[N + B]: entries, by cause."""
    width: int
    """The number of states when all indications have as many, else 0."""
    mild: bool
    """Whether all probabilities, those of the prior too, are at least `MILD`."""
    ones: Array
    """[C]: a product with these is a sum over causes, in half the time that NumPy's sum takes."""
    over: Array
    """[width]: what a row is multiplied by to have its sum in bits, above 0 for what is added up below 0."""
    whole: Array | None
    """[S + I, C]: every column under every cause, in a table of at most `WHOLE` such numbers."""

    @cached_property
    def causes(self) -> int:
        return len(self.prior)

    @cached_property
    def indications(self) -> int:
        return len(self.start) - 1

    @cached_property
    def states(self) -> int:
        return int(self.start[-1])

    @property
    def size(self) -> int:
        """Bytes of all its arrays."""
        return sum(value.nbytes for value in vars(self).values() if isinstance(value, np.ndarray))

    def rows(self, i: int) -> tuple[Index, Array]:
        """Who deviates at indication `i`, shape [m], and P(state | cause) for them, shape [k, m]."""
        start, first, base = self._bounds
        causes = self.cause[first[i] : first[i + 1]]
        return causes, self.p[base[i] : base[i + 1]].reshape(start[i + 1] - start[i], len(causes))

    def likely(self, i: int, seen: Array) -> Array | None:
        """P(sight) of indication `i` under each cause, shape [C], in a table that is kept whole."""
        if self.whole is None:
            return None
        start = self._bounds[0]
        likely: Array = seen.dot(self.whole[start[i] : start[i + 1]])
        return likely

    def usually(self, i: int, seen: Array) -> float:
        """P(sight) of indication `i` under its default; `seen` [k] holds P(sight | state)."""
        start = self._bounds[0]
        return float(seen.dot(self.default[start[i] : start[i + 1]]))

    def states_of(self, i: int) -> int:
        """The number of states of indication `i`."""
        start = self._bounds[0]
        return start[i + 1] - start[i]

    @cached_property
    def _bounds(self) -> tuple[list[int], list[int], list[int]]:
        """`start`, `first` and `base` as plain numbers, which slice in half the time."""
        return self.start.tolist(), self.first.tolist(), self.base.tolist()


def from_deviations(
    prior: npt.ArrayLike,
    default: Sequence[npt.ArrayLike],
    cause: npt.ArrayLike,
    indication: npt.ArrayLike,
    p: npt.ArrayLike,
) -> Flat:
    """The table of a prior, the defaults, and B deviations from them.

    `prior` [C] holds the probability of each cause. `default` holds for each of I indications P(state), shape [k_i],
    for every cause that says nothing else. Deviation `b` gives cause `cause[b]` at indication `indication[b]` a row of
    its own; `p` holds these rows one after another, state by state: [N], or [B, k] when all have k states. Whole
    numbers count from 0. All is copied. Probabilities are plain numbers from 0 to 1; each row sums to 1 within 1e-9.

    Raises `BadTable`, in one line, for anything else: shapes that do not fit, no cause or no indication, NaN, a
    negative number, a row that does not sum to 1, a number out of range, two rows for one cause and indication.
    """
    prior = numbers(prior, "prior")
    if prior.ndim != 1 or not len(prior):
        raise BadTable(f"prior: shape {prior.shape}, wanted one number for each cause")
    _distributions(prior, np.zeros(1, dtype=np.intp), lambda _: "prior")
    defaults = [numbers(row, f"default of indication {i}") for i, row in enumerate(listed(default, "default"))]
    if not defaults:
        raise BadTable("default: no indications")
    for i, row in enumerate(defaults):
        if row.ndim != 1 or not len(row):
            raise BadTable(f"default of indication {i}: shape {row.shape}, wanted one number for each state")
    k = np.array([len(row) for row in defaults], dtype=np.intp)
    flat = np.concatenate(defaults)
    _distributions(flat, np.cumsum(k) - k, lambda i: f"default of indication {i}")

    whose, where = _whole(cause, "cause", len(prior)), _whole(indication, "indication", len(k))
    if whose.shape != where.shape:
        raise BadTable(f"cause and indication: {len(whose)} and {len(where)} numbers, wanted as many of each")
    rows = numbers(p, "p")
    if rows.size != k[where].sum() or (
        rows.ndim == 2 and (rows.shape[0] != len(where) or (k[where] != rows.shape[1]).any())
    ):
        raise BadTable(f"p: shape {rows.shape}, wanted the states of {len(where)} rows, {k[where].sum()} numbers")
    rows = rows.ravel()
    begin = np.cumsum(k[where]) - k[where]
    _distributions(rows, begin, lambda b: f"row {b}, cause {whose[b]} at indication {where[b]}")
    order = np.lexsort((whose, where))
    twice = np.flatnonzero((np.diff(whose[order]) == 0) & (np.diff(where[order]) == 0))
    if len(twice):
        b = order[twice[0] + 1]
        raise BadTable(f"row {b}: a second one for cause {whose[b]} at indication {where[b]}")
    return _lay(prior, k, flat, whose, where, rows, order)


def ranges(begin: Index, count: Index) -> Index:
    """`begin[n], begin[n] + 1, ...`, `count[n]` of them, for each n, one after another."""
    offset = begin + count
    offset -= count.cumsum()
    out = offset.repeat(count)
    out += np.arange(len(out))
    return out


def _lay(prior: Array, k: Index, default: Array, cause: Index, where: Index, rows: Array, order: Index) -> Flat:
    """The arrays of checked input; `order` sorts the deviations by indication and cause."""
    start = np.concatenate([[0], np.cumsum(k)])
    begin = np.cumsum(k[where]) - k[where]
    cause, where, begin = cause[order], where[order], begin[order]
    m = np.bincount(where, minlength=len(k))
    first = np.concatenate([[0], np.cumsum(m)])
    base = np.concatenate([[0], np.cumsum(m * k)])

    # Each column's entries side by side: where each is taken from, and which column and deviation it belongs to.
    column = np.repeat(np.arange(start[-1]), np.repeat(m, k))
    deviation = ranges(np.repeat(first[:-1], k), np.repeat(m, k))
    p = rows[begin[deviation] + column - start[where[deviation]]]
    log = np.log(p, out=np.zeros_like(p), where=p > 0)
    own = np.bincount(deviation, p * log, minlength=len(cause)) / BIT
    log = np.log(default, out=np.zeros_like(default), where=default > 0)
    entropy = np.add.reduceat(default * log, start[:-1]) / BIT

    columns = np.concatenate([column, start[-1] + where])
    entry_cause = np.concatenate([cause[deviation], cause])
    usual = np.concatenate([default, entropy])
    entry = np.concatenate([p, own]) - usual[columns]
    count = np.bincount(columns, minlength=int(start[-1]) + len(k))
    filled = np.flatnonzero(count)
    by_cause = np.argsort(entry_cause, kind="stable")
    width = int(k[0]) if (k == k[0]).all() else 0
    whole = None
    if len(prior) * len(usual) <= WHOLE:
        whole = usual[:, None].repeat(len(prior), axis=1)
        whole[columns, entry_cause] = np.concatenate([p, own])
    with np.errstate(divide="ignore"):
        log_prior = np.log(prior)
    return Flat(
        prior=prior,
        log_prior=log_prior,
        start=start,
        default=usual,
        first=first,
        cause=cause,
        base=base,
        p=p,
        entry_cause=entry_cause,
        entry=entry,
        filled=filled,
        head=(np.cumsum(count) - count)[filled],
        cause_first=np.concatenate([[0], np.cumsum(np.bincount(entry_cause, minlength=len(prior)))]),
        cause_column=columns[by_cause],
        cause_entry=entry[by_cause],
        width=width,
        mild=bool(min(prior.min(), default.min(), p.min(initial=1.0)) >= MILD),
        ones=np.ones(len(prior)),
        over=np.full(width, -1.0 / BIT),
        whole=whole,
    )


def listed(values: object, what: str) -> Sequence[npt.ArrayLike]:
    """A list of what is given for each indication. Raises `BadTable` for what is no sequence."""
    if not isinstance(values, Sequence | np.ndarray) or isinstance(values, str):
        raise BadTable(f"{what}: {type(values).__name__}, wanted one entry for each indication")
    return list(values)


def numbers(values: npt.ArrayLike, what: str, *, copy: bool = True) -> Array:
    """As float64; without `copy` it may be what was given. Raises `BadTable` for what is no array of numbers."""
    try:
        given = np.asarray(values)
        if given.dtype.kind not in "fiub":
            raise TypeError
        return given.astype(np.float64, copy=copy)
    except (TypeError, ValueError):
        raise BadTable(f"{what}: not an array of numbers, or its rows differ in length") from None


def _whole(values: npt.ArrayLike, what: str, below: int) -> Index:
    """A copy as whole numbers from 0 to `below` - 1, shape [B]."""
    try:
        given = np.asarray(values)
    except ValueError:
        raise BadTable(f"{what}: not a list of whole numbers") from None
    if given.ndim != 1 or (given.size and given.dtype.kind not in "iu"):
        raise BadTable(f"{what}: {given.dtype} of shape {given.shape}, wanted one whole number for each row")
    if given.size and (given.min() < 0 or given.max() >= below):
        b = int(np.flatnonzero((given < 0) | (given >= below))[0])
        raise BadTable(f"{what}: row {b} names number {given[b]}, wanted 0 to {below - 1}")
    return given.astype(np.intp)


def _distributions(values: Array, begin: Index, name: Callable[[int], str]) -> None:
    """Raise `BadTable` unless each run of numbers from one `begin` to the next is a distribution."""
    if not len(begin):
        return
    bad = ~((values >= 0.0) & (values <= 1.0 + ROUNDING))
    if bad.any():
        at = int(bad.argmax())
        n = int(np.searchsorted(begin, at, side="right")) - 1
        raise BadTable(f"{name(n)}: {values[at]:g} as probability number {at - begin[n]}")
    total = np.add.reduceat(values, begin)
    off = np.abs(total - 1.0) > ROUNDING
    if off.any():
        n = int(off.argmax())
        raise BadTable(f"{name(n)}: sums to {total[n]:.12g}, not 1")
