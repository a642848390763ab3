"""How long it takes to score every remaining indication after a fact, on tables without a machine file.

Seeded tables of three sizes, a single fault, three states an indication; each cause deviates in eight of them: S 40
causes x 60 indications, M 300 x 300, L 3,000 x 2,000. All who take part answer the same question by turns: the expected
entropy of the causes after each indication, given five facts and one more. Peers: scikit-learn's CategoricalNB with the
tables put in (a fourth state, "not seen", leaves the rest out), pyAgrum's mutual information (three runs at most, as it
is slow) and the same by hand from its tables, and NumPy written out
plainly: a dense table by one product, one indication at a time, and the bare arithmetic of default plus deviations,
anew and carried on. Their posteriors must agree to 1e-9 and so must the scores, or the exit code is 1. Trust the
ratios more than the times.
"""

from __future__ import annotations

import sys
import threading
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from statistics import median

import numpy as np
import pyagrum as gum
from pairs import arguments
from sklearn.naive_bayes import CategoricalNB

from diag.reason.flat import Array, Flat, from_deviations
from diag.reason.flat_belief import FlatBelief, start
from diag.reason.flat_rollout import rollout
from diag.reason.flat_scores import Sums, information
from diag.reason.flat_tables import from_tables

SIZES = {"S": (40, 60), "M": (300, 300), "L": (3000, 2000)}
STATES, DEVIATES, FACTS = 3, 8, 5
AGREE = 1e-9
NAIVE, AGRUM = "scikit-learn CategoricalNB", "pyAgrum mutual information"
WANTED = {"S": 50, "M": 1000}
Answer = tuple[Array, Array]
"""Posterior [C] and bits that each indication would tell [I]; NaN for those told."""


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

    def blank(self, bits: Array) -> Array:
        bits[[i for i, _ in self.facts]] = np.nan
        return bits


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


class Ours:
    """The engine, by its public functions."""

    def __init__(self, raw: Raw) -> None:
        self.flat = from_deviations(raw.prior, raw.default, raw.cause, raw.indication, raw.p)
        self.raw = raw
        belief = start(self.flat)
        for i, s in raw.facts[:-1]:
            belief = belief.see(i, s)
        self.before, self.sums = belief, Sums.of(belief)
        self.last = raw.facts[-1][0]
        self.seen = np.eye(STATES)[raw.facts[-1][1]]

    def anew(self) -> Answer:
        belief = self.before.tell(self.last, self.seen)
        return belief.posterior, information(belief)

    def carried(self) -> Answer:
        sums = self.sums.tell(self.last, self.seen)
        return sums.belief.posterior, sums.information

    def score(self) -> Array:
        return self.sums.tell(self.last, self.seen).information


class Bare:
    """The arithmetic of default plus deviations alone: nothing checked, nothing kept, any number of states the same."""

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
        return b, b @ self.rows - xlogx(b @ self.table).reshape(-1, STATES).sum(axis=1)


class Each:
    """One indication at a time, outcome by outcome."""

    def __init__(self, raw: Raw) -> None:
        self.raw, self.tables = raw, raw.dense

    def score(self) -> Answer:
        b = self.raw.prior.copy()
        for i, s in self.raw.facts:
            b *= self.tables[i][:, s]
        b /= b.sum()
        now = -xlogx(b).sum()
        bits = np.empty(len(self.tables))
        for i, table in enumerate(self.tables):
            joint = b[:, None] * table
            bits[i] = now + xlogx(joint).sum() - xlogx(joint.sum(axis=0)).sum()
        return b, bits


class NaiveBayes:
    """scikit-learn's CategoricalNB: one row for each state of each indication, all in one call."""

    def __init__(self, raw: Raw) -> None:
        self.raw, (n, causes, k) = raw, raw.dense.shape
        self.peer = CategoricalNB()
        self.peer.classes_, self.peer.class_count_ = np.arange(causes), raw.prior
        self.peer.class_log_prior_, self.peer.n_features_in_ = np.log(raw.prior), n
        self.peer.n_categories_ = np.full(n, k + 1)
        self.peer.feature_log_prob_ = [np.hstack([np.log(t), np.zeros((causes, 1))]) for t in raw.dense]
        self.asked = np.full((n * k + 1, n), k)
        for i, s in raw.facts:
            self.asked[:, i] = s
        told = {i for i, _ in raw.facts}
        for i in (i for i in range(n) if i not in told):
            self.asked[1 + i * k : 1 + (i + 1) * k, i] = np.arange(k)

    def score(self) -> Answer:
        p = self.peer.predict_proba(self.asked)
        n, _, k = self.raw.dense.shape
        b, left = p[0], -xlogx(p[1:]).sum(axis=1).reshape(n, k)
        shown = b @ self.raw.dense
        return b, -xlogx(b).sum() - (shown * left).sum(axis=1)

    def posterior(self) -> Array:
        return self.peer.predict_proba(self.asked[:1])[0]


