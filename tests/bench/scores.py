"""How long it takes to score every remaining indication after a fact, on tables without a machine file.

Seeded tables of three sizes, a single fault, three states an indication; each cause deviates in eight of them: S 40
causes x 60 indications, M 300 x 300, L 3,000 x 2,000. All who take part answer the same question by turns: the expected
entropy of the causes after each remaining indication, given five facts and one more. The peers of the promise, each in
the quickest of its documented ways that was found:

- scikit-learn's CategoricalNB with the tables put in, laid out as its `fit` lays them out: one call of
  `predict_log_proba` for all outcomes, a fourth state, "not seen", leaving the rest out; input checks switched off.
- pyAgrum's own function `jointMutualInformation`. It leaves evidence out, so the belief is inferred first and put in as
  the table of the cause. (`InformationTheory`, which minds evidence, takes eight times as long at S, 60 times at M.)

Beside them, as no part of the promise: CategoricalNB with its tables laid out the other way, pyAgrum's tables
multiplied by hand, and NumPy written out plainly: a dense table by one product, one indication at a time, and the bare
arithmetic of default plus deviations, anew and carried on; it stops at the bits that each indication tells, and is
spared the entropy of now that they are taken from. Posteriors must agree to 1e-9 and so must the scores, or the exit
code is 1. NumPy has one thread, as in the program's own commands. Trust the ratios more than the times.
"""

from __future__ import annotations

import sys
import threading
import time
import tracemalloc
from collections.abc import Callable
from statistics import median

import numpy as np
from flat_table.flat import Array, Flat, from_deviations
from flat_table.flat_belief import FlatBelief, start
from flat_table.flat_rollout import rollout
from flat_table.flat_scores import Sums, expected_entropy
from flat_table.flat_tables import from_tables
from pairs import arguments
from score_peers import STATES, Answer, Bare, Dense, Each, NaiveBayes, Network, Raw, drawn, entropy
from threadpoolctl import threadpool_limits

SIZES = {"S": (40, 60), "M": (300, 300), "L": (3000, 2000)}
AGREE = 1e-9
NAIVE, AGRUM = "scikit-learn CategoricalNB", "pyAgrum jointMutualInformation"
TURNED, BY_HAND = "CategoricalNB, tables turned by hand", "pyAgrum, its tables by hand"
WANTED = {"S": 50, "M": 1000}


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
        return belief.posterior, expected_entropy(belief)

    def carried(self) -> Answer:
        sums = self.sums.tell(self.last, self.seen)
        return sums.belief.posterior, sums.expected_entropy

    def score(self) -> Array:
        return self.sums.tell(self.last, self.seen).expected_entropy


def seconds(call: Callable[[], object], least: float = 0.002, stretches: int = 5) -> float:
    """Seconds of one call: the quickest of some stretches, each of as many calls as take `least` seconds. A stretch is
    shorter than what a busy machine gives to others in between."""
    best = np.inf
    for _ in range(stretches):
        begin, n, taken = time.perf_counter(), 0, 0.0
        while taken < least:
            call()
            n += 1
            taken = time.perf_counter() - begin
        best = min(best, taken / n)
    return best


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
    ours, bare, each, dense = Ours(raw), Bare(raw), Each(raw), Dense(raw)
    calls: dict[str, Callable[[], object]] = {
        "ours, carried on": ours.score,
        "ours, anew": ours.anew,
        "bare deviations, carried on": bare.score,
        "bare deviations, anew": bare.anew,
        "NumPy, one at a time": each.score,
        "NumPy, dense, one product": dense.score,
    }
    answers = {"ours, carried on": ours.carried(), "NumPy, one at a time": each.score()}
    answers |= {"NumPy, dense, one product": dense.score()}
    for how, (b, told) in (("anew", bare.anew()), ("carried on", bare.carried())):
        answers[f"bare deviations, {how}"] = b, entropy(b) - told
    if name in WANTED:
        bayes, turned, network = NaiveBayes(raw), NaiveBayes(raw, "F"), Network(raw)
        calls |= {NAIVE: bayes.open, AGRUM: network.own, TURNED: turned.open, BY_HAND: network.tables}
        answers |= {NAIVE: bayes.score(), AGRUM: network.own()}
        answers |= {TURNED: turned.score(), BY_HAND: network.tables()}
    print(f"{name}: {len(raw.prior)} causes x {len(raw.default)} indications, {len(raw.p)} deviations")
    posterior, bits = ours.anew()
    reference = posterior, raw.blank(bits.copy())
    good = True
    for title, (b, x) in answers.items():
        good &= agree(title, (b, raw.blank(x)), reference)

    taken = by_turns(calls, runs)
    for title, times in taken.items():
        print(f"    {title}: median {said(median(times))}; ratio to ours {ratio(times, taken['ours, carried on']):.3g}")
    if name in WANTED:
        promised(taken, WANTED[name])
    for how in ("anew", "carried on"):
        over = ratio(taken[f"ours, {how}"], taken[f"bare deviations, {how}"])
        print(f"    {how}: {over:.2f} times the bare deviations (wanted at most 2)")
    if name == "L":
        print(f"    a fact and all scores: {said(median(taken['ours, carried on']))} (wanted at most 1 ms)")
    return good


def promised(taken: dict[str, list[float]], wanted: int) -> None:
    """How many times faster than each peer, and than the faster of the two that the promise names."""
    fastest = min((NAIVE, AGRUM), key=lambda title: median(taken[title]))
    for title in (NAIVE, AGRUM, TURNED, BY_HAND):
        carried, anew = (ratio(taken[title], taken[f"ours, {how}"]) for how in ("carried on", "anew"))
        kind = f"the promise's faster peer, wanted {wanted}" if title == fastest else "the promise's other peer"
        kind = kind if title in (NAIVE, AGRUM) else "no part of the promise"
        print(f"    carried on {carried:.0f}, anew {anew:.0f} times faster than {title} ({kind})")


def compiled(name: str, raw: Raw, runs: int) -> None:
    """From the deviations and from dense tables; and the memory that all of it takes from deviations."""
    build: Callable[[], Flat] = lambda: from_deviations(raw.prior, raw.default, raw.cause, raw.indication, raw.p)  # noqa: E731
    wanted = {"M": " (wanted at most 20 ms)", "L": " (wanted at most 100 ms)"}.get(name, "")
    print(f"    compiled from deviations: {said(median(seconds(build) for _ in range(runs)))}{wanted}")
    tables = list(raw.dense)
    times = [seconds(lambda: from_tables(raw.prior, tables)) for _ in range(runs)]
    read = ratio(times, [seconds(raw.dense.sum) for _ in range(runs)])
    print(f"    compiled from dense tables: {said(median(times))}{wanted}; {read:.1f} times adding up their numbers")
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
    with threadpool_limits(1, "blas"):
        for name, size in SIZES.items():
            raw = drawn(*size)
            good &= compare(name, raw, asked.runs)
            compiled(name, raw, asked.runs)
            rolled(name, raw, asked.runs)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
