from __future__ import annotations

import time
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flat_table import flat
from flat_table.flat import BadTable, from_deviations
from flat_table.flat_belief import FlatBelief, start
from flat_table.flat_scores import Sums, expected_entropy, information
from flat_table.flat_tables import from_tables

Tables = list[np.ndarray]


def drawn(
    seed: int, causes: int = 7, indications: int = 6, zeros: bool = False, share: float = 0.4
) -> tuple[np.ndarray, Tables]:
    """A prior, and tables in which about `share` of the rows are a cause's own; `zeros` rules some sights out."""
    rng = np.random.default_rng(seed)
    tables = []
    for _ in range(indications):
        k = int(rng.integers(2, 5))
        table = np.tile(rng.dirichlet(np.ones(k)), (causes, 1))
        own = rng.random(causes) < share
        rows = rng.dirichlet(np.full(k, 0.5), int(own.sum()))
        if zeros:
            rows[rng.random(rows.shape) < 0.3] = 0.0
            rows[rows.sum(axis=1) == 0, 0] = 1.0
            rows /= rows.sum(axis=1, keepdims=True)
        table[own] = rows
        tables.append(table)
    return rng.dirichlet(np.ones(causes)), tables


def by_product(prior: np.ndarray, tables: Tables, facts: dict[int, list[float]]) -> np.ndarray:
    """The joint of cause and facts, multiplied out."""
    joint = prior.copy()
    for i, seen in facts.items():
        joint = joint * (tables[i] @ np.array(seen))
    return joint


def entropy(p: np.ndarray) -> float:
    p = p[p > 0]
    return float(-(p * np.log2(p)).sum())


def by_outcomes(b: np.ndarray, table: np.ndarray) -> float:
    """The expected entropy after an indication, outcome by outcome."""
    total = 0.0
    for s in range(table.shape[1]):
        joint = b * table[:, s]
        if joint.sum() > 0:
            total += joint.sum() * entropy(joint / joint.sum())
    return total


def told(belief: FlatBelief, facts: dict[int, list[float]]) -> FlatBelief:
    for i, seen in facts.items():
        belief = belief.tell(i, seen)
    return belief


@st.composite
def cases(draw: st.DrawFn) -> tuple[np.ndarray, Tables, dict[int, list[float]]]:
    prior, tables = drawn(draw(st.integers(0, 10_000)), zeros=draw(st.booleans()))
    chosen = draw(st.lists(st.integers(0, len(tables) - 1), unique=True, max_size=4))
    facts = {}
    for i in chosen:
        k = tables[i].shape[1]
        weight = st.sampled_from([0.02, 0.3, 1.0])
        facts[i] = draw(
            st.lists(weight, min_size=k, max_size=k) | st.integers(0, k - 1).map(lambda s, k=k: np.eye(k)[s].tolist())
        )
    return prior, tables, facts


@given(case=cases())
@settings(max_examples=150, deadline=None)
def test_posterior_is_the_product(case: tuple[np.ndarray, Tables, dict[int, list[float]]]) -> None:
    """To 1e-9 (here 1e-12), log evidence too, and a sum of 1; or no cause is possible and the fact is refused."""
    prior, tables, facts = case
    joint = by_product(prior, tables, facts)
    if joint.sum() == 0:
        with pytest.raises(BadTable, match="no cause can show this"):
            told(start(from_tables(prior, tables)), facts)
        return
    belief = told(start(from_tables(prior, tables)), facts)
    assert belief.posterior == pytest.approx(joint / joint.sum(), abs=1e-12)
    assert belief.posterior.sum() == pytest.approx(1.0, abs=1e-12)
    assert belief.log_evidence == pytest.approx(np.log(joint.sum()), abs=1e-9)


@given(case=cases())
@settings(max_examples=60, deadline=None)
def test_facts_in_any_order_and_taken_back(case: tuple[np.ndarray, Tables, dict[int, list[float]]]) -> None:
    prior, tables, facts = case
    if by_product(prior, tables, facts).sum() == 0:
        return
    root = start(from_tables(prior, tables))
    whole = told(root, facts)
    for order in permutations(facts):
        assert told(root, {i: facts[i] for i in order}).posterior == pytest.approx(whole.posterior, abs=1e-12)
    for i in facts:
        rest = {j: seen for j, seen in facts.items() if j != i}
        back = whole.take_back(i)
        assert (back.log_weight == told(root, rest).log_weight).all()  # to the last bit
        assert back.told == tuple(rest)


