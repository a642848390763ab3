"""Pairs of causes: the rule in numbers, exact sums, priors, and the same from a general library."""

from __future__ import annotations

from itertools import combinations, product
from pathlib import Path

import machines as m
import numpy as np
import pytest
from crosscheck import gum
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.load import read
from diag.machine.model import Follow, Machine
from diag.reason.belief.belief import HEALTHY, Belief, believe, log_likelihood
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.belief.pairs import Pairs, pair_up, rows, split, widened
from diag.reason.constants import SLIP, TWO_CAUSES
from diag.reason.table.compile import Array, Table, compile, unslip

STACKER = compile(read(Path(__file__).resolve().parents[2] / "knowledge" / "tray-stacker"))


def bench(rest_probability: float = 0.0) -> Machine:
    """A supply under a switch, lamps under the supply, one lamp that two causes act on, and a plain pair of signs."""
    switch = m.lamp("switch", ("on", "off"))
    supply = m.lamp("supply", ("good", "low", "absent"), follows=[Follow((("switch", ("off",)),), "absent")])
    lamp = m.lamp("lamp", ("lit", "slow", "dark"), follows=[Follow((("supply", ("absent",)),), "dark")])
    return m.machine(
        [switch, supply, lamp, m.lamp("sign", ("none", "warm", "hot")), m.lamp("other")],
        [
            m.cause("switched-off", 2.0, {"switch": {"off": 0.98}}),
            m.cause("supply-poor", 0.2, {"supply": {"absent": 0.4, "low": 0.4}, "sign": {"warm": 0.1}}),
            m.cause("lamp-slow", 0.5, {"lamp": {"slow": 0.85}, "other": {"dark": 0.1}}),
            m.cause("motor-hot", 1.0, {"sign": {"hot": 0.85, "warm": 0.1}, "supply": {"low": 0.1}}),
            m.cause("loose", 0.2, {"other": {"dark": 0.98}, "lamp": {"dark": 0.4}}, rest_probability=rest_probability),
        ],
    )


TABLE, INTERMITTENT = compile(bench()), compile(bench(0.5))


def seen(table: Table, **states: str) -> Belief:
    return believe(table, Evidence(tuple(Observed(i.replace("_", "-"), {s: 1.0}) for i, s in states.items())))


def slip(p: float, k: int) -> float:
    return (1 - SLIP) * p + SLIP / k


def chance(found: Pairs, one: str, other: str) -> float:
    both = {found.table.cause_index[one], found.table.cause_index[other]}
    return float(sum(p for a, b, p in zip(found.first, found.second, found.posterior, strict=True) if {a, b} == both))


def singles(found: Pairs) -> Array:
    """[C]: P(this one alone | seen), among single causes and these pairs."""
    every = np.concatenate([found.log_singles, found.log_prior + found.log_likelihood])
    return np.asarray(np.exp(found.log_singles - np.logaddexp.reduce(every)))


def test_the_rule_by_hand() -> None:
    """One acts, the other acts, both act and either shows, neither acts."""
    names = TABLE.cause_index
    row = rows(TABLE, [names["supply-poor"]], [names["motor-hot"]])[0]
    # Of the sign: .1 warm by the one; .85 hot, .1 warm by the other.
    warm = 0.1 * 0.05 + 0.9 * 0.1 + 0.5 * (0.1 * 0.95 + 0.1 * 0.1)
    hot = 0.9 * 0.85 + 0.5 * 0.1 * 0.85
    expected = [slip(p, 3) for p in (0.9 * 0.05, warm, hot)]
    assert row[TABLE.columns(TABLE.index["sign"])] == pytest.approx(expected)
    # Of two states, the noisy-or.
    row = rows(TABLE, [names["lamp-slow"]], [names["loose"]])[0]
    assert row[TABLE.columns(TABLE.index["other"])] == pytest.approx([slip(0.9 * 0.02, 2), slip(1 - 0.9 * 0.02, 2)])
    # Where one alone deviates, its row.
    row = rows(TABLE, [names["switched-off"]], [names["motor-hot"]])[0]
    assert row[TABLE.columns(0)] == pytest.approx(TABLE.p[names["switched-off"], TABLE.columns(0)])


