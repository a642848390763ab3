"""Lower bounds on the cost of telling a set of states apart, from the most that a test can give for its price.

Information. Let u be the mass of the states on whose path a test is used (at most once each, being noiseless). With
masses a1, a2 .. of its outcomes in the set, the bits that it yields over all its uses are at most F(u), the largest
entropy mass -sum x log2(x/u) with x_i <= a_i and sum x = u: that function is concave, homogeneous and rising, so uses
in disjoint subsets yield no more than one use of their sum. All bits together are the entropy of the set, hence for
every price L >= 0 of a bit

    cost >= L H - sum over tests of max over u of (L F(u) - c u).

More can be said. Take the tests in any order, the cheap ones first. However they are used, the first k together supply
at most the entropy of the partition that they make, since all that each tells is in which part the state is. What they
leave must come from later ones. So the price of a bit may rise along the order, and

    cost >= sum over tests of [L_t D_t - max over u of (L_t F_t(u) - c_t u)],  L_1 <= L_2 <= ..,

where D_t is by how much test t, after those before it, lowers the entropy that is left.

A set-up that is still to pay may be shared out over the tests of its group in any way, as each is used by no more mass
than opens the group. (Concavity and duality are textbook matter. Entropy as a bound on the number of tests goes back to
Shannon, and its use in test sequencing to Pattipati and Alexandridis, IEEE Trans. SMC 20 (1990) 872-887.)

Number of tests. Where no test has more than k outcomes, it is at least that of Huffman's code with k symbols (Huffman,
Proc. IRE 40 (1952) 1098-1101), and at best the cheapest tests come first.

Pairs. Each state must be told apart from the one that it is dearest to tell it from.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence

import numpy as np

from diag.reason.policy.policy_model import Array, Index

SAFE = 1.0 - 1e-12
"""Takes back what rounding may have added to a bound."""
CHUNK = 512
"""Rows handled at once, to bound memory."""


def entropy_mass(x: Array) -> Array:
    """-x log2 x, and 0 at 0."""
    return np.asarray(-x * np.log2(np.maximum(x, 1e-300)))


def information(
    mass: Array, drop: Array, share: Array, first: Index, cost: Array, prices: Sequence[float]
) -> tuple[Array, Array]:
    """The information bound of R sets, and the price of a bit at which each is best if all cost the same: [R] and [R].

    `mass` [R] of the sets; `drop` [R, T]: by how much each of T tests, one after another in the order given, lowers
    what entropy is left, in mass times bits (their sum is the set's entropy); `share` [R, K]: their mass by outcome,
    the outcomes of the tests one after another, beginning at `first` [T]; `cost` [T] above 0, in the unit wanted;
    `prices`: those to try, above 0, rising."""
    if len(mass) > CHUNK:
        pieces = [slice(n, n + CHUNK) for n in range(0, len(mass), CHUNK)]
        done = [information(mass[s], drop[s], share[s], first, cost, prices) for s in pieces]
        return np.concatenate([d[0] for d in done]), np.concatenate([d[1] for d in done])
    gain = _gains(mass, share, first, cost)
    alone, at = np.zeros(len(mass)), np.full(len(mass), prices[0])
    best = np.full((len(mass), len(cost) + 1), -np.inf)
    best[:, 0] = 0.0
    for n, price in enumerate(prices):
        total = np.zeros_like(best)
        np.cumsum(price * drop - gain(price), axis=1, out=total[:, 1:])
        better = total[:, -1] > alone
        alone[better], at[better] = total[better, -1], price
        # Tests up to some point at lower prices, from there on at this one.
        best = total if n == 0 else total + np.maximum.accumulate(best - total, axis=1)
    return np.maximum(best[:, -1], 0.0) * SAFE, at


def _gains(mass: Array, share: Array, first: Index, cost: Array) -> Callable[[float], Array]:
    """For a price of a bit, [R, T]: the most that the bits of each test can be worth above its cost."""
    whole = mass[:, None]
    most = np.maximum.reduceat(share, first, axis=1)
    rest = np.maximum(whole - most, 0.0)
    less, more = np.minimum(most, rest), np.maximum(most, rest)
    own = entropy_mass(mass)[:, None]
    two = np.maximum(entropy_mass(most) + entropy_mass(rest) - own, 0.0)
    counts = np.diff(np.append(first, share.shape[1]))
    several = np.flatnonzero(counts > 2)
    if several.size:
        full = np.maximum(np.add.reduceat(entropy_mass(share), first, axis=1) - own, 0.0)[:, several]
        # What more than two outcomes tell beyond "the most frequent one or another".
        beyond = np.maximum(full - two[:, several], 0.0)
        least = cost[several] / np.log2(counts[several])

    def gain(price: float) -> Array:
        found = np.zeros_like(less)
        worth = np.flatnonzero(cost < price)
        if worth.size:
            c, a = cost[worth], less[:, worth]
            ratio = np.exp2(c / price)
            # The marginal use stops where the next bit costs more than it is worth, or at the whole set.
            inside = a * (price * np.log2(ratio / (ratio - 1.0)) - c)
            to_the_end = price * two[:, worth] - c * whole
            found[:, worth] = np.where(a <= more[:, worth] * (ratio - 1.0), inside, to_the_end)
        if several.size:
            linear = np.maximum(price - least, 0.0) * full
            found[:, several] = np.minimum(found[:, several] + price * beyond, linear)
        return found

    return gain


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
