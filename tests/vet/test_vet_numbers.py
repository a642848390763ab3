"""What rules say in figures, against sums over everything that could be found."""

from __future__ import annotations

import random
from itertools import product

import numpy as np
import pytest
from reason import machines as m

from diag.machine.model import Follow, Machine
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.vet.vetted.numbers import numbers


def some(rng: random.Random) -> Machine:
    """Five lamps of two or three states that follow one another at random, and six causes of few words, so that some of
    them are alike: by the same words, or because a rule holds whatever they say."""
    lamps, causes = [], []
    for n in range(5):
        states = ["lit", "dark", "dim"][: rng.choice((2, 2, 3))]
        rules = [
            Follow(((f"l{rng.randrange(n)}", (rng.choice(("lit", "dark")),)),), rng.choice(states))
            for _ in range(rng.choice((0, 1, 2)) if n else 0)
        ]
        lamps.append(m.lamp(f"l{n}", states, follows=rules))
    for n in range(6):
        shown = {f"l{rng.randrange(5)}": {"dark": rng.choice((0.98, 0.85))} for _ in range(rng.choice((1, 1, 2)))}
        causes.append(m.cause(f"c{n}", shows=shown, rest_probability=rng.choice((0.0, 0.0, 0.3))))
    return m.machine(lamps, causes)


@pytest.mark.parametrize("seed", range(25))
def test_causes_are_alike_exactly_where_no_finding_tells_them_apart(seed: int) -> None:
    """Every joint finding of all five lamps, and the likelihood of each under each cause."""
    machine = some(random.Random(seed))
    made = numbers(machine)
    table = made.table
    every = [
        believe(
            table, Evidence(tuple(Observed(id, {s: 1.0}) for id, s in zip(table.indications, states, strict=True)))
        ).log_likelihood
        for states in product(*table.states)
    ]
    rows = np.exp(np.array(every)).T
    groups = made.alike()
    group_of = {id: n for n, group in enumerate(groups) for id in group}
    for a, b in product(range(6), repeat=2):
        same = bool(np.allclose(rows[a], rows[b], atol=1e-9))
        together = a == b or group_of.get(f"c{a}", -1) == group_of.get(f"c{b}", -2)
        assert same == together, (a, b)


def test_some_of_these_machines_have_such_groups_and_some_have_none() -> None:
    counts = [len(numbers(some(random.Random(seed))).alike()) for seed in range(25)]
    assert 0 in counts
    assert sum(count > 0 for count in counts) >= 5


@pytest.mark.parametrize("seed", range(10))
def test_the_chance_of_facts_is_their_sum_over_single_findings(seed: int) -> None:
    rng = random.Random(seed)
    machine = some(rng)
    made = numbers(machine)
    table = made.table
    facts = {
        id: frozenset(rng.sample(states, rng.choice((1, 2))))
        for id, states in zip(table.indications[:3], table.states[:3], strict=True)
    }
    for cause in ("c0", "c3"):
        whole = sum(
            made.chance(cause, {id: frozenset((s,)) for id, s in zip(facts, states, strict=True)})
            for states in product(*facts.values())
        )
        assert made.chance(cause, facts) == pytest.approx(whole, rel=1e-9)


def test_chances_of_causes_and_facts_add_up() -> None:
    made = numbers(some(random.Random(3)))
    states = made.table.states[0]
    whole = sum(made.joint({"l0": frozenset((s,))}).sum() for s in states)
    assert whole == pytest.approx(1.0)
    assert made.joint({}).sum() == pytest.approx(1.0)
