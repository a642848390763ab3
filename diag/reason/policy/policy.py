"""Sequential testing for one fault: the order of tests whose expected cost is least.

One of several states holds, with known chances. A test costs something and gives, without noise, a known outcome in
each state. Tests may share a set-up (a cabinet to open), which is paid once on a path, with the first test of its
group. A policy is a tree: a test, and for each outcome how it goes on, until one state is left or only states that no
test tells apart. Finding the cheapest is NP-hard (Hyafil and Rivest, Information Processing Letters 5 (1976) 15-17), so
the answer comes with a cost below which no policy can be.

`solve` takes a raw table, such as a paper's matrix with its probabilities and costs. The ways to the answer are in
`policy_search` (exact), `policy_bound` (lower bounds) and `policy_near` (near the optimum).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Hashable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from reprlib import repr as shortened

from diag.reason.policy import policy_model
from diag.reason.policy.policy_model import Model, OutOfTime
from diag.reason.policy.policy_near import Key, Near
from diag.reason.policy.policy_search import Search

ROUNDING = 0.01
"""Probabilities whose sum is this near to 1 are taken as rounded and divided by it; others are refused."""
CHEAPEST, DEAREST = 1e-9, 1e9
"""Costs of a test; outside, sums of costs would lose what tells policies apart."""
MOST_STATES, MOST_TESTS, MOST_OUTCOMES = 300, 1000, 4000
"""A tree may be as deep as there are states, and each test is weighed at each of its branches; the outcomes of all
tests together are the rows and the columns of a matrix (128 MB at most)."""
FIRST_TRY = 0.4
"""Share of the time that goes to the exact search before near-optimal policies are looked for."""
SECOND_TRY = 0.65
"""Share of the time after which the exact search goes on, to raise the bound if no more."""
WIDTHS = (3, 4, 5, 6, 8, 12)
"""Tests at each set that dynamic programming goes through, one width after another while there is time."""
ROLLOUT = 5


class BadTable(ValueError):
    """The table makes no sense; the message says where."""


@dataclass(frozen=True, slots=True)
class TableTest:
    cost: float
    """Any unit, above 0; the expected cost is in the same."""
    outcomes: Sequence[Hashable]
    """[S]: what it gives in each state."""
    group: Hashable | None = None
    """Whose set-up it needs."""


@dataclass(frozen=True, slots=True)
class Leaf:
    states: tuple[int, ...]
    """One state, or those that no test tells apart; ascending."""


@dataclass(frozen=True, slots=True)
class Branch:
    test: int
    outcomes: tuple[tuple[Hashable, Tree], ...]
    """Each outcome that is still possible, and how it goes on."""


Tree = Leaf | Branch


@dataclass(frozen=True, slots=True)
class Policy:
    expected_cost: float
    lower_bound: float
    """No policy costs less; equal to the cost when it is exact."""
    exact: bool
    tree: Tree


def solve(
    probabilities: Sequence[float],
    tests: Sequence[TableTest],
    groups: Mapping[Hashable, float] | None = None,
    seconds: float = 30.0,
) -> Policy:
    """The policy of least expected cost, or the best one found within about that many seconds.

    `probabilities` [S] of the states must sum to 1 within `ROUNDING`, and are made to sum to 1. `tests` [T]. `groups`:
    the set-up of each group that a test names, at least 0, in the unit of the tests' costs. A state of probability 0
    has its leaf all the same. The clock only ends the search: what is exact does not depend on it, and what is not is
    as good as the time allowed.

    Raises BadTable. Sources: Pattipati and Alexandridis, IEEE Trans. SMC 20 (1990) 872-887, for the problem and its
    solution by AO*; those of `policy_search`, `policy_bound` and `policy_near`.
    """
    if not seconds > 0:
        raise BadTable(f"seconds must be above 0, not {seconds:g}")
    chances, setups = checked(probabilities, tests, groups or {})
    start = time.monotonic()
    model = policy_model.build(
        chances, [t.outcomes for t in tests], [t.cost for t in tests], [t.group for t in tests], setups
    )
    search = Search(model)
    if search.run(_after(start + FIRST_TRY * seconds)):
        choose = _solved(search)
    else:
        end = start + seconds
        choose = _near(search, _after(start + SECOND_TRY * seconds))
        if search.run(_after(end)):
            choose = _solved(search)
    tree = _tree(model, tests, choose)
    cost = expected_cost(tree, chances, tests, setups)
    exact = search.root.solved
    return Policy(cost, cost if exact else min(search.root.bound, cost), exact, tree)


def expected_cost(
    tree: Tree,
    probabilities: Sequence[float],
    tests: Sequence[TableTest],
    groups: Mapping[Hashable, float] | None = None,
) -> float:
    """What a tree costs on average, by walking it for each state: every test met, and each set-up once.

    Arguments as for `solve`, probabilities summing to 1. Raises BadTable when a state finds no way, or ends in a leaf
    that does not hold it."""
    terms = []
    for state, chance in enumerate(probabilities):
        at, paid, ready = tree, 0.0, set[Hashable]()
        while isinstance(at, Branch):
            test = tests[at.test]
            paid += test.cost
            if test.group is not None and test.group not in ready:
                ready.add(test.group)
                paid += (groups or {})[test.group]
            shown = test.outcomes[state]
            ways = [way for outcome, way in at.outcomes if outcome == shown]
            if len(ways) != 1:
                raise BadTable(f"test {at.test} has {len(ways)} branches for state {state}")
            at = ways[0]
        if state not in at.states:
            raise BadTable(f"state {state} ends in the leaf of {', '.join(map(str, at.states))}")
        terms.append(chance * paid)
    return math.fsum(terms)


def checked(
    probabilities: Sequence[float],
    tests: Sequence[TableTest],
    groups: Mapping[Hashable, float],
    state: Callable[[int], str] = str,
    test: Callable[[int], str] = str,
) -> tuple[list[float], dict[Hashable, float]]:
    """The probabilities divided by their sum, and the set-ups of the groups that are used.

    `state` and `test` say what a message calls them. Raises BadTable."""
    n = len(probabilities)
    if not n:
        raise BadTable("there are no states")
    if n > MOST_STATES or len(tests) > MOST_TESTS:
        raise BadTable(f"{n} states and {len(tests)} tests; at most {MOST_STATES} and {MOST_TESTS} can be handled")
    for s, chance in enumerate(probabilities):
        if not 0.0 <= chance <= 1.0 + ROUNDING:
            raise BadTable(f"the probability of state {state(s)} is {chance:g}; it must be from 0 to 1")
    total = math.fsum(probabilities)
    if abs(total - 1.0) > ROUNDING:
        raise BadTable(f"the probabilities sum to {total:.6g}; only within {ROUNDING:g} of 1 are they taken as rounded")
    for t, one in enumerate(tests):
        if not CHEAPEST <= one.cost <= DEAREST:
            raise BadTable(f"test {test(t)} costs {one.cost:g}; it must be from {CHEAPEST:g} to {DEAREST:g}")
        if len(one.outcomes) != n:
            raise BadTable(f"test {test(t)} has {len(one.outcomes)} outcomes for {n} states")
        if one.group is not None and one.group not in groups:
            raise BadTable(f"test {test(t)} is of group {shortened(one.group)}, which has no set-up cost")
    if (ways := sum(len(set(one.outcomes)) for one in tests)) > MOST_OUTCOMES:
        raise BadTable(f"the tests have {ways} outcomes together; at most {MOST_OUTCOMES} can be handled")
    setups = {one.group: groups[one.group] for one in tests if one.group is not None}
    for group, setup in setups.items():
        if not (setup == 0 or CHEAPEST <= setup <= DEAREST):
            raise BadTable(f"the set-up of group {shortened(group)} costs {setup:g}; it must be 0 or up to {DEAREST:g}")
    return [chance / total for chance in probabilities], setups


Choose = Callable[[Key], int | None]
"""The test for a set of states and open groups; None at a leaf."""


def _after(moment: float) -> Callable[[], bool]:
    return lambda: time.monotonic() > moment


def _solved(search: Search) -> Choose:
    return lambda key: search.nodes[key].best


def _near(search: Search, time_is_up: Callable[[], bool]) -> Choose:
    """The best of what is near the optimum, as far as time allows; information per cost in any case."""
    near = Near(search.model)
    best = near.greedy(search.model.everything)
    choose: Choose = near.by_information

    def known(key: Key) -> tuple[float, int | None] | None:
        node = search.nodes.get(key)
        return (node.bound, node.best) if node is not None and node.solved else None

    ways = [partial(near.rollout, ROLLOUT), *(partial(near.restricted, width, known) for width in WIDTHS)]
    with suppress(OutOfTime):
        for way in ways:
            cost, choice = way(time_is_up=time_is_up)
            if cost < best:
                best, choose = cost, partial(_chosen, choice, search)
    return choose


def _chosen(choice: Mapping[Key, int], search: Search, key: Key) -> int | None:
    """What was chosen; below a set that was known, what is known there."""
    return choice[key] if key in choice else search.nodes[key].best


def _tree(model: Model, tests: Sequence[TableTest], choose: Choose) -> Tree:
    def grow(states: int, opened: int) -> Tree:
        test = choose((states, model.relevant(states, opened))) if states & (states - 1) else None
        if test is None:
            return Leaf(model.ambiguous(states))
        after = model.after(test, opened)
        shown = tests[model.test[test]].outcomes
        ways = []
        for part in model.children(states, test):
            some = model.members[(part & -part).bit_length() - 1][0]
            ways.append((shown[some], grow(part, after)))
        return Branch(model.test[test], tuple(ways))

    return grow(model.everything, 0)
