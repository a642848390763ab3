"""The lower bounds of a policy by hand: what they are where they are tight, and that they are what their formulas say.

A bound that is too low is no fault of the answer, but the search for it then takes minutes in place of seconds."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import replace

import numpy as np
import pytest
from test_reason_policy import chain, model_of, sizes

from diag.reason.policy.policy import TableTest
from diag.reason.policy.policy_bound import CHUNK, entropy_mass, huffman, information, number_of_tests, pairs
from diag.reason.policy.policy_search import Search


def bits(*masses: float) -> float:
    """Their entropy, in mass times bits."""
    whole = sum(masses)
    return sum(-m * math.log2(m / whole) for m in masses if m)


def bound(
    masses: list[float], tests: list[tuple[float, list[float]]], drops: list[float], prices: list[float]
) -> tuple[float, float]:
    """The bound for one set of states: `tests` with their cost and their masses by outcome."""
    first = np.cumsum([0, *(len(share) for _, share in tests[:-1])])
    share = np.array([[m for _, shares in tests for m in shares]])
    cost = np.array([c for c, _ in tests])
    found, at = information(np.array([sum(masses)]), np.array([drops]), share, first, cost, prices)
    return float(found[0]), float(at[0])


@pytest.mark.parametrize("share", [[0.5, 0.5], [0.25, 0.75], [0.75, 0.25], [0.1, 0.4]])
@pytest.mark.source("cost >= L H - max over u of (L F(u) - c u); tight for one test", found="worked by hand")
def test_one_test_costs_its_price_for_the_whole_set(share: list[float]) -> None:
    """At the price at which its last bit is just worth its cost, the bound is the cost itself."""
    cost, whole = 3.0, sum(share)
    price = cost / math.log2(whole / max(share))
    found, at = bound(share, [(cost, share)], [bits(*share)], [price / 4, price, price * 4])
    assert found == pytest.approx(cost * whole, rel=1e-9)
    assert at > 0.99 * price, "at a lower price less is known"
    cheap, _ = bound(share, [(cost, share)], [bits(*share)], [price / 4])
    assert cheap < found


@pytest.mark.source("log2 of three equal outcomes: the whole entropy for one use", found="worked by hand")
def test_one_test_of_three_outcomes_costs_its_price() -> None:
    share, cost = [0.2, 0.2, 0.2], 2.0
    price = cost / math.log2(3)
    found, _ = bound(share, [(cost, share)], [bits(*share)], [price])
    assert found == pytest.approx(cost * 0.6, rel=1e-9)


@pytest.mark.source("max over u by trying 20 000 of them; F(u) fills the larger outcome first", found="recomputed")
@pytest.mark.parametrize("share", [[0.5, 0.5], [0.3, 0.7], [0.05, 0.6]])
@pytest.mark.parametrize("price", [1.5, 2.5, 4.0, 9.0, 40.0])
def test_what_a_test_is_worth_is_the_best_use_of_it(share: list[float], price: float) -> None:
    cost = 2.0
    small, large = sorted(share)

    def most(use: float) -> float:
        x = min(small, use / 2)
        return bits(x, use - x) if use else 0.0

    uses = np.linspace(0.0, small + large, 20_001)
    worth = max(price * most(float(u)) - cost * u for u in uses)
    entropy = bits(*share) * 3  # the set has more to tell than this test can
    found, _ = bound(share, [(cost, share)], [entropy], [price])
    assert found == pytest.approx(price * entropy - worth, rel=1e-6)


def test_what_is_left_by_the_cheap_tests_is_bought_at_the_price_of_the_dear_ones() -> None:
    """Four states, one bit for 1 and one for 9: at one price for all bits less is known than at two."""
    masses = [0.25] * 4
    tests = [(1.0, [0.5, 0.5]), (9.0, [0.5, 0.5])]
    both, _ = bound(masses, tests, [1.0, 1.0], [1.0, 9.0])
    assert both == pytest.approx(10.0)
    # The cheap one tells half a bit alone, whatever it is used for; all else is bought dear.
    both, _ = bound(masses, tests, [0.5, 1.5], [1.0, 9.0])
    one = max(bound(masses, tests, [0.5, 1.5], [price])[0] for price in (1.0, 9.0))
    assert both > one + 0.4
    falling, _ = bound(masses, tests, [1.5, 0.5], [1.0, 9.0])
    assert falling == pytest.approx(max(1.0 * 1.5 + 9.0 * 0.5, 18.0 - 8.0))


def test_a_bound_is_never_below_nothing() -> None:
    assert bound([1.0], [(5.0, [1.0, 0.0])], [0.0], [1.0, 10.0]) == (0.0, 1.0)


def test_many_sets_at_once_are_each_bounded_by_themselves() -> None:
    rng = np.random.default_rng(4)
    n = CHUNK + 3
    share = rng.dirichlet(np.ones(2), n) * rng.uniform(0.2, 1.0, (n, 1))
    mass = share.sum(axis=1)
    drop = (entropy_mass(share).sum(axis=1) - entropy_mass(mass))[:, None]
    first, cost, prices = np.array([0]), np.array([2.0]), [2.0, 3.0, 5.0, 9.0]
    found, at = information(mass, drop, share, first, cost, prices)
    assert found.shape == at.shape == (n,)
    for row in (0, CHUNK - 1, CHUNK, n - 1):
        alone = information(mass[[row]], drop[[row]], share[[row]], first, cost, prices)
        assert (found[row], at[row]) == (alone[0][0], alone[1][0])


@pytest.mark.source("Huffman 1952 with three symbols: 1 1 2 3 4 -> 4 + 11 = 15", found="worked by hand")
def test_a_code_of_three_symbols_is_filled_up_with_nothing() -> None:
    assert huffman([1, 1, 2, 3, 4], 3) == 15
    assert huffman([1, 2, 3, 4], 3) == 3 + 10, "one symbol of nothing fills the first triple"
    assert huffman([5.0], 3) == huffman([7.0]) == 0.0


@pytest.mark.source("half of the states need a second test: 1 x 2 + 0.5 x 7", found="worked by hand")
def test_the_cheapest_tests_come_first_and_each_once_on_a_path() -> None:
    masses = [0.5, 0.25, 0.25]
    assert huffman(masses) == 1.5
    assert number_of_tests(masses, [2.0, 7.0, 9.0], 2) == pytest.approx(2.0 + 0.5 * 7.0)
    assert number_of_tests(masses, [2.0], 2) == pytest.approx(2.0), "no more than there are tests"
    assert number_of_tests([0.25] * 4, [2.0, 7.0, 9.0], 2) == pytest.approx(9.0)
    assert number_of_tests([1.0], [2.0], 2) == 0.0
    assert number_of_tests([0.25] * 4, [2.0, 7.0], 4) == pytest.approx(2.0)


def test_each_state_is_told_from_its_dearest_partner() -> None:
    pair = np.array([[0.0, 3.0, 1.0], [3.0, 0.0, 2.0], [1.0, 2.0, 0.0]])
    assert pairs(np.array([0.5, 0.25, 0.25]), pair) == pytest.approx(0.5 * 3 + 0.25 * 3 + 0.25 * 2)


def grouped() -> tuple[list[float], list[TableTest], dict[Hashable, float]]:
    """Two of three tests behind a set-up of their group."""
    chances, tests = sizes(16, 24, 3)
    return chances, [replace(t, group=(None, "a", "b")[n % 3]) for n, t in enumerate(tests)], {"a": 6.0, "b": 20.0}


@pytest.mark.parametrize(
    ("chances", "tests", "setups", "sets", "share"),
    [
        (*sizes(12, 20, 1), {}, 121, 0.771),
        (*sizes(20, 30, 2), {}, 450, 0.892),
        (*grouped(), 598, 0.672),
        ([1 / 16] * 16, chain(16), {}, 43, 0.999),
    ],
)
def test_the_search_looks_at_few_sets_because_its_first_bound_is_near(
    chances: list[float], tests: list[TableTest], setups: dict[Hashable, float], sets: int, share: float
) -> None:
    """Counted, not timed: a bound that says less, or a set that is opened in vain, makes it more."""
    search = Search(model_of(chances, tests, setups))
    first = search.root.bound
    assert search.run(lambda: False)
    assert len(search.nodes) <= 1.05 * sets
    assert first >= share * search.root.bound
