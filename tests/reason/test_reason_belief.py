"""Belief: Bayes' rule on published numbers, exact sums over what follows, rounds, order, weights of evidence."""

from __future__ import annotations

from itertools import permutations, product

import machines as m
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.model import UNLISTED, Follow
from diag.reason.belief.belief import Belief, believe, log_likelihood, weights
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.constants import SLIP
from diag.reason.table.compile import Table, compile, level
from diag.reason.table.unlisted_mixture import unlisted_mixture


def slip(p: float, k: int) -> float:
    return (1 - SLIP) * p + SLIP / k


def seen(table: Table, **states: str) -> Belief:
    return believe(table, Evidence(tuple(Observed(i.replace("_", "-"), {s: 1.0}) for i, s in states.items())))


def share(belief: Belief, cause: str) -> float:
    return float(belief.posterior[belief.table.cause_index[cause]])


def among_listed(belief: Belief, cause: str) -> float:
    return share(belief, cause) / (1.0 - share(belief, UNLISTED))


@pytest.mark.source("Eddy 1982, breast cancer base rate: 1/13 = .0769231", found="numbers from memory, recomputed")
def test_base_rate() -> None:
    """Prior .01, sensitivity .792, false positives .096. The slip is undone in the numbers fed in."""

    def fed(p: float) -> float:
        return (p - SLIP / 2) / (1 - SLIP)

    test = m.lamp("test", ("negative", "positive"))
    table = compile(
        m.machine(
            [test],
            [
                m.cause("ill", 0.01, {"test": {"positive": fed(0.792), "negative": fed(0.208)}}),
                m.cause("well", 0.99, {"test": {"positive": fed(0.096), "negative": fed(0.904)}}),
            ],
        )
    )
    belief = seen(table, test="positive")
    assert among_listed(belief, "ill") == pytest.approx(1 / 13, abs=1e-7)
    # In decibans the sum is over odds: -19.956 and +9.165.
    assert among_listed(seen(table), "ill") == pytest.approx(0.01)
    ill, well = table.p[0, 1], table.p[1, 1]
    assert 10 * np.log10(0.01 / 0.99) == pytest.approx(-19.956, abs=1e-3)
    assert 10 * np.log10(ill / well) == pytest.approx(9.165, abs=1e-3)


@pytest.mark.source(
    "Jaynes 2003, ch. 4: 1/11 bad batches; five bad in twelve gives .40159", found="from memory, recomputed"
)
def test_weight_of_evidence_adds_up() -> None:
    items = [m.lamp(f"item-{n}", ("good", "bad")) for n in range(12)]

    def fed(bad: float) -> dict[str, float]:
        p = (bad - SLIP / 2) / (1 - SLIP)
        return {"bad": p, "good": 1 - p}

    table = compile(
        m.machine(
            items,
            [
                m.cause("batch-third-bad", 1.0, {i.id: fed(1 / 3) for i in items}),
                m.cause("batch-sixth-bad", 10.0, {i.id: fed(1 / 6) for i in items}),
            ],
        )
    )
    states = ["bad"] * 5 + ["good"] * 7
    belief = believe(table, Evidence(tuple(Observed(i.id, {s: 1.0}) for i, s in zip(items, states, strict=True))))
    assert among_listed(belief, "batch-third-bad") == pytest.approx(0.40159, abs=1e-5)


@pytest.mark.source("unreliable test, .1, .9, .05: .66667, .97297, .99846 after positives", found="recomputed")
def test_independent_repeats() -> None:
    def fed(p: float) -> dict[str, float]:
        p = (p - SLIP / 2) / (1 - SLIP)
        return {"yes": p, "no": 1 - p}

    tests = [m.lamp(f"t{n}", ("no", "yes")) for n in range(3)]
    table = compile(
        m.machine(
            tests,
            [
                m.cause("a", 0.1, {t.id: fed(0.9) for t in tests}),
                m.cause("b", 0.9, {t.id: fed(0.05) for t in tests}),
            ],
        )
    )
    got = [
        among_listed(believe(table, Evidence(tuple(Observed(f"t{k}", {"yes": 1.0}) for k in range(n)))), "a")
        for n in (1, 2, 3)
    ]
    assert got == pytest.approx([0.66667, 0.97297, 0.99846], abs=1e-5)


