"""Lower bounds on the cost of telling a set of states apart, from what a test can give for its price at best.

Information. Let u be the mass of the states on whose path a test is used (at most once each, being noiseless). With
masses a1, a2 .. of its outcomes in the set, the bits that it yields over all its uses are at most F(u), the largest
entropy mass -sum x log2(x/u) with x_i <= a_i and sum x = u: that function is concave, homogeneous and rising, so uses
in disjoint subsets yield no more than one use of their sum. All bits together are the entropy of the set, hence for
every price L >= 0 of a bit

    cost >= L H - sum over tests of max over u of (L F(u) - c u).

A set-up that is still to pay may be shared out over the tests of its group in any way: each is used by no more mass
than opens the group. (Concavity and duality are textbook; entropy as a bound on the number of tests goes back to
Shannon, its use in test sequencing to Pattipati and Alexandridis, IEEE Trans. SMC 20 (1990) 872-887.)

Number of tests. With k outcomes at most it is at least that of Huffman's code with k symbols (Huffman, Proc. IRE 40
(1952) 1098-1101); at best the cheapest tests come first.

Pairs. Each state must be told from the one that is dearest to tell from it.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence

import numpy as np

from diag.reason.policy_model import Array, Index

SAFE = 1.0 - 1e-12
"""Takes back what rounding may have added to a bound."""
CHUNK = 512
"""Rows handled at once, to bound memory."""


def entropy_mass(x: Array) -> Array:
    """-x log2 x, and 0 at 0."""
    return np.asarray(-x * np.log2(np.maximum(x, 1e-300)))


def information(
    mass: Array, entropy: Array, share: Array, first: Index, cost: Array, prices: Sequence[float]
) -> tuple[Array, Array]:
    """The information bound of R sets, and the price of a bit at which each is best: [R] and [R].

    `mass` [R] of the sets; `entropy` [R]: -sum p log2 p less that of the mass; `share` [R, K]: their mass by outcome,
    the outcomes of T tests one after another, beginning at `first` [T]; `cost` [T] above 0, in the unit of the result;
    `prices`: those to try, above 0."""
    if len(mass) > CHUNK:
        pieces = [slice(n, n + CHUNK) for n in range(0, len(mass), CHUNK)]
        done = [information(mass[s], entropy[s], share[s], first, cost, prices) for s in pieces]
        return np.concatenate([d[0] for d in done]), np.concatenate([d[1] for d in done])
    whole = mass[:, None]
    most = np.maximum.reduceat(share, first, axis=1)
    rest = np.maximum(whole - most, 0.0)
    less, more = np.minimum(most, rest), np.maximum(most, rest)
    full = np.maximum(np.add.reduceat(entropy_mass(share), first, axis=1) - entropy_mass(mass)[:, None], 0.0)
    counts = np.diff(np.append(first, share.shape[1]))
    several = counts > 2
    ways = np.log2(counts)
    # What more than two outcomes tell beyond "the most frequent one or another".
    beyond = np.maximum(full - entropy_mass(most) - entropy_mass(rest) + entropy_mass(mass)[:, None], 0.0)
    best, at = np.zeros(len(mass)), np.full(len(mass), prices[0])
    for price in prices:
        two = np.flatnonzero(cost < price)
        bound = price * entropy
        if two.size:
            c, a = cost[two], less[:, two]
            ratio = np.exp2(c / price)
            # The marginal use stops where the next bit costs more than it is worth, or at the whole set.
            inside = a * (price * np.log2(ratio / (ratio - 1.0)) - c)
            to_the_end = price * (full[:, two] - beyond[:, two]) - c * whole
            gain = np.where(a <= more[:, two] * (ratio - 1.0), inside, to_the_end)
            bound = bound - gain[:, ~several[two]].sum(axis=1)
        if several.any():
            apart = np.zeros_like(full)
            if two.size:
                apart[:, two] = gain
            apart = apart[:, several] + price * beyond[:, several]
            linear = np.maximum(price - cost[several] / ways[several], 0.0) * full[:, several]
            bound = bound - np.minimum(apart, linear).sum(axis=1)
        better = bound > best
        best[better], at[better] = bound[better], price
    return best * SAFE, at


def huffman(masses: Sequence[float], ways: int = 2) -> float:
    """The least expected number of tests with `ways` outcomes each, times the mass, were every test at hand."""
    heap = [*masses, *[0.0] * (-(len(masses) - 1) % (ways - 1))]
    heapq.heapify(heap)
    total = 0.0
    while len(heap) > 1:
        merged = sum(heapq.heappop(heap) for _ in range(ways))
        total += merged
        heapq.heappush(heap, merged)
    return total


def number_of_tests(masses: Sequence[float], costs: Sequence[float], ways: int) -> float:
    """The bound from Huffman's code, the cheapest of `costs` (rising) first, each used on every path at most once."""
    left, whole, total = huffman(masses, ways), sum(masses), 0.0
    for cost in costs:
        if left <= 0.0:
            break
        used = min(left, whole)
        total += used * cost
        left -= used
    return total * SAFE


def pairs(masses: Array, pair: Array) -> float:
    """The bound from the dearest partner of each state; `pair` [n, n]: the cheapest cost of telling two apart."""
    return float(masses @ pair.max(axis=1)) * SAFE
