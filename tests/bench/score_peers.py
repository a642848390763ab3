"""Who `scores.py` measures against: a table as one would write it down, and others that score it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pyagrum as gum
from flat_table.flat import Array
from sklearn import set_config
from sklearn.naive_bayes import CategoricalNB

STATES, DEVIATES, FACTS = 3, 8, 5
Answer = tuple[Array, Array]
"""Posterior [C] and expected bits of entropy after each indication [I]; NaN for those told."""


@dataclass(frozen=True)
class Raw:
    """A table as one would write it down, and what is seen: `FACTS` indications, then one more, each in one state."""

    prior: Array
    default: Array
    cause: np.ndarray
    indication: np.ndarray
    p: Array
    facts: tuple[tuple[int, int], ...]

    @cached_property
    def dense(self) -> Array:
        """[I, C, k]."""
        out = np.repeat(self.default[:, None, :], len(self.prior), axis=1)
        out[self.indication, self.cause] = self.p
        return out

    @cached_property
    def open(self) -> list[int]:
        told = {i for i, _ in self.facts}
        return [i for i in range(len(self.default)) if i not in told]

    def blank(self, bits: Array) -> Array:
        bits[[i for i, _ in self.facts]] = np.nan
        return bits

    def scattered(self, bits: Array) -> Array:
        """Bits of the open indications, among all."""
        out = np.full(len(self.default), np.nan)
        out[self.open] = bits
        return out


def drawn(causes: int, indications: int, seed: int = 4) -> Raw:
    rng = np.random.default_rng(seed)
    default = np.full((indications, STATES), 0.01)
    default[:, 0] = 0.98
    whose = np.repeat(np.arange(causes), DEVIATES)
    where = np.concatenate([rng.choice(indications, DEVIATES, replace=False) for _ in range(causes)])
    p = 0.98 * rng.dirichlet(np.ones(STATES), len(whose)) + 0.02 / STATES
    told = [int(i) for i in rng.choice(indications, FACTS + 1, replace=False)]
    told[-1] = int(where[0])  # the last fact speaks for the first cause
    return Raw(rng.dirichlet(np.ones(causes)), default, whose, where, p, tuple((i, int(i == told[-1])) for i in told))


def xlogx(p: Array) -> Array:
    return p * np.log2(np.maximum(p, 1e-300))


def entropy(b: Array) -> float:
    return -float(xlogx(b).sum())


class Bare:
    """The arithmetic of default plus deviations alone: nothing checked, nothing kept, any number of states the same.

    It gives the bits that each indication tells."""

    def __init__(self, raw: Raw) -> None:
        self.raw, self.states = raw, raw.default.size
        order = np.lexsort((raw.cause, raw.indication))
        self.cause, where, p = raw.cause[order], raw.indication[order], raw.p[order]
        self.first = np.searchsorted(where, np.arange(len(raw.default) + 1))
        self.p = p
        change = p - raw.default[where]
        rows = xlogx(raw.default).sum(axis=1)
        self.column = np.concatenate([(where[:, None] * STATES + np.arange(STATES)).ravel(), self.states + where])
        self.whose = np.concatenate([np.repeat(self.cause, STATES), self.cause])
        self.entry = np.concatenate([change.ravel(), xlogx(p).sum(axis=1) - rows[where]])
        self.default = np.concatenate([raw.default.ravel(), rows])
        by = np.argsort(self.whose, kind="stable")
        each = DEVIATES * (STATES + 1)
        self.by_column, self.by_entry = self.column[by].reshape(-1, each), self.entry[by].reshape(-1, each)
        self.log = np.log(raw.prior)
        for i, s in raw.facts[:-1]:
            self.log = self.after(i, s)
        weight = np.exp(self.log - self.log.max())
        self.log -= self.log.max() + np.log(weight.sum())
        self.sums = self.add(np.exp(self.log))

    def after(self, i: int, s: int) -> Array:
        log = self.log.copy()
        span = slice(self.first[i], self.first[i + 1])
        log[self.cause[span]] += np.log(self.p[span, s] / self.raw.default[i, s])
        return log

    def add(self, b: Array) -> Array:
        return np.bincount(self.column, b[self.whose] * self.entry, minlength=len(self.default))

    def bits(self, sums: Array) -> Array:
        q = self.default + sums
        x = q[: self.states]
        return q[self.states :] - (x * np.log2(x)).reshape(-1, STATES).sum(axis=1)

    def anew(self) -> Answer:
        log = self.after(*self.raw.facts[-1])
        b = np.exp(log - log.max())
        b /= b.sum()
        return b, self.bits(self.add(b))

    def carried(self) -> Answer:
        log = self.after(*self.raw.facts[-1])
        return np.exp(log) / np.exp(log).sum(), self.score()

    def score(self) -> Array:
        i, s = self.raw.facts[-1]
        span = slice(self.first[i], self.first[i + 1])
        causes = self.cause[span]
        old = np.exp(self.log[causes])
        moved = old * (self.p[span, s] / self.raw.default[i, s] - 1.0)
        sums = self.sums.copy()
        np.add.at(sums, self.by_column[causes].ravel(), (self.by_entry[causes] * moved[:, None]).ravel())
        return self.bits(sums / (1.0 + moved.sum()))


class Dense:
    """One product with a table of causes by states."""

    def __init__(self, raw: Raw) -> None:
        self.raw = raw
        self.table = np.ascontiguousarray(raw.dense.transpose(1, 0, 2)).reshape(len(raw.prior), -1)
        self.log = np.log(self.table)
        self.rows = xlogx(self.table).reshape(len(raw.prior), -1, STATES).sum(axis=2)

    def score(self) -> Answer:
        log = np.log(self.raw.prior) + self.log[:, [i * STATES + s for i, s in self.raw.facts]].sum(axis=1)
        b = np.exp(log - log.max())
        b /= b.sum()
        return b, entropy(b) - b @ self.rows + xlogx(b @ self.table).reshape(-1, STATES).sum(axis=1)


class Each:
    """One indication at a time, outcome by outcome."""

    def __init__(self, raw: Raw) -> None:
        self.raw, self.tables = raw, raw.dense

    def score(self) -> Answer:
        b = self.raw.prior.copy()
        for i, s in self.raw.facts:
            b *= self.tables[i][:, s]
        b /= b.sum()
        bits = np.empty(len(self.tables))
        for i, table in enumerate(self.tables):
            joint = b[:, None] * table
            bits[i] = xlogx(joint.sum(axis=0)).sum() - xlogx(joint).sum()
        return b, bits


class NaiveBayes:
    """scikit-learn's CategoricalNB: one row for each state of each open indication, all in one call."""

    def __init__(self, raw: Raw, order: str = "C") -> None:
        set_config(assume_finite=True, skip_parameter_validation=True)
        self.raw, (n, causes, k) = raw, raw.dense.shape
        self.peer = CategoricalNB()
        self.peer.classes_, self.peer.class_count_ = np.arange(causes), raw.prior
        self.peer.class_log_prior_, self.peer.n_features_in_ = np.log(raw.prior), n
        self.peer.n_categories_ = np.full(n, k + 1)
        logs = [np.hstack([np.log(table), np.zeros((causes, 1))]) for table in raw.dense]
        self.peer.feature_log_prob_ = [np.asarray(table, order=order) for table in logs]
        self.asked = np.full((1 + len(raw.open) * k, n), k)
        for i, s in raw.facts:
            self.asked[:, i] = s
        self.asked[np.arange(1, len(self.asked)), np.repeat(raw.open, k)] = np.tile(np.arange(k), len(raw.open))
        self.table = raw.dense[raw.open].transpose(1, 0, 2).reshape(causes, -1)

    def open(self) -> Answer:
        log = self.peer.predict_log_proba(self.asked)
        p = np.exp(log)
        left = (p * log).sum(axis=1)[1:]
        shown = p[0] @ self.table
        return p[0], (shown * left).reshape(-1, STATES).sum(axis=1) / -np.log(2.0)

    def score(self) -> Answer:
        b, bits = self.open()
        return b, self.raw.scattered(bits)