class Network:
    """pyAgrum: a node for the cause, an arc to each indication.

    Its own mutual information, and quicker: its inference for the causes alone, then its tables multiplied, summed and
    asked for their entropy."""

    def __init__(self, raw: Raw) -> None:
        self.raw, (n, causes, k) = raw, raw.dense.shape
        self.net = gum.BayesNet()
        self.net.add(gum.RangeVariable("cause", "", 0, causes - 1))
        self.net.cpt("cause").fillWith(raw.prior.tolist())
        for i in range(n):
            self.net.add(gum.RangeVariable(str(i), "", 0, k - 1))
            self.net.addArc("cause", str(i))
            self.net.cpt(str(i)).fillWith(raw.dense[i].ravel().tolist())
        told = {i for i, _ in raw.facts}
        self.open = [i for i in range(n) if i not in told]
        self.pairs, self.alone = gum.LazyPropagation(self.net), gum.LazyPropagation(self.net)
        self.alone.addTarget("cause")
        for i in self.open:
            self.pairs.addJointTarget({"cause", str(i)})
        for i, s in raw.facts:
            self.pairs.addEvidence(str(i), s)
            self.alone.addEvidence(str(i), s)

    def infer(self, engine: gum.LazyPropagation) -> gum.Tensor:
        i, s = self.raw.facts[-1]
        engine.eraseEvidence(str(i))  # or it would answer from memory
        engine.addEvidence(str(i), s)
        engine.makeInference()
        return engine.posterior("cause")

    def own(self) -> Answer:
        cause = self.infer(self.pairs)
        bits = np.full(len(self.raw.default), np.nan)
        for i in self.open:
            bits[i] = gum.InformationTheory(self.pairs, ["cause"], [str(i)]).mutualInformationXY()
        return np.array(cause.tolist()), bits

    def tables(self) -> Answer:
        cause = self.infer(self.alone)
        bits = np.full(len(self.raw.default), np.nan)
        for i in self.open:
            joint = self.net.cpt(str(i)) * cause
            bits[i] = cause.entropy() + joint.sumIn([str(i)]).entropy() - joint.entropy()
        return np.array(cause.tolist()), bits


def seconds(call: Callable[[], object], least: float = 0.01) -> float:
    """Seconds of one call, over as many as take `least` seconds."""
    begin, n = time.perf_counter(), 0
    while True:
        call()
        n += 1
        taken = time.perf_counter() - begin
        if taken >= least:
            return taken / n


def by_turns(calls: dict[str, Callable[[], object]], runs: int) -> dict[str, list[float]]:
    taken: dict[str, list[float]] = {name: [] for name in calls}
    for _ in range(runs):
        for name, call in calls.items():
            taken[name].append(seconds(call))
    return taken


def said(value: float) -> str:
    """Seconds in a unit that suits."""
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if value >= size:
            return f"{value / size:.3g} {unit}"
    return f"{value * 1e6:.3g} us"


def ratio(a: list[float], b: list[float]) -> float:
    return median(x / y for x, y in zip(a, b, strict=True))


def agree(name: str, answer: Answer, ours: Answer) -> bool:
    off = [float(np.nanmax(np.abs(a - b))) for a, b in zip(answer, ours, strict=True)]
    good = max(off) <= AGREE
    print(f"    {name}: posterior within {off[0]:.1e}, scores within {off[1]:.1e} bits{'' if good else '  DISAGREES'}")
    return good


