"""Policies against published examples, closed formulas and brute force."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.reason.policy import policy_bound, policy_model
from diag.reason.policy.policy import MOST_STATES, BadTable, Branch, Leaf, TableTest, Tree, expected_cost, solve
from diag.reason.policy.policy_near import WIDEST, Near
from diag.reason.policy.policy_search import Search

SIX = ["00000", "01001", "00110", "10011", "11000", "11110"]
SIX_CHANCES = [0.70, 0.01, 0.02, 0.10, 0.05, 0.12]
CLRS = [0.45, 0.13, 0.12, 0.16, 0.09, 0.05]
AT_ONCE = 1e-9
"""Seconds: no time to search."""


def six() -> list[TableTest]:
    return [TableTest(1.0, [s[t] for s in SIX]) for t in range(5)]


def model_of(
    chances: Sequence[float], tests: Sequence[TableTest], setups: Mapping[Hashable, float]
) -> policy_model.Model:
    return policy_model.build(
        list(chances), [t.outcomes for t in tests], [t.cost for t in tests], [t.group for t in tests], dict(setups)
    )


def brute(chances: Sequence[float], tests: Sequence[TableTest], setups: Mapping[Hashable, float]) -> float:
    """The least expected cost over all trees, by going through all of them over sets of states."""

    @cache
    def cost(states: frozenset[int], ready: frozenset[Hashable]) -> float:
        mass, best = sum(chances[s] for s in states), math.inf
        for test in tests:
            parts: dict[Hashable, set[int]] = {}
            for s in states:
                parts.setdefault(test.outcomes[s], set()).add(s)
            if len(parts) > 1:
                new = test.group is not None and test.group not in ready
                after = ready | {test.group} if new else ready
                own = mass * (test.cost + (setups[test.group] if new else 0.0))
                best = min(best, own + sum(cost(frozenset(p), after) for p in parts.values()))
        return 0.0 if best == math.inf else best

    return cost(frozenset(range(len(chances))), frozenset())


def leaves(tree: Tree) -> list[tuple[int, ...]]:
    if isinstance(tree, Leaf):
        return [tree.states]
    return [leaf for _, way in tree.outcomes for leaf in leaves(way)]


def is_whole(tree: Tree, tests: Sequence[TableTest], states: int) -> None:
    """Each state ends in a leaf that holds it, each leaf is one state or an ambiguity group."""
    signature = {s: tuple(t.outcomes[s] for t in tests) for s in range(states)}
    groups: dict[tuple[Hashable, ...], list[int]] = {}
    for s, sign in signature.items():
        groups.setdefault(sign, []).append(s)
    assert sorted(leaves(tree)) == sorted(tuple(g) for g in groups.values())
    expected_cost(tree, [1.0 / states] * states, tests, dict.fromkeys((t.group for t in tests), 0.0))


Table = tuple[list[float], list[TableTest], dict[Hashable, float]]


@st.composite
def tables(draw: st.DrawFn, most: int = 7) -> Table:
    n = draw(st.integers(1, most))
    raw = draw(st.lists(st.one_of(st.floats(0.01, 1.0), st.sampled_from([0.0, 1.0])), min_size=n, max_size=n))
    total = sum(raw)
    chances = [x / total for x in raw] if total else [1.0 / n] * n
    ways = draw(st.integers(2, 4))
    cost = st.one_of(st.just(1.0), st.floats(0.5, 20.0))
    row = st.lists(st.integers(0, ways - 1), min_size=n, max_size=n)
    group = st.sampled_from([None, None, "a", "b"])
    tests = draw(st.lists(st.builds(TableTest, cost, row, group), max_size=8))
    setups = draw(st.fixed_dictionaries({g: st.sampled_from([0.0, 1.0, 6.0, 25.0]) for g in "ab"}))
    return chances, tests, dict(setups)


def sizes(n: int, t: int, seed: int, density: float = 0.5) -> tuple[list[float], list[TableTest]]:
    """A random table of binary tests with unequal costs."""
    rng = np.random.default_rng(seed)
    chances = rng.exponential(size=n)
    rows = (rng.random((t, n)) < density).astype(int)
    costs = rng.uniform(1.0, 20.0, t)
    return (chances / chances.sum()).tolist(), [
        TableTest(float(c), row.tolist()) for c, row in zip(costs, rows, strict=True)
    ]


@pytest.mark.source(
    "Pattipati and Alexandridis 1990, IEEE Trans. SMC 20:872-887: six states, five tests, optimum 2.18",
    found="matrix from memory, optimum recomputed",
)
def test_the_published_six_states() -> None:
    policy = solve(SIX_CHANCES, six())
    assert policy.expected_cost == pytest.approx(2.18, abs=1e-12)
    assert policy.exact
    assert policy.lower_bound == policy.expected_cost
    assert policy_bound.huffman(SIX_CHANCES) == pytest.approx(1.59)
    near = Near(model_of(SIX_CHANCES, six(), {}))
    assert near.greedy(near.model.everything) == pytest.approx(2.86)
    assert near.rollout(5)[0] == pytest.approx(2.18)


@pytest.mark.source(
    "Cormen, Leiserson, Rivest and Stein: Huffman code of 45 13 12 16 9 5 -> 224", found="from memory, recomputed"
)
def test_with_every_question_at_hand_the_cost_is_that_of_huffmans_code() -> None:
    assert policy_bound.huffman([45, 13, 12, 16, 9, 5]) == 224
    assert policy_bound.huffman(CLRS) == pytest.approx(2.24)
    assert solve(CLRS, every_question(6)).expected_cost == pytest.approx(2.24)


def every_question(n: int) -> list[TableTest]:
    """All yes/no tests of cost 1 on n states."""
    return [TableTest(1.0, [q >> s & 1 for s in range(n)]) for q in range(1, 1 << (n - 1))]


@given(st.lists(st.floats(0.001, 1.0), min_size=2, max_size=7))
@settings(max_examples=40, deadline=None)
@pytest.mark.source(
    "Huffman 1952, Proc. IRE 40:1098-1101: the least expected number of yes/no tests", found="recomputed"
)
def test_huffmans_bound_is_matched_exactly(raw: list[float]) -> None:
    chances = [x / sum(raw) for x in raw]
    policy = solve(chances, every_question(len(raw)))
    assert policy.exact
    assert policy.expected_cost == pytest.approx(policy_bound.huffman(chances), rel=1e-9)


def chain(n: int) -> list[TableTest]:
    """n sections in a row, of which one is bad: a measurement between any two tells on which side."""
    return [TableTest(1.0, ["before" if s <= k else "after" for s in range(n)]) for k in range(n - 1)]


@pytest.mark.source(
    "NEETS Module 19 (NAVEDTRA 14191): half-split; E = ceil(log2 n) + 1 - 2^ceil(log2 n)/n", found="recomputed"
)
@pytest.mark.parametrize(("n", "cost"), [(5, 2.4), (6, 2.6667), (7, 2.8571), (8, 3.0), (10, 3.4), (16, 4.0), (32, 5.0)])
def test_a_chain_of_equal_chances_is_halved(n: int, cost: float) -> None:
    policy = solve([1.0 / n] * n, chain(n))
    assert policy.exact
    assert policy.expected_cost == pytest.approx(cost, abs=5e-5)
    k = math.ceil(math.log2(n))
    assert policy.expected_cost == pytest.approx(k + 1 - 2**k / n, rel=1e-12)
    assert isinstance(policy.tree, Branch)
    if n == 2**k:
        assert policy.tree.test == n // 2 - 1  # after the first half, and nowhere else


@pytest.mark.source("one end to the other: (n-1)(n+2)/(2n) measurements", found="recomputed")
@pytest.mark.parametrize("n", [2, 5, 8, 32])
def test_from_one_end_to_the_other_costs_what_the_formula_says(n: int) -> None:
    tree: Tree = Leaf((n - 1,))
    for k in range(n - 2, -1, -1):
        tree = Branch(k, (("before", Leaf((k,))), ("after", tree)))
    cost = expected_cost(tree, [1.0 / n] * n, chain(n))
    assert cost == pytest.approx((n - 1) * (n + 2) / (2 * n), rel=1e-12)
    assert solve([1.0 / n] * n, chain(n)).expected_cost <= cost + 1e-12


@given(st.lists(st.floats(0.001, 1.0), min_size=2, max_size=12))
@settings(max_examples=40, deadline=None)
@pytest.mark.source(
    "Gilbert and Moore 1959, Bell System Tech. J. 38:933-967: the best alphabetical code, by its own recursion",
    found="reference from memory, optimum recomputed",
)
def test_a_chain_of_unequal_chances_is_split_as_the_best_alphabetical_code_is(raw: list[float]) -> None:
    p = [x / sum(raw) for x in raw]

    @cache
    def code(i: int, j: int) -> float:
        return 0.0 if i == j else sum(p[i : j + 1]) + min(code(i, k) + code(k + 1, j) for k in range(i, j))

    assert solve(p, chain(len(p))).expected_cost == pytest.approx(code(0, len(p) - 1), rel=1e-9)


def test_a_chain_with_one_likely_section_is_split_beside_it() -> None:
    tree = solve([0.6, 0.1, 0.1, 0.1, 0.1], chain(5)).tree
    assert isinstance(tree, Branch)
    assert tree.test == 0
    assert tree.outcomes[0] == ("before", Leaf((0,)))


SHARED = [
    TableTest(1.0, [0, 0, 1, 1], "cabinet"),
    TableTest(1.0, [0, 1, 0, 1], "cabinet"),
    TableTest(5.0, [0, 0, 1, 1]),
    TableTest(5.0, [0, 1, 0, 1]),
]
"""Four states, two halves to be told apart twice: inside for 1 each, or from outside for 5 each."""


@pytest.mark.source(
    "shared opening by hand: 6 + 1 + 1 = 8 against 5 + 5 = 10 outside, 14 unshared",
    found="own, confirmed by brute force",
)
def test_a_set_up_is_paid_once_on_a_path() -> None:
    assert solve([0.25] * 4, SHARED, {"cabinet": 6.0}).expected_cost == pytest.approx(8.0)
    assert brute([0.25] * 4, SHARED, {"cabinet": 6.0}) == pytest.approx(8.0)
    assert solve([0.25] * 4, SHARED, {"cabinet": 9.0}).expected_cost == pytest.approx(10.0)
    apart = [TableTest(1.0, SHARED[0].outcomes, "a"), TableTest(1.0, SHARED[1].outcomes, "b"), *SHARED[2:]]
    assert solve([0.25] * 4, apart, {"a": 6.0, "b": 6.0}).expected_cost == pytest.approx(10.0)


@given(tables())
@settings(max_examples=250, deadline=None)
@pytest.mark.source("brute force over all trees, up to 7 states, several outcomes, shared set-ups", found="recomputed")
def test_exact_is_the_best_of_all_trees(table: Table) -> None:
    chances, tests, setups = table
    policy = solve(chances, tests, setups)
    best = brute(chances, tests, setups)
    assert policy.exact
    assert policy.expected_cost == pytest.approx(best, rel=1e-9, abs=1e-12)
    assert policy.lower_bound == policy.expected_cost
    is_whole(policy.tree, tests, len(chances))


@given(tables())
@settings(max_examples=120, deadline=None)
@pytest.mark.source("brute force over all trees, up to 7 states, several outcomes, shared set-ups", found="recomputed")
def test_no_bound_is_above_the_best_and_no_way_below_it(table: Table) -> None:
    chances, tests, setups = table
    best = brute(chances, tests, setups)
    model = model_of(chances, tests, setups)
    assert Search(model).root.bound <= best * (1 + 1e-9)
    near = Near(model)
    for cost in (near.greedy(model.everything), near.rollout(3)[0], near.restricted(2)[0], near.restricted(12)[0]):
        assert cost >= best * (1 - 1e-9)
    policy = solve(chances, tests, setups, seconds=AT_ONCE)
    assert policy.lower_bound <= best * (1 + 1e-9)
    assert policy.expected_cost >= best * (1 - 1e-9)
    is_whole(policy.tree, tests, len(chances))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.source("dynamic programming over all tests at each set, which knows no bounds", found="recomputed")
def test_twenty_states_agree_with_dynamic_programming_over_all_tests(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ways, setups = 2 + seed % 2, {"a": 4.0, "b": 12.0}
    rows = [(rng.random(20) < 0.3) * rng.integers(1, ways, 20) for _ in range(WIDEST)]
    names = rng.choice(np.array([None, None, "a", "b"]), WIDEST)
    tests = [
        TableTest(float(rng.uniform(1.0, 20.0)), row.tolist(), None if seed < 2 else name)
        for row, name in zip(rows, names, strict=True)
    ]
    chances = rng.dirichlet(np.ones(20)).tolist()
    policy = solve(chances, tests, setups)
    assert policy.exact
    model = model_of(chances, tests, setups)
    assert policy.expected_cost == pytest.approx(Near(model).restricted(WIDEST)[0], rel=1e-9)
    assert Search(model).root.bound <= policy.expected_cost


@pytest.mark.parametrize("seconds", [AT_ONCE, 0.05, 0.6])
@pytest.mark.parametrize("density", [0.1, 0.5])
def test_without_time_to_be_exact_the_tree_is_whole_and_the_bound_below_it(seconds: float, density: float) -> None:
    chances, tests = sizes(60, 90, 3, density)
    policy = solve(chances, tests, seconds=seconds)
    is_whole(policy.tree, tests, len(chances))
    assert 0 < policy.lower_bound <= policy.expected_cost
    assert policy.exact == (policy.lower_bound == policy.expected_cost)
    assert expected_cost(policy.tree, chances, tests) == pytest.approx(policy.expected_cost, rel=1e-12)


def test_forty_causes_and_sixty_tests_are_exact(record_property: pytest.RecordProperty) -> None:
    import time

    chances, tests = sizes(40, 60, 1)
    start = time.monotonic()
    policy = solve(chances, tests, seconds=30.0)
    took = time.monotonic() - start
    assert policy.exact
    near = Near(model_of(chances, tests, {}))
    assert policy.expected_cost <= near.restricted(3)[0] <= near.greedy(near.model.everything)
    record_property("figure", f"policy of 40 causes x 60 tests, exact: {took:.2f} s")


def test_states_that_no_test_splits_stay_together() -> None:
    policy = solve([0.5, 0.2, 0.2, 0.1], [TableTest(2.0, "xyyx"), TableTest(3.0, "xyyx"), TableTest(1.0, "aaaa")])
    assert policy.tree == Branch(0, (("x", Leaf((0, 3))), ("y", Leaf((1, 2)))))
    assert policy.expected_cost == pytest.approx(2.0)
    assert solve([0.5, 0.5], []).tree == Leaf((0, 1))
    assert solve([1.0], [TableTest(1.0, "a")]).expected_cost == 0.0


def test_a_long_chain_is_no_trouble() -> None:
    """As many states as there may be, and tests that each tell only one of them from the rest."""
    n = MOST_STATES
    tests = [TableTest(1.0, [int(s == t) for s in range(n)]) for t in range(n - 1)]
    policy = solve([1.0 / n] * n, tests, seconds=0.5)
    assert policy.expected_cost == pytest.approx((n - 1) * (n + 2) / (2 * n))
    is_whole(policy.tree, tests, n)


@pytest.mark.parametrize(
    ("chances", "tests", "setups", "says"),
    [
        ([], [], {}, "no states"),
        ([0.5, 0.4], [], {}, "sum to 0.9"),
        ([1.0, -0.5], [], {}, "probability of state 1 is -0.5"),
        ([math.nan, 1.0], [], {}, "probability of state 0 is nan"),
        ([0.5, 0.5], [TableTest(0.0, "ab")], {}, "test 0 costs 0"),
        ([0.5, 0.5], [TableTest(math.nan, "ab")], {}, "test 0 costs nan"),
        ([0.5, 0.5], [TableTest(math.inf, "ab")], {}, "test 0 costs inf"),
        ([0.5, 0.5], [TableTest(1.0, "abc")], {}, "3 outcomes for 2 states"),
        ([0.5, 0.5], [TableTest(1.0, "ab", "box")], {}, "group 'box', which has no set-up cost"),
        ([0.5, 0.5], [TableTest(1.0, "ab", "box")], {"box": -1.0}, "group 'box' costs -1"),
        ([1.0 / 400] * 400, [], {}, "at most 300"),
        ([1.0 / 300] * 300, [TableTest(1.0, range(300))] * 14, {}, "4200 outcomes together; at most 4000"),
    ],
)
def test_a_table_that_makes_no_sense_is_refused(
    chances: list[float], tests: list[TableTest], setups: dict[Hashable, float], says: str
) -> None:
    with pytest.raises(BadTable, match=says):
        solve(chances, tests, setups)


def test_rounded_probabilities_are_made_to_sum_to_one() -> None:
    policy = solve([0.333, 0.333, 0.333], [TableTest(1.0, "abc")])
    assert policy.expected_cost == pytest.approx(1.0)
    with pytest.raises(BadTable, match="seconds"):
        solve([1.0], [], seconds=0.0)


def test_a_tree_that_leads_astray_is_found() -> None:
    tests = [TableTest(1.0, "ab")]
    with pytest.raises(BadTable, match="state 0 ends in the leaf of 1"):
        expected_cost(Branch(0, (("a", Leaf((1,))), ("b", Leaf((0,))))), [0.5, 0.5], tests)
    with pytest.raises(BadTable, match="0 branches for state 1"):
        expected_cost(Branch(0, (("a", Leaf((0,))),)), [0.5, 0.5], tests)