def test_words_to_probabilities() -> None:
    """The page's own rules: the rest goes to the normal state; a sum above 1 is divided; a question keeps its mix."""
    base = np.array([1.0, 0.0, 0.0])
    states = ("good", "low", "absent")
    p = level({"absent": 0.85, "low": 0.10}, base, states)
    assert p == pytest.approx([slip(0.05, 3), slip(0.10, 3), slip(0.85, 3)])
    p = level({"absent": 0.85, "low": 0.85}, base, states)
    assert p == pytest.approx([slip(0.0, 3), slip(0.5, 3), slip(0.5, 3)])
    mix = np.array([0.6, 0.2, 0.2])
    assert level({"low": 0.4}, mix, states) == pytest.approx([slip(0.36, 3), slip(0.52, 3), slip(0.12, 3)])


def ladder() -> Table:
    """A supply drives eight lamps; a switch drives the supply."""
    switch = m.lamp("switch", ("on", "off"))
    supply = m.lamp("supply", ("good", "low", "absent"), follows=[Follow((("switch", ("off",)),), "absent")])
    lamps = [m.lamp(f"lamp-{n}", follows=[Follow((("supply", ("absent",)),), "dark")]) for n in range(8)]
    both = m.lamp("both", ("lit", "dim", "dark"), follows=[Follow((("supply", ("low",)), ("switch", ("on",))), "dim")])
    alone = m.lamp("alone")
    return compile(
        m.machine(
            [switch, supply, *lamps, both, alone],
            [
                m.cause("switched-off", 2.0, {"switch": {"off": 0.98}}),
                m.cause("supply-failed", 0.2, {"supply": {"absent": 0.85, "low": 0.1}}),
                m.cause("lamp-0-failed", 0.02, {"lamp-0": {"dark": 0.98}, "alone": {"dark": 0.4}}),
                m.cause("flicker", 0.2, {"lamp-1": {"dark": 0.85}, "supply": {"low": 0.4}}, rest_probability=0.5),
            ],
        )
    )


def brute(table: Table, vector: np.ndarray) -> np.ndarray:
    """log P(seen | row) by walking every joint state of all indications: the definition, with no cleverness.

    What follows or is followed has a true state, and a sight of it slips by itself."""
    rules = {i: member.rules for joint in table.joints for i, member in joint.members.items()}
    linked = {i for joint in table.joints for i in joint.members}
    n = len(table.indications)
    sizes = [len(s) for s in table.states]
    told = [i for i in range(n) if (vector[table.columns(i)] != 1).any()]
    mixture = unlisted_mixture(table)
    total = np.zeros(len(mixture.rows))
    # Only indications that were seen, and what they follow, need be walked.
    need, stack = set(), list(told)
    while stack:
        i = stack.pop()
        if i not in need:
            need.add(i)
            stack.extend(parent for when, _ in rules.get(i, ()) for parent, _ in when)
    walked = sorted(need)
    for states in product(*(range(sizes[i]) for i in walked)):
        at = dict(zip(walked, states, strict=True))
        p = np.ones(len(mixture.rows))
        for i in walked:
            k = sizes[i]
            own = mixture.rows[:, table.start[i] + at[i]]
            for when, shows in rules.get(i, ()):
                if all(at[parent] in wanted for parent, wanted in when):
                    own = np.full_like(p, float(at[i] == shows))
                    break
            observation = vector[table.columns(i)]
            given = observation @ [slip(float(s == at[i]), k) for s in range(k)] if i in linked else observation[at[i]]
            p = p * own * given
        total += p
    total[len(table.causes) - 1] = np.exp(mixture.log_share) @ total[mixture.at]
    return np.log(total[: len(table.p)])


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_sums_over_what_follows_are_exact(data: st.DataObject) -> None:
    """Against full enumeration, with plain and doubtful sights of any four indications."""
    table = ladder()
    vector = np.ones(int(table.start[-1]))
    for i in data.draw(st.sets(st.integers(0, len(table.indications) - 1), max_size=4)):
        k = len(table.states[i])
        vector[table.columns(i)] = data.draw(
            st.lists(st.sampled_from([0.0, 0.05, 0.7, 1.0]), min_size=k, max_size=k).filter(any)
        )
    assert log_likelihood(table, vector) == pytest.approx(brute(table, vector), abs=1e-9)


