"""The posterior of a raw table: published numbers, and libraries on random tables of many sizes."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from crosscheck import gum, naive_bayes

from flat_table.flat import BadTable, Flat
from flat_table.flat_belief import FlatBelief, posterior, start
from flat_table.flat_scores import information
from flat_table.flat_tables import from_tables
from flat_table.test_flat_table import Tables, drawn, told

MEMORY = "numbers from memory, recomputed"


def decibans(belief: FlatBelief) -> float:
    """Of the first cause against the second: 10 log10 of the odds."""
    return float(10 * (belief.log_weight[0] - belief.log_weight[1]) / np.log(10))


@pytest.mark.source("Eddy 1982, breast cancer base rate: 1/13 = .0769231; -19.956 dB + 9.165 dB", found=MEMORY)
def test_base_rate() -> None:
    prior, tables = [0.01, 0.99], [[[0.208, 0.792], [0.904, 0.096]]]
    assert posterior(prior, tables, {0: 1}) == pytest.approx([1 / 13, 12 / 13], abs=1e-12)
    before = start(from_tables(prior, tables))
    assert decibans(before) == pytest.approx(-19.956, abs=1e-3)
    assert decibans(before.see(0, 1)) - decibans(before) == pytest.approx(9.165, abs=1e-3)


@pytest.mark.source("Good 1950; Jaynes 2003, ch. 4: five bad in twelve, prior 1/11: -1.732 dB, .40159", found=MEMORY)
def test_decibans_add_up() -> None:
    """-10 dB, +3.0103 for a bad item, -0.9691 for a good one."""
    prior, tables = [1 / 11, 10 / 11], [[[2 / 3, 1 / 3], [5 / 6, 1 / 6]]] * 12
    belief = start(from_tables(prior, tables))
    found = [decibans(belief)]
    for n in range(12):
        belief = belief.see(n, int(n < 5))
        found.append(decibans(belief))
    assert found[0] == pytest.approx(-10.0)
    assert np.diff(found) == pytest.approx([3.0103] * 5 + [-0.9691] * 7, abs=1e-4)
    assert found[-1] == pytest.approx(-1.732, abs=1e-3)
    assert belief.posterior[0] == pytest.approx(0.40159, abs=5e-6)
    assert posterior(prior, tables, {n: int(n < 5) for n in range(12)})[0] == pytest.approx(0.40159, abs=5e-6)


@pytest.mark.source("unreliable test, .1, .9, .05: .66667, .97297, .99846 after 1, 2, 3 positives", found="recomputed")
def test_unreliable_test_done_anew() -> None:
    """Three tests that fail independently. A repeat of the very same look is no second witness: it changes nothing."""
    prior, tables = [0.1, 0.9], [[[0.1, 0.9], [0.95, 0.05]]] * 3
    found = [posterior(prior, tables, dict.fromkeys(range(n), 1))[0] for n in (1, 2, 3)]
    assert found == pytest.approx([0.66667, 0.97297, 0.99846], abs=5e-6)
    again = start(from_tables(prior, tables)).see(0, 1).see(0, 1).see(0, 1)
    assert again.posterior[0] == pytest.approx(0.66667, abs=5e-6)


def test_a_fact_is_a_state_or_weights() -> None:
    prior, tables = drawn(3)
    k = tables[1].shape[1]
    by_number = posterior(prior, tables, {1: np.int64(0), 4: 1})
    by_weight = posterior(prior, tables, {4: np.eye(tables[4].shape[1])[1], 1: [1.0] + [0.0] * (k - 1)})
    assert by_number == pytest.approx(by_weight, abs=1e-12)
    assert posterior(prior, tables, {}) == pytest.approx(prior, abs=1e-12)
    assert posterior(prior, tables, {1: [0.3] * k}) == pytest.approx(prior, abs=1e-12)
    with pytest.raises(BadTable, match="no indication 9"):
        posterior(prior, tables, {9: 0})


# Asia

ASIA = list(product((0, 1), repeat=3))
"""Tuberculosis, lung cancer, bronchitis: the eight causes."""
WENT, XRAY, DYSP = range(3)


def asia() -> Flat:
    """Smoking is summed out of the prior. Asia is a cause of tuberculosis: Bayes turns it into P(asia | tub)."""
    prior = []
    for tub, lung, bronc in ASIA:
        p = 0.01 * 0.05 + 0.99 * 0.01
        p = p if tub else 1 - p
        smokes = [(0.5, 0.1, 0.6), (0.5, 0.01, 0.3)]
        prior.append(p * sum(s * (l if lung else 1 - l) * (b if bronc else 1 - b) for s, l, b in smokes))  # noqa: E741
    went, xray, dysp = [], [], []
    for tub, lung, bronc in ASIA:
        visit = 0.01 * (0.05 if tub else 0.95)
        rest = 0.99 * (0.01 if tub else 0.99)
        either = tub or lung
        went.append([rest / (visit + rest), visit / (visit + rest)])
        xray.append([0.02, 0.98] if either else [0.95, 0.05])
        breath = {(1, 1): 0.9, (1, 0): 0.7, (0, 1): 0.8, (0, 0): 0.1}[int(either), bronc]
        dysp.append([1 - breath, breath])
    return from_tables(prior, [went, xray, dysp])


def diseases(belief: FlatBelief) -> list[float]:
    return [float(belief.posterior @ [config[d] for config in ASIA]) for d in range(3)]


@pytest.mark.source(
    "Lauritzen and Spiegelhalter 1988, J. R. Stat. Soc. B 50:157-224, Asia: as eight configurations of its diseases",
    found="network from memory, recomputed",
)
def test_asia() -> None:
    none = start(asia())

    def chance(i: int) -> float:
        return float(np.exp(none.see(i, 1).log_evidence))

    assert diseases(none) == pytest.approx([0.0104, 0.055, 0.45], abs=1e-12)
    assert [chance(XRAY), chance(DYSP)] == pytest.approx([0.11029, 0.435971], abs=5e-7)
    assert diseases(none.see(DYSP, 1)) == pytest.approx([0.018845, 0.102759, 0.833967], abs=5e-7)
    assert diseases(none.see(WENT, 1).see(DYSP, 1)) == pytest.approx([0.087751, 0.099525, 0.811402], abs=5e-7)


@pytest.mark.source("pyAgrum 3.3, exact inference in the eight nodes of Asia", found="recomputed")
def test_asia_agrees_with_its_network() -> None:
    """To 1e-9 for all 27 ways to have seen, or not, the visit, the picture and the breath."""
    net = gum.fastBN("asia->tub->either<-lung<-smoke->bronc->dysp<-either->xray")
    for node, cells in {
        "asia": [0.99, 0.01],
        "smoke": [0.5, 0.5],
        "tub": [[0.99, 0.01], [0.95, 0.05]],
        "lung": [[0.99, 0.01], [0.9, 0.1]],
        "bronc": [[0.7, 0.3], [0.4, 0.6]],
        "xray": [[0.95, 0.05], [0.02, 0.98]],
    }.items():
        net.cpt(node)[:] = cells
    for one, other in product((0, 1), repeat=2):
        net.cpt("either")[{"tub": one, "lung": other}] = [1 - (one | other), one | other]
        breath = [[0.1, 0.8], [0.7, 0.9]][one][other]
        net.cpt("dysp")[{"either": one, "bronc": other}] = [1 - breath, breath]
    engine = gum.LazyPropagation(net)
    for states in product((None, 0, 1), repeat=3):
        seen = {i: s for i, s in enumerate(states) if s is not None}
        engine.setEvidence({("asia", "xray", "dysp")[i]: s for i, s in seen.items()})
        engine.makeInference()
        belief = told(start(asia()), {i: np.eye(2)[s].tolist() for i, s in seen.items()})
        wanted = [engine.posterior(disease)[1] for disease in ("tub", "lung", "bronc")]
        assert diseases(belief) == pytest.approx(wanted, abs=1e-9)


# Libraries

SIZES = [(2, 1), (2, 12), (3, 4), (8, 6), (12, 9), (25, 30), (120, 40)]
"""Causes and indications, of 2 to 4 states each."""


@pytest.mark.source("scikit-learn 1.9, CategoricalNB with the tables put in", found="recomputed")
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("causes", "indications"), SIZES)
def test_posterior_agrees_with_naive_bayes(causes: int, indications: int, seed: int) -> None:
    """All indications seen, each in one state."""
    prior, tables = drawn(seed, causes=causes, indications=indications)
    states = [int(np.random.default_rng(seed + n).integers(t.shape[1])) for n, t in enumerate(tables)]
    peer = naive_bayes.CategoricalNB()
    peer.classes_, peer.class_log_prior_ = np.arange(causes), np.log(prior)
    peer.feature_log_prob_ = [np.log(t) for t in tables]
    peer.class_count_, peer.n_features_in_ = prior, len(tables)
    peer.n_categories_ = np.array([t.shape[1] for t in tables])
    found = posterior(prior, tables, dict(enumerate(states)))
    assert found == pytest.approx(peer.predict_proba([states])[0], abs=1e-9)


@pytest.mark.source("pyAgrum 3.3, exact inference and mutual information", found="recomputed")
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("causes", "indications"), SIZES)
def test_posterior_and_information_agree_with_a_bayesian_network(causes: int, indications: int, seed: int) -> None:
    """With up to half of the indications told, most in doubt, some in one state; mutual information is in bits."""
    prior, tables = drawn(seed, causes=causes, indications=indications)
    net = network(prior, tables)
    rng = np.random.default_rng(seed)
    chosen = rng.choice(indications, size=(indications + 1) // 2, replace=False)
    facts = {int(i): rng.uniform(0.01, 1.0, tables[i].shape[1]).tolist() for i in chosen}
    for i in chosen[2::3]:
        facts[int(i)] = np.eye(tables[i].shape[1])[rng.integers(tables[i].shape[1])].tolist()
    others = [i for i in range(indications) if i not in facts][:4]
    engine = gum.LazyPropagation(net)
    for i, seen in facts.items():
        engine.addEvidence(str(i), seen)
    engine.addTarget("cause")
    for i in others:
        engine.addJointTarget({"cause", str(i)})
    belief = told(start(from_tables(prior, tables)), facts)
    wanted = np.array(engine.posterior("cause").tolist())
    assert belief.posterior == pytest.approx(wanted, abs=1e-9)
    assert posterior(prior, tables, facts) == pytest.approx(wanted, abs=1e-9)
    found = information(belief)
    for i in others:
        theirs = gum.InformationTheory(engine, ["cause"], [str(i)]).mutualInformationXY()
        assert found[i] == pytest.approx(theirs, abs=1e-9)


def network(prior: np.ndarray, tables: Tables) -> gum.BayesNet:
    """One node for the cause, and under it one for each indication."""
    net = gum.BayesNet()
    net.add(gum.RangeVariable("cause", "", 0, len(prior) - 1))
    net.cpt("cause").fillWith(prior.tolist())
    for i, table in enumerate(tables):
        net.add(gum.RangeVariable(str(i), "", 0, table.shape[1] - 1))
        net.addArc("cause", str(i))
        net.cpt(str(i)).fillWith(table.ravel().tolist())
    return net