@pytest.mark.source(
    "Russell and Norvig, fever: inhibitors cold .6, flu .2, malaria .1 -> 0, .9, .8, .98, .4, .94, .88, .988",
    found="from memory, recomputed",
)
def test_two_causes_of_a_fever_are_a_noisy_or() -> None:
    """One cause alone, and two by the rule for pairs. Ours is a rule for two causes; the line for all three comes out
    of it when the pair is taken as one cause and joined with the third, as it does for any two states."""
    fever = m.lamp("fever", ("no", "yes"))
    table = compile(
        m.machine(
            [fever],
            [m.cause(c, 1.0, {"fever": {"yes": 1 - q}}) for c, q in (("cold", 0.6), ("flu", 0.2), ("malaria", 0.1))],
        )
    )
    cold, flu, malaria = range(3)
    without = unslip(table.p)[:, 1]
    assert without[[cold, flu, malaria, HEALTHY]] == pytest.approx([0.4, 0.8, 0.9, 0.0])
    two = unslip(rows(table, [cold, cold, flu], [flu, malaria, malaria]))[:, 1]
    assert two == pytest.approx([0.88, 0.94, 0.98])
    wide = widened(table, [cold], [flu])
    three = unslip(rows(wide, [wide.cause_index["cold + flu"]], [malaria]))[0, 1]
    assert three == pytest.approx(0.988)


def test_the_usual_mix_of_a_question_is_left_alone() -> None:
    from dataclasses import replace

    when = replace(m.lamp("when", ("start", "running", "idle")), usual=(0.5, 0.3, 0.2))
    causes = [
        m.cause("a", 1.0, {"when": {"start": 0.4}}),
        m.cause("b", 1.0),
        m.cause("c", 1.0, {"when": {"idle": 0.9}}),
    ]
    table = compile(m.machine([when], causes))
    assert split(table).alone[:3, 0] == pytest.approx([0.6, 1.0, 0.1])
    pair = rows(table, [0], [1])[0]
    assert pair == pytest.approx(table.p[0])
    both = rows(table, [0], [2])[0]
    start = 0.06 * 0.5 + 0.4 * (0.1 + 0.9 / 2)
    assert both[0] == pytest.approx(slip(start, 3))


def test_what_follows_hides_what_the_other_does() -> None:
    """A lamp that one cause makes slow is dark when the other takes its supply away."""
    together = rows(TABLE, [0], [2])
    wide = widened(TABLE, [0], [2])
    dark = believe(wide, Evidence((Observed("switch", {"off": 1.0}), Observed("lamp", {"dark": 1.0}))))
    slow = believe(wide, Evidence((Observed("switch", {"off": 1.0}), Observed("lamp", {"slow": 1.0}))))
    pair = wide.cause_index["switched-off + lamp-slow"]
    assert dark.log_likelihood[pair] - slow.log_likelihood[pair] > np.log(50)
    assert together.shape == (1, int(TABLE.start[-1]))


@pytest.mark.parametrize("table", [TABLE, STACKER], ids=["bench", "stacker"])
def test_pairs_agree_with_their_rows_in_the_table(table: Table) -> None:
    """The shortcuts (one of two touches a part, few joint states possible) against the engine for one cause each."""
    rng = np.random.default_rng(7)
    listed = len(table.causes) - 1
    for n in (1, 2, 4, 30):
        told = rng.choice(len(table.indications), size=min(n, len(table.indications)), replace=False)
        observed = tuple(Observed(table.indications[i], {str(rng.choice(table.states[i])): 1.0}) for i in told)
        belief = believe(table, Evidence(observed))
        found = pair_up(belief)
        some = rng.choice(len(found.first), size=min(60, len(found.first)), replace=False)
        some = some[
            (table.rest_probability[found.first[some]] == 0) & (table.rest_probability[found.second[some]] == 0)
        ]
        wide = widened(table, found.first[some], found.second[some])
        plain = log_likelihood(wide, belief.gathered.lasting)[listed : listed + len(some)]
        assert found.log_likelihood[some] == pytest.approx(plain, abs=1e-9)


