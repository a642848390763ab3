"""How near the optimum each way to a test tree comes, and how long each takes, on seeded random tables.

Binary tests without noise; probabilities from exponentials, costs uniform from 1 to 20, or all equal; an outcome is 1
with chance .5 (dense), or .13 (sparse: each cause shows itself in about one test of eight). With `--setups` a test
belongs with chance one half to one of four groups, whose set-ups cost from 5 to 30. Ratios are over the exact optimum,
or over the lower bound where the optimum was not reached in `--seconds`; the head of each size says how often it was.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Hashable
from statistics import mean, median

import numpy as np
import pairs  # noqa: F401  (makes diag importable from here)

from diag.reason.policy import policy_model
from diag.reason.policy.policy import TableTest, solve
from diag.reason.policy.policy_near import Near

SIZES = ((8, 12), (12, 18), (16, 24), (20, 30), (40, 60), (100, 150))
COSTS: dict[str, Callable[[np.random.Generator, int], list[float]]] = {
    "unequal": lambda rng, t: rng.uniform(1.0, 20.0, t).tolist(),
    "equal": lambda rng, t: [1.0] * t,
}
DENSITY = {"dense": 0.5, "sparse": 0.13}
GROUPS = 4

Table = tuple[list[float], list[TableTest], dict[Hashable, float]]
WAYS: dict[str, Callable[[Near], float]] = {
    "information per cost": lambda near: near.greedy(near.model.everything),
    "rollout of the best five": lambda near: near.rollout(5)[0],
    "dynamic programming, best three": lambda near: near.restricted(3)[0],
    "dynamic programming, best five": lambda near: near.restricted(5)[0],
}


def table(n: int, t: int, costs: str, density: float, setups: bool, seed: int) -> Table:
    """A table of n states that its tests tell apart."""
    rng = np.random.default_rng([n, t, seed])
    chances = rng.exponential(size=n)
    rows = rng.random((t, n)) < density
    seen: set[bytes] = set()
    for s in range(n):
        while rows[:, s].tobytes() in seen:
            rows[:, s] = rng.random(t) < density
        seen.add(rows[:, s].tobytes())
    prices = COSTS[costs](rng, t)
    of = rng.integers(0, 2 * GROUPS, t) if setups else np.full(t, GROUPS)
    tests = [
        TableTest(cost, row.astype(int).tolist(), int(g) if g < GROUPS else None)
        for cost, row, g in zip(prices, rows, of, strict=True)
    ]
    groups: dict[Hashable, float] = {g: float(rng.uniform(5.0, 30.0)) for g in range(GROUPS)}
    return (chances / chances.sum()).tolist(), tests, groups


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=15, help="tables of each size (default: %(default)s)")
    parser.add_argument("--most", type=int, default=100, help="leave out tables of more states (default: %(default)s)")
    parser.add_argument("--least", type=int, default=8, help="leave out tables of fewer states (default: %(default)s)")
    parser.add_argument("--seconds", type=float, default=30.0, help="for the exact search (default: %(default)s)")
    parser.add_argument("--costs", choices=COSTS, default="unequal")
    parser.add_argument("--density", choices=DENSITY, default="dense")
    parser.add_argument("--setups", action="store_true", help="tests share set-ups")
    asked = parser.parse_args()
    print(f"costs {asked.costs}, outcomes {asked.density}, {'shared' if asked.setups else 'no'} set-ups")
    print(f"{asked.runs} tables of each size; mean and worst above the optimum (or the bound), median and longest time")
    for n, t in SIZES:
        if not asked.least <= n <= asked.most:
            continue
        above: dict[str, list[float]] = {}
        took: dict[str, list[float]] = {}
        exact = 0
        for seed in range(asked.runs):
            tables = table(n, t, asked.costs, DENSITY[asked.density], asked.setups, seed)
            start = time.perf_counter()
            policy = solve(*tables, seconds=asked.seconds)
            took.setdefault("solve", []).append(time.perf_counter() - start)
            above.setdefault("solve", []).append(policy.expected_cost / policy.lower_bound - 1.0)
            exact += policy.exact
            for name, way in WAYS.items():
                start = time.perf_counter()
                cost = way(Near(built(tables)))
                took.setdefault(name, []).append(time.perf_counter() - start)
                above.setdefault(name, []).append(max(cost / policy.lower_bound - 1.0, 0.0))  # 0 but for rounding
        print(f"\n{n} causes x {t} tests, exact in {exact} of {asked.runs}")
        for name in above:
            print(
                f"  {name:<34}{mean(above[name]):8.2%}{max(above[name]):9.2%}"
                f"{median(took[name]):10.3f} s{max(took[name]):9.3f} s"
            )


def built(tables: Table) -> policy_model.Model:
    chances, tests, groups = tables
    return policy_model.build(
        chances, [t.outcomes for t in tests], [t.cost for t in tests], [t.group for t in tests], groups
    )


if __name__ == "__main__":
    main()