class Network:
    """pyAgrum: a node for the cause, an arc to each indication.

    Its own function over a second network in which the belief is the prior; and its inference for the causes alone,
    then its tables multiplied, summed and asked for their entropy."""

    def __init__(self, raw: Raw) -> None:
        self.raw, (n, causes, k) = raw, raw.dense.shape
        self.net = gum.BayesNet()
        self.net.add(gum.RangeVariable("cause", "", 0, causes - 1))
        self.net.cpt("cause").fillWith(raw.prior.tolist())
        for i in range(n):
            self.net.add(gum.RangeVariable(str(i), "", 0, k - 1))
            self.net.addArc("cause", str(i))
            self.net.cpt(str(i)).fillWith(raw.dense[i].ravel().tolist())
        self.after = gum.BayesNet(self.net)
        self.pairs, self.alone = gum.LazyPropagation(self.after), gum.LazyPropagation(self.net)
        self.alone.addTarget("cause")
        for i, s in raw.facts:
            self.alone.addEvidence(str(i), s)

    def infer(self) -> gum.Tensor:
        i, s = self.raw.facts[-1]
        self.alone.eraseEvidence(str(i))  # or it would answer from memory
        self.alone.addEvidence(str(i), s)
        self.alone.makeInference()
        return self.alone.posterior("cause")

    def own(self) -> Answer:
        cause = self.infer()
        self.after.cpt("cause").fillWith(cause)
        bits = np.array([self.pairs.jointMutualInformation(["cause", str(i)]) for i in self.raw.open])
        return np.array(cause.tolist()), self.raw.scattered(cause.entropy() - bits)

    def tables(self) -> Answer:
        cause = self.infer()
        bits = []
        for i in self.raw.open:
            joint = self.net.cpt(str(i)) * cause
            bits.append(joint.entropy() - joint.sumIn([str(i)]).entropy())
        return np.array(cause.tolist()), self.raw.scattered(np.array(bits))
