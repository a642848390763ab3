"""Figures for how good forecasts over causes are, and for how far a set of checks can tell causes apart.

For forecasts: the Brier score (Brier 1950, Monthly Weather Review 78:1-3), the log score (Good 1952, J. R. Stat. Soc. B
14:107-114) and reliability, what came true against what was said (Murphy and Winkler 1977, Applied Statistics
26:41-47), with the expected calibration error. For causes: detection, isolation to an ambiguity group and the group's
mean size, in the terms of IEEE Std 1522.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

ROUNDING = 1e-6
"""How far from 1 a forecast may sum."""


class BadFigures(ValueError):
    """Arrays that are no forecasts, or no signatures; the message says which."""


def brier(forecast: npt.ArrayLike, truth: npt.ArrayLike) -> float:
    """The Brier score over all classes, 0 at best and 2 at worst; for two classes it is twice the form that is halved.

    `forecast` [n, k] holds P(class) in rows that sum to 1, `truth` [n] the number of the class that came. The mean over
    rows of the sum over classes of (forecast - outcome) squared. Raises `BadFigures`.
    """
    p, came = _forecast(forecast, truth)
    off = p.copy()
    off[np.arange(len(p)), came] -= 1.0
    return float((off**2).sum(axis=1).mean())


def log_score(forecast: npt.ArrayLike, truth: npt.ArrayLike) -> float:
    """The mean of -ln P(what came), in nats, 0 at best; infinite where what came was ruled out.

    Shapes as in `brier`. Raises `BadFigures`."""
    p, came = _forecast(forecast, truth)
    with np.errstate(divide="ignore"):
        return float(-np.log(p[np.arange(len(p)), came]).mean())


@dataclass(frozen=True)
class Reliability:
    """Forecasts in bins, the empty ones left out."""

    said: Array
    """[m]: mean probability said."""
    came: Array
    """[m]: share that came true."""
    count: Index
    """[m]."""

    @property
    def error(self) -> float:
        """The expected calibration error: the mean over forecasts of how far their bin is off."""
        return float(self.count @ np.abs(self.said - self.came) / self.count.sum())


def reliability(
    said: npt.ArrayLike, came: npt.ArrayLike, bins: int = 15, equal: Literal["count", "width"] = "count"
) -> Reliability:
    """What came true against what was said, in bins of equal count or of equal width over 0 to 1.

    `said` [n] holds probabilities, `came` [n] whether it came. A value on an edge belongs to the bin below, so equal
    values share a bin; edges of equal count are quantiles. Raises `BadFigures`.
    """
    p, hit = _array(said, "said"), _array(came, "came")
    if p.ndim != 1 or not len(p) or hit.shape != p.shape:
        raise BadFigures(f"said and came: shapes {p.shape} and {hit.shape}, wanted as many of each, at least one")
    if not ((p >= 0) & (p <= 1)).all() or not np.isin(hit, (0.0, 1.0)).all():
        raise BadFigures("said and came: wanted probabilities, and true or false")
    if bins < 1:
        raise BadFigures(f"bins: {bins}, wanted at least 1")
    share = np.linspace(0.0, 1.0, bins + 1)
    edges = np.percentile(p, share * 100.0) if equal == "count" else share
    number = np.searchsorted(edges[1:-1], p)
    said_in, came_in, count = (np.bincount(number, w, bins) for w in (p, hit, np.ones_like(p)))
    kept = count > 0
    return Reliability(said_in[kept] / count[kept], came_in[kept] / count[kept], count[kept].astype(np.intp))


@dataclass(frozen=True)
class Diagnosability:
    """What a set of checks can find and tell apart at all. Weights are the faults' probabilities, in any unit."""

    detection: float
    """Share of the weight whose signature differs from that of no fault; the rest no check sees."""
    groups: tuple[tuple[int, ...], ...]
    """Ambiguity groups of the detected faults: alike in every check."""
    weight: Array
    """[groups]: the weight of each, out of the detected, summing to 1."""

    def isolation(self, size: int) -> float:
        """Share of the detected weight that lies in groups of at most `size` faults."""
        return float(sum(w for g, w in zip(self.groups, self.weight, strict=True) if len(g) <= size))

    @property
    def mean_size(self) -> float:
        """Faults in a group, each group counting the same; 0 when nothing is detected."""
        return float(np.mean([len(g) for g in self.groups])) if self.groups else 0.0

    @property
    def expected_size(self) -> float:
        """Faults in the group that a stop leads to, on average: groups by weight; 0 when nothing is detected."""
        return float(self.weight @ [len(g) for g in self.groups]) if self.groups else 0.0


def diagnosability(
    signatures: Sequence[Sequence[Hashable]], weights: npt.ArrayLike, healthy: Sequence[Hashable]
) -> Diagnosability:
    """Detection and isolation of F faults by T checks.

    `signatures` [F][T] holds the outcome of each check under each fault, `weights` [F] is above 0, `healthy` [T] the
    outcomes with no fault. Raises `BadFigures` for shapes that do not fit and weights that are none.
    """
    w = _array(weights, "weights")
    if w.shape != (len(signatures),) or not len(w) or not ((w > 0) & (w < np.inf)).all():
        raise BadFigures(f"weights: wanted {len(signatures)} numbers above 0, one for each fault")
    for f, row in enumerate(signatures):
        if len(row) != len(healthy):
            raise BadFigures(f"signature of fault {f}: {len(row)} outcomes, wanted {len(healthy)}")
    alike: dict[tuple[Hashable, ...], list[int]] = {}
    for f, row in enumerate(signatures):
        alike.setdefault(tuple(row), []).append(f)
    alike.pop(tuple(healthy), None)
    groups = tuple(tuple(g) for g in alike.values())
    each = np.array([w[list(g)].sum() for g in groups])
    seen = float(each.sum())
    return Diagnosability(seen / float(w.sum()), groups, each / seen if groups else each)


def _forecast(forecast: npt.ArrayLike, truth: npt.ArrayLike) -> tuple[Array, Index]:
    p, came = _array(forecast, "forecast"), _array(truth, "truth")
    if p.ndim != 2 or not p.size or came.shape != (len(p),):
        raise BadFigures(f"forecast and truth: shapes {p.shape} and {came.shape}, wanted (n, k) and (n,)")
    if not (p >= 0).all() or not (np.abs(p.sum(axis=1) - 1.0) <= ROUNDING).all():
        raise BadFigures("forecast: a row that is no distribution")
    if not np.isin(came, np.arange(p.shape[1])).all():
        raise BadFigures(f"truth: wanted whole numbers from 0 to {p.shape[1] - 1}")
    return p, came.astype(np.intp)


def _array(values: npt.ArrayLike, what: str) -> Array:
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise BadFigures(f"{what}: not an array of numbers") from None