def brute(machine: Machine, one: str, other: str, states: dict[str, str]) -> float:
    """P(these sights | two causes), by walking who acts on what and every true state: the rule, read off the file."""
    inds = list(machine.indications.values())
    total = 0.0
    acting = [[(x, y) for x in (False, True) for y in (False, True)] for _ in inds]
    for true in product(*(range(len(i.states)) for i in inds)):
        p = 1.0
        at = {ind.id: ind.states[s].id for ind, s in zip(inds, true, strict=True)}
        for ind, pairs_ in zip(inds, acting, strict=True):
            ruled = [shows.shows for shows in ind.follows if all(at[w] in ok for w, ok in shows.when)]
            if ruled:
                own = float(at[ind.id] == ruled[0])
            else:
                shows = [machine.causes[c].shows.get(ind.id, {}) for c in (one, other)]
                act = [sum(s.values()) for s in shows]
                own = 0.0
                for x, y in pairs_:
                    weight = (act[0] if x else 1 - act[0]) * (act[1] if y else 1 - act[1])
                    given = [
                        s.get(at[ind.id], 0.0) / a for s, a, on in zip(shows, act, (x, y), strict=True) if on and a
                    ]
                    own += weight * (sum(given) / len(given) if given else float(at[ind.id] == ind.normal))
            p *= own
            if ind.id in states:
                p *= slip(float(at[ind.id] == states[ind.id]), len(ind.states))
        total += p
    return total


@given(st.data())
@settings(max_examples=15, deadline=None)
def test_likelihoods_by_brute_force(data: st.DataObject) -> None:
    machine = bench()
    inds = machine.indications
    told = data.draw(st.sets(st.sampled_from(sorted(inds)), min_size=1))
    states = {i: data.draw(st.sampled_from(inds[i].state_ids)) for i in sorted(told)}
    found = pair_up(believe(TABLE, Evidence(tuple(Observed(i, {s: 1.0}) for i, s in states.items()))))
    for k in range(len(found.first)):
        one, other = TABLE.causes[found.first[k]], TABLE.causes[found.second[k]]
        assert np.exp(found.log_likelihood[k]) == pytest.approx(brute(machine, one, other, states), rel=1e-9)