def compare(name: str, raw: Raw, runs: int) -> bool:
    """One size: agreement, times, ratios."""
    ours, bare, each = Ours(raw), Bare(raw), Each(raw)
    calls: dict[str, Callable[[], object]] = {
        "ours, carried on": ours.score,
        "ours, anew": ours.anew,
        "bare deviations, carried on": bare.score,
        "bare deviations, anew": bare.anew,
        "NumPy, one at a time": each.score,
    }
    answers = {"ours, carried on": ours.carried(), "bare deviations, anew": bare.anew()}
    answers |= {"bare deviations, carried on": bare.carried(), "NumPy, one at a time": each.score()}
    dense = Dense(raw)
    calls["NumPy, dense, one product"] = dense.score
    answers["NumPy, dense, one product"] = dense.score()
    slow: dict[str, Callable[[], object]] = {}
    if name != "L":
        bayes, network = NaiveBayes(raw), Network(raw)
        calls |= {NAIVE: bayes.score, "pyAgrum, its tables by hand": network.tables}
        slow = {AGRUM: network.own}
        answers |= {NAIVE: bayes.score(), AGRUM: network.own(), "pyAgrum, its tables by hand": network.tables()}
    print(f"{name}: {len(raw.prior)} causes x {len(raw.default)} indications, {len(raw.p)} deviations")
    posterior, bits = ours.anew()
    reference = posterior, raw.blank(bits.copy())
    good = True
    for title, (b, x) in answers.items():
        good &= agree(title, (b, raw.blank(x)), reference)

    taken = by_turns(calls, runs)
    for title, times in taken.items():
        print(f"    {title}: median {said(median(times))}; ratio to ours {ratio(times, taken['ours, carried on']):.3g}")
    if slow:
        few = by_turns({"ours, carried on": ours.score, "ours, anew": ours.anew, **slow}, min(runs, 3))
        over = ratio(few[AGRUM], few["ours, carried on"])
        print(f"    {AGRUM}: median {said(median(few[AGRUM]))}; ratio to ours {over:.3g}")
        against = {NAIVE: taken, AGRUM: few, "pyAgrum, its tables by hand": taken}
        for title, times in against.items():
            wanted = f" (wanted {WANTED[name]})" if title in (NAIVE, AGRUM) else ""
            best = [ratio(times[title], times[f"ours, {how}"]) for how in ("carried on", "anew")]
            print(f"    carried on {best[0]:.0f}, anew {best[1]:.0f} times faster than {title}{wanted}")
    for how in ("anew", "carried on"):
        over = ratio(taken[f"ours, {how}"], taken[f"bare deviations, {how}"])
        print(f"    {how}: {over:.2f} times the bare deviations (wanted at most 2)")
    if name == "L":
        print(f"    a fact and all scores: {said(median(taken['ours, carried on']))} (wanted at most 1 ms)")
    return good


def compiled(name: str, raw: Raw, runs: int) -> None:
    """From the arrays, and at M from dense tables too; and the memory that all of it takes."""
    build: Callable[[], Flat] = lambda: from_deviations(raw.prior, raw.default, raw.cause, raw.indication, raw.p)  # noqa: E731
    wanted = {"M": " (wanted at most 20 ms)", "L": " (wanted at most 100 ms)"}.get(name, "")
    print(f"    compiled from deviations: {said(median(seconds(build) for _ in range(runs)))}{wanted}")
    if name != "L":
        tables = list(raw.dense)
        times = [seconds(lambda: from_tables(raw.prior, tables)) for _ in range(runs)]
        print(f"    compiled from dense tables: {said(median(times))}{wanted}")
    tracemalloc.start()
    ours = Ours(raw)
    ours.carried(), ours.anew()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    wanted = " (wanted at most 20 MB)" if name == "L" else ""
    print(
        f"    memory above imports, at its peak: {peak:.1f} MB, of it the table {ours.flat.size / 1e6:.1f} MB{wanted}"
    )


def rolled(name: str, raw: Raw, runs: int) -> None:
    """Rollout of the best twenty, and how soon it ends when called off from another thread."""
    belief: FlatBelief = Ours(raw).before.tell(raw.facts[-1][0], np.eye(STATES)[raw.facts[-1][1]])
    minutes = np.random.default_rng(0).uniform(1.0, 15.0, len(raw.default))
    found = rollout(belief, minutes)
    assert found is not None
    times = [seconds(lambda: rollout(belief, minutes)) for _ in range(runs)]
    wanted = {"M": " (wanted at most 100 ms)", "L": " (wanted at most 1 s)"}.get(name, "")
    print(f"    rollout of the best {len(found.indication)}: median {said(median(times))}{wanted}")
    late = sorted(called_off(belief, minutes, median(times) * share) for share in np.linspace(0.1, 0.8, 3 * runs))
    print(f"    called off: ended after {said(median(late))}, at worst {said(late[-1])} (wanted at most 20 ms)")


def called_off(belief: FlatBelief, minutes: Array, after: float) -> float:
    """Seconds from the call until it ended."""
    stop, ended = threading.Event(), [0.0]

    def work() -> None:
        rollout(belief, minutes, stop=stop.is_set)
        ended[0] = time.perf_counter()

    worker = threading.Thread(target=work)
    worker.start()
    time.sleep(after)
    called = time.perf_counter()
    stop.set()
    worker.join()
    return max(ended[0] - called, 0.0)


def main() -> None:
    asked = arguments(__doc__, runs=9)
    good = True
    for name, size in SIZES.items():
        raw = drawn(*size)
        good &= compare(name, raw, asked.runs)
        compiled(name, raw, asked.runs)
        rolled(name, raw, asked.runs)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