def test_predictions_are_exact_too() -> None:
    """P(state | cause, seen) is the ratio of two likelihoods."""
    table = ladder()
    belief = seen(table, lamp_2="dark", both="dim")
    base = log_likelihood(table, belief.gathered.lasting)
    lasting = [c for c in range(len(table.causes)) if table.rest_probability[c] == 0]
    for i in range(len(table.indications)):
        for k in range(len(table.states[i])):
            vector = belief.gathered.lasting.copy()
            cell = int(table.start[i]) + k
            kept = vector[cell]
            vector[table.columns(i)] = 0.0
            vector[cell] = kept
            if not kept:
                continue
            ratio = np.exp(log_likelihood(table, vector) - base)[:-1]
            assert belief.predicted[lasting, cell] == pytest.approx(ratio[lasting], abs=1e-9)


def test_eight_dark_lamps_are_one_piece_of_evidence() -> None:
    """Dark lamps beyond the first add next to nothing between the switch and the supply."""
    table = ladder()
    one = seen(table, lamp_1="dark", lamp_2="dark")
    eight = seen(table, **{f"lamp_{n}": "dark" for n in range(8)})
    odds = [share(b, "switched-off") / share(b, "supply-failed") for b in (one, eight)]
    assert odds[1] == pytest.approx(odds[0], rel=0.02)


@given(st.permutations(range(5)))
@settings(max_examples=20, deadline=None)
def test_order_of_facts_does_not_matter(order: list[int]) -> None:
    table = ladder()
    observed = [
        Observed("lamp-0", {"dark": 1.0}),
        Observed("supply", {"low": 1.0, "good": 0.2}),
        Observed("lamp-1", {"lit": 1.0}, 2),
        Observed("alone", {"dark": 1.0}),
        Observed("lamp-1", {"dark": 1.0}),
    ]
    plain = believe(table, Evidence(tuple(observed))).posterior
    mixed = believe(table, Evidence(tuple(observed[n] for n in order))).posterior
    assert mixed == pytest.approx(plain, abs=1e-12)
    assert mixed.sum() == pytest.approx(1.0)


def test_a_repeat_of_the_very_same_look_counts_once() -> None:
    table = ladder()
    once = believe(table, Evidence((Observed("alone", {"dark": 1.0}),)))
    again = believe(table, Evidence((Observed("alone", {"dark": 1.0}), Observed("alone", {"dark": 1.0}, 2))))
    lasting = [n for n, q in enumerate(table.rest_probability) if q == 0]
    ratio = again.posterior[lasting] / once.posterior[lasting]
    assert ratio == pytest.approx(np.full(len(lasting), ratio[0]))


def test_rounds_that_disagree_point_to_an_intermittent_cause() -> None:
    table = ladder()
    stays = believe(table, Evidence((Observed("lamp-1", {"dark": 1.0}), Observed("alone", {"lit": 1.0}))))
    comes = believe(
        table,
        Evidence(
            (Observed("lamp-1", {"dark": 1.0}), Observed("lamp-1", {"lit": 1.0}, 2), Observed("alone", {"lit": 1.0}, 2))
        ),
    )
    assert share(comes, "flicker") > 2 * share(stays, "flicker")
    assert table.causes[comes.order[0]] == "flicker"


def test_a_cleared_latch_is_no_evidence() -> None:
    """After its reset a latched state says nothing by being gone; without the reset it does."""
    from dataclasses import replace

    from diag.machine.model import State

    alarm = replace(m.lamp("alarm", ("off", "on")), states=(State("off"), State("on", cleared_by=("reset",))))
    table = compile(m.machine([alarm], [m.cause("a", 1.0, {"alarm": {"on": 0.98}}), m.cause("b", 1.0)]))
    on, off = Observed("alarm", {"on": 1.0}), Observed("alarm", {"off": 1.0}, 2)
    before = believe(table, Evidence((on,)))
    cleared = believe(table, Evidence((on, off), cleared=((2, "reset"),)))
    other = believe(table, Evidence((on, off), cleared=((2, "power"),)))
    assert cleared.posterior == pytest.approx(before.posterior)
    assert share(other, "a") < share(before, "a")