@given(case=cases())
@settings(max_examples=100, deadline=None)
def test_scores_are_the_sum_over_outcomes(case: tuple[np.ndarray, Tables, dict[int, list[float]]]) -> None:
    """To 1e-9 bits, added up anew and fact by fact."""
    prior, tables, facts = case
    joint = by_product(prior, tables, facts)
    if joint.sum() == 0:
        return
    b = joint / joint.sum()
    wanted = [entropy(b) if i in facts else by_outcomes(b, table) for i, table in enumerate(tables)]
    for whole in (flat.WHOLE, 0):  # a table as small as this one is kept whole, and never carried on
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(flat, "WHOLE", whole)
            root = start(from_tables(prior, tables))
        sums = Sums.of(root)
        for i, seen in facts.items():
            sums = sums.tell(i, seen)
        assert expected_entropy(told(root, facts)) == pytest.approx(wanted, abs=1e-9)
        assert sums.expected_entropy == pytest.approx(wanted, abs=1e-9)
        assert sums.belief.entropy == pytest.approx(entropy(b), abs=1e-9)


def test_scores_fact_by_fact_stay_exact_over_many_facts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Through weights that fall by many powers of ten and sights that only one cause can show."""
    monkeypatch.setattr(flat, "WHOLE", 0)
    prior, tables = drawn(3, causes=40, indications=60, zeros=True)
    table = from_tables(prior, tables)
    rng = np.random.default_rng(4)
    sums, worst = Sums.of(start(table)), 0.0
    for i in rng.permutation(60):
        cause = int(rng.choice(40, p=sums.belief.posterior))
        sums = sums.tell(int(i), np.eye(tables[i].shape[1])[rng.choice(tables[i].shape[1], p=tables[i][cause])])
        worst = max(worst, float(np.abs(sums.information - information(sums.belief)).max()))
    assert worst < 1e-9


def test_a_second_look_takes_the_place_of_the_first() -> None:
    prior, tables = drawn(5)
    root = start(from_tables(prior, tables))
    once = root.see(2, 0).see(1, 1)
    assert (once.see(1, 1).posterior == once.posterior).all()
    assert (root.see(1, 0).see(2, 0).see(1, 1).log_weight == once.log_weight).all()
    assert Sums.of(once).tell(1, np.eye(tables[1].shape[1])[0]).belief.told == (2, 1)


def test_raw_deviations_and_dense_tables_are_the_same() -> None:
    """In any order of the rows; and rows that equal the default change nothing."""
    prior, tables = drawn(6, causes=9)
    dense = from_tables(prior, tables)
    default = [dense.default[dense.start[i] : dense.start[i + 1]] for i in range(len(tables))]
    pairs = [(c, i) for i in range(len(tables)) for c in range(9)]
    np.random.default_rng(0).shuffle(pairs)
    p = np.concatenate([tables[i][c] for c, i in pairs])
    every = from_deviations(prior, default, [c for c, _ in pairs], [i for _, i in pairs], p)
    assert len(every.cause) == 9 * len(tables) > len(dense.cause)
    for belief in (lambda f: start(f), lambda f: start(f).see(0, 1).see(3, 0)):
        assert belief(every).posterior == pytest.approx(belief(dense).posterior, abs=1e-12)
        assert information(belief(every)) == pytest.approx(information(belief(dense)), abs=1e-12)


def test_what_equals_the_default_is_not_kept() -> None:
    rng = np.random.default_rng(0)
    tables = [np.tile([0.9, 0.1], (100, 1)) for _ in range(5)]
    for i in range(4):
        tables[i][i] = rng.dirichlet([1, 1])
    flat = from_tables(np.full(100, 0.01), tables)
    assert flat.cause.tolist() == [0, 1, 2, 3]
    assert len(flat.p) == 8
    same = from_tables([0.5, 0.5], [[[0.3, 0.7], [0.3, 0.7]]])
    assert len(same.cause) == 0
    assert start(same).see(0, 1).posterior.tolist() == [0.5, 0.5]
    assert information(start(same)).tolist() == [0.0]


def test_a_default_without_majority_and_a_given_one() -> None:
    table = [[0.1, 0.9], [0.2, 0.8], [0.2, 0.8], [0.7, 0.3], [0.6, 0.4]]
    assert from_tables(np.full(5, 0.2), [table]).default[:2].tolist() == [0.2, 0.8]
    given = from_tables(np.full(5, 0.2), [table], [[0.7, 0.3]])
    assert given.cause.tolist() == [0, 1, 2, 4]
    assert start(given).see(0, 0).posterior == pytest.approx(np.array([1, 2, 2, 7, 6]) / 18)


# Bad input


GOOD = {"prior": [0.5, 0.5], "default": [[0.5, 0.5], [1.0]], "cause": [0, 1], "indication": [0, 0]}
ROWS = [0.1, 0.9, 0.2, 0.8]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"prior": []}, "prior: shape"),
        ({"prior": 1.0}, "prior: shape"),
        ({"prior": [0.5, 0.6]}, "prior: sums to 1.1"),
        ({"prior": [1.5, -0.5]}, "prior: 1.5 as probability number 0"),
        ({"prior": [1e308, 1e308]}, "prior: 1e.308"),
        ({"prior": [0.5, -0.5]}, "prior: -0.5 as probability number 1"),
        ({"prior": [np.nan, 0.5]}, "prior: nan"),
        ({"prior": [np.inf, 0.5]}, "prior: inf"),
        ({"prior": ["a", "b"]}, "prior: not an array of numbers"),
        ({"prior": None}, "prior: not an array of numbers"),
        ({"default": []}, "no indications"),
        ({"default": 3}, "default: int"),
        ({"default": [[0.5, 0.4], [1.0]]}, "default of indication 0: sums to 0.9"),
        ({"default": [[0.5, 0.5], []]}, "default of indication 1: shape"),
        ({"default": [[0.5, 0.5], [[1.0]]]}, "default of indication 1: shape"),
        ({"cause": [0, 2]}, "cause: row 1 names number 2, wanted 0 to 1"),
        ({"cause": [-1, 0]}, "cause: row 0 names number -1"),
        ({"cause": [0.0, 1.0]}, "cause: float64"),
        ({"cause": [0]}, "cause and indication: 1 and 2"),
        ({"indication": [0, 2]}, "indication: row 1 names number 2"),
        ({"indication": [[0], [0]]}, "indication: int64 of shape"),
        ({"indication": [[0], [0, 1]]}, "indication: not a list"),
        ({"cause": [1, 1]}, "row 1: a second one for cause 1 at indication 0"),
        ({"p": [0.1, 0.9, 0.2]}, "p: shape"),
        ({"p": [[0.1, 0.9, 0.2, 0.8]]}, "p: shape"),
        ({"p": [0.1, 0.9, 0.2, 0.7]}, "row 1, cause 1 at indication 0: sums to 0.9"),
        ({"p": [0.1, 0.9, 1.0, -0.2]}, "row 1, cause 1 at indication 0: -0.2 as probability number 1"),
        ({"p": [0.1, 0.9, np.nan, 0.8]}, "row 1, cause 1 at indication 0: nan"),
        ({"p": [[0.1, 0.9], [0.2]]}, "p: not an array"),
    ],
)
def test_bad_deviations_are_refused_in_one_line(change: dict[str, object], says: str) -> None:
    with pytest.raises(BadTable, match=says) as caught:
        from_deviations(**{**GOOD, "p": ROWS, **change})  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("tables", "default", "says"),
    [
        ([], None, "no indications"),
        ([[[0.5, 0.5]]], None, "table of indication 0: shape"),
        ([[0.5, 0.5]], None, "table of indication 0: shape"),
        ([[[0.5, 0.5], [0.5]]], None, "table of indication 0: not an array"),
        ([[[0.5, 0.5], [np.nan, 0.5]]], None, "table of indication 0: nan as probability of state 0 for cause 1"),
        ([[[0.5, 0.5], [1e308, 1e308]]], None, "table of indication 0: 1e.308"),
        ([[[0.5, 0.5], [0.5, 0.6]]], None, "row 0, cause 1 at indication 0: sums to 1.1"),
        ([[[0.5, 0.5], [0.5, 0.5]]], [], "default: 0 rows for 1 tables"),
        ([[[0.5, 0.5], [0.5, 0.5]]], [[1.0]], "default of indication 0: shape"),
        ([[[0.5, 0.5], [0.5, 0.5]]], [[0.3, 0.3]], "default of indication 0: sums to 0.6"),
        ("ab", None, "tables: str"),
    ],
)
def test_bad_tables_are_refused_in_one_line(tables: object, default: object, says: str) -> None:
    with pytest.raises(BadTable, match=says) as caught:
        from_tables([0.5, 0.5], tables, default)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda b: b.tell(9, [1, 0]), "no indication 9, wanted 0 to 1"),
        (lambda b: b.see(-1, 0), "no indication -1"),
        (lambda b: b.see(0, 2), "no state 2, wanted 0 to 1"),
        (lambda b: b.tell(0, [1, 0, 0]), "wanted one number for each of 2 states"),
        (lambda b: b.tell(0, ["x", "y"]), "one number for each state"),
        (lambda b: b.tell(0, [-1, 1]), "wanted numbers from 0 to 1"),
        (lambda b: b.tell(0, [np.nan, 1]), "wanted numbers from 0 to 1"),
        (lambda b: b.tell(0, [np.inf, 1]), "wanted numbers from 0 to 1"),
        (lambda b: b.tell(0, [0, 0]), "no cause can show this"),
        (lambda b: b.take_back(0), "nothing was told of it"),
    ],
)
def test_bad_facts_are_refused_in_one_line(call, says: str) -> None:  # type: ignore[no-untyped-def]
    belief = start(from_deviations(**GOOD, p=ROWS))  # type: ignore[arg-type]
    with pytest.raises(BadTable, match=says) as caught:
        call(belief)
    assert "\n" not in str(caught.value)


def test_what_was_given_may_change_afterwards() -> None:
    prior, table = np.array([0.5, 0.5]), np.array([[0.1, 0.9], [0.2, 0.8]])
    seen = np.array([0.0, 1.0])
    belief = start(from_tables(prior, [table])).tell(0, seen)
    prior[:], table[:], seen[:] = 9.0, 9.0, 9.0
    assert belief.take_back(0).posterior.tolist() == [0.5, 0.5]
    assert belief.posterior == pytest.approx([9 / 17, 8 / 17])


def test_speed_at_three_hundred(record_property) -> None:  # type: ignore[no-untyped-def]
    """300 causes and indications, within a blink on a busy machine. `tests/bench/scores.py` has the ratios."""
    rng = np.random.default_rng(0)
    where = np.concatenate([rng.choice(300, 8, replace=False) for _ in range(300)])
    flat = from_deviations(
        np.full(300, 1 / 300),
        [[0.98, 0.01, 0.01]] * 300,
        np.repeat(np.arange(300), 8),
        where,
        rng.dirichlet([1] * 3, 2400),
    )
    sums = Sums.of(start(flat).see(0, 1))
    taken = []
    for i in range(1, 40):
        begin = time.perf_counter()
        _ = sums.tell(i, [0.0, 1.0, 0.0]).information
        taken.append(time.perf_counter() - begin)
    record_property("figure", f"flat table, 300 x 300: a fact and all scores in {np.median(taken) * 1e6:.0f} us")
    assert np.median(taken) < 5e-3


def test_states_of_one_make_sense() -> None:
    """An indication with one state tells nothing; sums over outcomes by hand for all that is small."""
    flat = from_tables([0.25, 0.75], [[[1.0], [1.0]], [[1.0, 0.0], [0.0, 1.0]]])
    belief = start(flat)
    assert information(belief) == pytest.approx([0.0, entropy(np.array([0.25, 0.75]))])
    assert belief.see(0, 0).posterior == pytest.approx([0.25, 0.75])
    for a, b in product(range(2), repeat=2):
        assert belief.see(1, a).posterior[b] == (a == b)