class Net:
    """The rule as a Bayesian network: who stands, who acts on what, what is true, what is seen."""

    def __init__(self, machine: Machine, table: Table) -> None:
        self.machine, self.table = machine, table
        causes = list(machine.causes)
        self.pairs = list(combinations(causes, 2))
        which = [(c, "") for c in causes] + self.pairs
        rates = np.array([machine.causes[c].rate for c in causes])
        p = rates / rates.sum()
        at = {c: n for n, c in enumerate(causes)}
        both = np.array([p[at[a]] * p[at[b]] for a, b in self.pairs])
        prior = np.concatenate([p * (1 - TWO_CAUSES) * 0.97, both / both.sum() * TWO_CAUSES])
        self.net = gum.BayesNet()
        self.net.add(gum.RangeVariable("which", "", 0, len(which) - 1))
        self.net.cpt("which").fillWith((prior / prior.sum()).tolist())
        for ind in machine.indications.values():
            self._indication(ind.id, which)

    def _indication(self, id: str, which: list[tuple[str, str]]) -> None:
        ind = self.machine.indications[id]
        k = len(ind.states)
        shows = [[self.machine.causes[c].shows.get(id, {}) if c else {} for c in pair] for pair in which]
        for side in (0, 1):
            name = f"{id}-acts-{side}"
            self.net.add(gum.RangeVariable(name, "", 0, 1))
            self.net.addArc("which", name)
            act = [sum(s[side].values()) for s in shows]
            self.net.cpt(name).fillWith([x for a in act for x in (1 - a, a)])
        self.net.add(gum.RangeVariable(id, "", 0, k - 1))
        parents = sorted({w for f in ind.follows for w, _ in f.when})
        for name in ("which", f"{id}-acts-0", f"{id}-acts-1", *parents):
            self.net.addArc(name, id)
        sizes = [len(self.machine.indications[w].states) for w in parents]
        cells = np.empty([*reversed(sizes), 2, 2, len(which), k])
        for at in np.ndindex(cells.shape[:-1]):
            *above, y, x, w = at
            standing = {
                name: self.machine.indications[name].state_ids[s]
                for name, s in zip(reversed(parents), above, strict=True)
            }
            ruled = [f.shows for f in ind.follows if all(standing[n] in ok for n, ok in f.when)]
            given = [s for s, on in zip(shows[w], (x, y), strict=True) if on and s]
            if ruled:
                row = [float(s == ruled[0]) for s in ind.state_ids]
            elif given:
                row = [float(np.mean([g.get(s, 0.0) / sum(g.values()) for g in given])) for s in ind.state_ids]
            else:
                row = [float(s == ind.normal) for s in ind.state_ids]
            cells[at] = row
        self.net.cpt(id).fillWith(cells.ravel().tolist())
        self.net.add(gum.RangeVariable(f"{id}-seen", "", 0, k - 1))
        self.net.addArc(id, f"{id}-seen")
        self.net.cpt(f"{id}-seen").fillWith((SLIP / k + (1 - SLIP) * np.eye(k)).ravel().tolist())

    def posterior(self, observed: tuple[Observed, ...]) -> Array:
        """Over single causes, then pairs."""
        engine = gum.LazyPropagation(self.net)
        for observation in observed:
            states = self.machine.indications[observation.indication].state_ids
            engine.addEvidence(f"{observation.indication}-seen", [observation.seen.get(s, 0.0) for s in states])
        engine.addTarget("which")
        engine.makeInference()
        return np.array(engine.posterior("which").tolist())


NET = Net(bench(), TABLE)


@pytest.mark.source("pyAgrum, exact inference by lazy propagation", found="recomputed")
@given(st.data())
@settings(max_examples=25, deadline=None)
def test_singles_and_pairs_agree_with_a_bayesian_network(data: st.DataObject) -> None:
    told = data.draw(st.sets(st.sampled_from(TABLE.indications)))
    observed = []
    for i in sorted(told):
        states = TABLE.states[TABLE.index[i]]
        weights = st.fixed_dictionaries({s: st.sampled_from([0.05, 0.3, 1.0]) for s in states})
        observed.append(Observed(i, data.draw(st.sampled_from(states).map(lambda s: {s: 1.0}) | weights)))
    found = pair_up(believe(TABLE, Evidence(tuple(observed))), wide=None)
    peer = NET.posterior(tuple(observed))
    ours = np.concatenate([singles(found)[:-1], [chance(found, a, b) for a, b in NET.pairs]])
    assert ours / ours.sum() == pytest.approx(peer, abs=1e-9)