def test_a_failed_remedy_is_a_fact() -> None:
    cure = m.remedy("swap", 5, chance=0.95)
    table = compile(m.machine([m.lamp("x")], [m.cause("a", 1.0, remedy=cure), m.cause("b", 1.0)]))
    belief = believe(table, Evidence(failed=("swap",)))
    assert among_listed(belief, "a") == pytest.approx(0.05 / 1.05)


def test_unlisted_comes_first_only_when_several_facts_fit_nothing() -> None:
    odd = [m.lamp(f"odd-{n}", ("good", "bad")) for n in range(3)]
    causes = [m.cause(f"c{n}", 1.0, {"real": {"dark": 0.98}}) for n in range(12)]
    table = compile(m.machine([m.lamp("real"), *odd], causes))
    ranks = [
        [
            table.causes[c]
            for c in believe(table, Evidence(tuple(Observed(f"odd-{k}", {"bad": 1.0}) for k in range(n)))).order
        ]
        for n in range(4)
    ]
    assert ranks[1].index(UNLISTED) == 1  # likelier than any one listed cause, and yet behind the best of them
    assert ranks[2][0] == ranks[3][0] == UNLISTED


def test_weights_agree_with_leaving_the_sight_out() -> None:
    table = ladder()
    belief = seen(table, lamp_0="dark", alone="dark", lamp_3="lit")
    by_fact = weights(belief, "lamp-0-failed")
    without = seen(table, alone="dark", lamp_3="lit")

    def log_odds(b: Belief) -> float:
        p = share(b, "lamp-0-failed")
        return float(10 * np.log10(p / (1 - p)))

    assert by_fact[0] == pytest.approx(log_odds(belief) - log_odds(without))
    assert by_fact[0] > 0 < by_fact[1]


def test_wrong_names_and_impossible_sights_are_refused() -> None:
    table = ladder()
    with pytest.raises(KeyError):
        believe(table, Evidence((Observed("nothing", {"dark": 1.0}),)))
    with pytest.raises(KeyError):
        believe(table, Evidence((Observed("alone", {"purple": 1.0}),)))
    with pytest.raises(ValueError, match="no state"):
        believe(table, Evidence((Observed("alone", {"lit": 0.0}),)))


def test_permuting_rounds_of_an_intermittent_cause_changes_nothing() -> None:
    table = ladder()
    looks = [("dark", 1), ("lit", 2), ("dark", 3)]
    found = {
        round(
            float(share(believe(table, Evidence(tuple(Observed("lamp-1", {s: 1.0}, r) for s, r in order))), "flicker")),
            12,
        )
        for order in permutations(looks)
    }
    assert len(found) == 1


def test_one_slip_does_not_darken_all_that_hangs_on_a_supply() -> None:
    """Three lamps dark for want of one supply: a common cause that touches none of them must not live on one slip."""
    supply = m.lamp("supply", ("good", "absent"))
    lamps = [m.lamp(f"lamp-{n}", follows=[Follow((("supply", ("absent",)),), "dark")]) for n in range(3)]
    table = compile(
        m.machine(
            [supply, *lamps],
            [m.cause("supply-dead", 0.2, {"supply": {"absent": 0.98}}), m.cause("waiting", 2.0), m.cause("idle", 2.0)],
        )
    )
    belief = seen(table, lamp_0="dark", lamp_1="dark", lamp_2="dark")
    assert among_listed(belief, "supply-dead") > 0.999
    # One misread lamp among lit ones is still no proof of a dead supply.
    assert among_listed(seen(table, lamp_0="dark", lamp_1="lit", lamp_2="lit"), "supply-dead") < 0.05


def test_where_nothing_follows_the_slip_is_the_same_on_either_side() -> None:
    """P(sight) of what is linked, and nothing known of its drivers' rules, equals (1 - e) p + e / k."""
    supply = m.lamp("supply", ("good", "low", "absent"))
    lamp = m.lamp("lamp", follows=[Follow((("supply", ("absent",)),), "dark")])
    shows = {"supply": {"low": 0.85}}
    linked = compile(m.machine([supply, lamp], [m.cause("c", 1.0, shows)]))
    apart = compile(m.machine([supply, m.lamp("lamp")], [m.cause("c", 1.0, shows)]))
    for state in ("good", "low", "absent"):
        plain, other = (seen(table, supply=state).log_likelihood for table in (linked, apart))
        assert plain[:-1] == pytest.approx(other[:-1], abs=1e-12)  # what is not listed leaves drivers as they are