@given(st.permutations(range(5)), st.integers(0, 4))
@settings(max_examples=20, deadline=None)
def test_any_order_undo_and_one_in_all(order: list[int], undone: int) -> None:
    observed = [
        Observed("lamp", {"dark": 1.0}),
        Observed("supply", {"low": 1.0, "good": 0.2}),
        Observed("lamp", {"lit": 1.0}, 2),
        Observed("sign", {"hot": 1.0}),
        Observed("other", {"dark": 1.0}, 2),
    ]
    plain = pair_up(believe(INTERMITTENT, Evidence(tuple(observed))), wide=None)
    mixed = pair_up(believe(INTERMITTENT, Evidence(tuple(observed[n] for n in order))), wide=None)
    assert plain.posterior.sum() + singles(plain).sum() == pytest.approx(1.0)
    assert [chance(mixed, a, b) for a, b in NET.pairs] == pytest.approx([chance(plain, a, b) for a, b in NET.pairs])
    # A fact said and taken back leaves no trace.
    rest = [s for n, s in enumerate(observed) if n != undone]
    pair_up(believe(INTERMITTENT, Evidence((*rest, observed[undone]))))
    again = pair_up(believe(INTERMITTENT, Evidence(tuple(rest))), wide=None)
    before = pair_up(
        believe(INTERMITTENT, Evidence(tuple(s for n, s in enumerate(observed) if n != undone))), wide=None
    )
    assert again.posterior == pytest.approx(before.posterior, abs=0)


def test_priors_are_products_and_hold_their_share() -> None:
    found = pair_up(believe(TABLE, Evidence()), wide=None)
    assert found.share == pytest.approx(TWO_CAUSES)
    ratio = chance(found, "switched-off", "motor-hot") / chance(found, "supply-poor", "lamp-slow")
    assert ratio == pytest.approx(2.0 * 1.0 / (0.2 * 0.5))
    assert len(found.first) == 10


def test_a_pair_rises_when_no_single_cause_fits() -> None:
    both = pair_up(seen(TABLE, switch="off", sign="hot", lamp="dark"))
    assert both.best(1)[0].causes == ("switched-off", "motor-hot")
    assert both.share > 0.5
    one = pair_up(seen(TABLE, switch="off", sign="none", lamp="dark"))
    assert one.share < 2 * TWO_CAUSES


def test_an_intermittent_one_rests_in_its_own_rounds() -> None:
    """By hand for one round: it shows with its chance, else the other stands alone."""
    belief = seen(INTERMITTENT, other="dark", sign="hot")
    found = pair_up(belief)
    names = INTERMITTENT.cause_index
    single = log_likelihood(INTERMITTENT, belief.gathered.lasting)
    shows = log_likelihood(widened(INTERMITTENT, [names["motor-hot"]], [names["loose"]]), belief.gathered.lasting)[
        len(INTERMITTENT.causes) - 1
    ]
    expected = 0.5 * np.exp(shows) + 0.5 * np.exp(single[names["motor-hot"]])
    pair = [
        k for k in range(len(found.first)) if {found.first[k], found.second[k]} == {names["motor-hot"], names["loose"]}
    ]
    assert np.exp(found.log_likelihood[pair[0]]) == pytest.approx(expected)
    assert single[HEALTHY] < single[names["motor-hot"]]


def test_a_failed_remedy_speaks_for_two_causes() -> None:
    """Curing one of two leaves the machine standing; only a remedy for both would have cured."""
    x, y = m.remedy("x", 5), m.remedy("y", 5)
    causes = [m.cause("a", 1.0, remedy=x), m.cause("b", 1.0, remedy=y), m.cause("c", 1.0, remedy=x)]
    table = compile(m.machine([m.lamp("l")], causes))
    found = pair_up(believe(table, Evidence(failed=("x",))))
    assert chance(found, "a", "b") / chance(found, "a", "c") == pytest.approx(1 / (1 - 0.95**2))
    assert found.share > TWO_CAUSES


def test_pruning_keeps_the_pair() -> None:
    """With the best few single causes as the first of a pair, the best pair of all is still found."""
    rng = np.random.default_rng(3)
    for _ in range(6):
        told = rng.choice(len(STACKER.indications), size=8, replace=False)
        observed = tuple(Observed(STACKER.indications[i], {str(rng.choice(STACKER.states[i])): 1.0}) for i in told)
        belief = believe(STACKER, Evidence(observed))
        assert pair_up(belief).best(1)[0].causes == pair_up(belief, wide=None).best(1)[0].causes
