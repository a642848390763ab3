"""The posterior against pyAgrum, a library for Bayesian networks, on the same tables.

The network is the definition written out: one node for the cause, one for each indication, an arc from the cause to
each, and one from each indication to what follows it. What follows or is followed is a true state, not seen itself: a
node for the sight of it hangs on it, with the slip. An intermittent cause is two values of the cause node, showing and
resting. pyAgrum sums over whatever was not seen by message passing, and shares no line with `diag.reason`.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import machines as m
import numpy as np
import pytest
from crosscheck import gum
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.load import read
from diag.machine.model import Follow, Machine
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.constants import SLIP
from diag.reason.table.compile import Array, Index, Table, compile
from diag.reason.table.joint import Rule
from diag.reason.table.unlisted_mixture import unlisted_mixture

PEER = "pyAgrum, exact inference by lazy propagation"


class Network:
    """A table as a Bayesian network."""

    def __init__(self, table: Table) -> None:
        self.table = table
        # Rows by value of the cause node: causes as they show, intermittent ones at rest, guises of `unlisted`.
        resting = np.flatnonzero(table.rest_probability)
        mixture = unlisted_mixture(table)
        n = len(table.causes)
        self.p = mixture.rows[[*range(n - 1), *(n for _ in resting), *mixture.at]]
        self.owner = np.array([*range(n - 1), *resting, *(n - 1 for _ in mixture.at)])
        prior = np.exp(table.log_prior)
        showing, rests = prior * (1 - table.rest_probability), prior * table.rest_probability
        share = np.concatenate([showing[:-1], rests[resting], prior[-1] * np.exp(mixture.log_share)])
        self.net = gum.BayesNet()
        self.net.add(gum.RangeVariable("cause", "", 0, len(share) - 1))
        self.net.cpt("cause").fillWith((share / share.sum()).tolist())
        rules = {i: member.rules for joint in table.joints for i, member in joint.members.items()}
        for i, states in enumerate(table.states):
            self.net.add(gum.RangeVariable(str(i), "", 0, len(states) - 1))
        for i in range(len(table.states)):
            self._fill(i, rules.get(i, ()))
        self.observation = {i: str(i) for i in range(len(table.states))}
        for i in (i for joint in table.joints for i in joint.members):
            k = len(table.states[i])
            self.observation[i] = f"sight-{i}"
            self.net.add(gum.RangeVariable(self.observation[i], "", 0, k - 1))
            self.net.addArc(str(i), self.observation[i])
            self.net.cpt(self.observation[i]).fillWith((SLIP / k + (1 - SLIP) * np.eye(k)).ravel().tolist())

    def _fill(self, i: int, rules: Sequence[Rule]) -> None:
        table, name = self.table, str(i)
        parents = sorted({parent for when, _ in rules for parent, _ in when})
        self.net.addArc("cause", name)
        for parent in parents:
            self.net.addArc(str(parent), name)
        k = len(table.states[i])
        # pyAgrum's order: the node's own state runs fastest, then the cause, then the parents as their arcs were added.
        cells = np.empty([*(len(table.states[parent]) for parent in reversed(parents)), len(self.p), k])
        for at in np.ndindex(cells.shape[:-2]):
            standing = dict(zip(reversed(parents), at, strict=True))
            cells[at] = self.p[:, table.columns(i)]
            for when, shows in rules:
                if all(standing[parent] in wanted for parent, wanted in when):
                    cells[at] = np.arange(k) == shows
                    break
        self.net.cpt(name).fillWith(cells.ravel().tolist())

    def posterior(self, observed: tuple[Observed, ...]) -> Array:
        """P(cause | sights), shape [C]."""
        engine = gum.LazyPropagation(self.net)
        for observation in observed:
            i = self.table.index[observation.indication]
            engine.addEvidence(self.observation[i], [observation.seen.get(s, 0.0) for s in self.table.states[i]])
        engine.addTarget("cause")
        engine.makeInference()
        values = np.array(engine.posterior("cause").tolist())
        return np.bincount(self.owner, weights=values)


def plain() -> Machine:
    """Nothing follows anything."""
    lamps = [m.lamp(f"lamp-{n}", ("lit", "dark", "slow")[: 2 + n % 2]) for n in range(6)]
    causes = [
        m.cause(f"cause-{n}", 0.02 * 3**n, {f"lamp-{n}": {"dark": 0.85}, f"lamp-{n + 1}": {"dark": 0.4, "lit": 0.1}})
        for n in range(5)
    ]
    return m.machine(lamps, [*causes, m.cause("comes-and-goes", 0.2, {"lamp-0": {"dark": 0.98}}, rest_probability=0.6)])


def chained() -> Machine:
    """A switch, two supplies under it, lamps under both, and one that needs two things at once."""
    switch = m.lamp("switch", ("on", "off"))
    supplies = [
        m.lamp(f"supply-{n}", ("good", "low", "absent"), follows=[Follow((("switch", ("off",)),), "absent")])
        for n in range(2)
    ]
    lamps = [
        m.lamp(
            f"lamp-{n}",
            ("lit", "dim", "dark"),
            follows=[
                Follow(((f"supply-{n % 2}", ("absent",)),), "dark"),
                Follow(((f"supply-{n % 2}", ("low",)), (f"supply-{1 - n % 2}", ("low", "absent"))), "dim"),
            ],
        )
        for n in range(4)
    ]
    ready = m.lamp("ready", ("yes", "no"), follows=[Follow((("lamp-0", ("dark", "dim")),), "no")])
    return m.machine(
        [switch, *supplies, *lamps, ready, m.lamp("apart")],
        [
            m.cause("switched-off", 2.0, {"switch": {"off": 0.98}}),
            m.cause("supply-0-failed", 0.2, {"supply-0": {"absent": 0.85, "low": 0.4}}),
            m.cause("supply-1-failed", 0.2, {"supply-1": {"absent": 0.4, "low": 0.4}, "apart": {"dark": 0.1}}),
            m.cause("lamp-failed", 0.02, {"lamp-0": {"dark": 0.98}}),
            m.cause("loose-wire", 0.2, {"supply-0": {"low": 0.85}, "ready": {"no": 0.4}}, rest_probability=0.5),
        ],
    )


TABLES = {name: compile(made) for name, made in (("plain", plain()), ("chained", chained()))}
NETWORKS = {name: Network(table) for name, table in TABLES.items()}


@pytest.mark.source(PEER, found="recomputed")
@pytest.mark.parametrize("name", TABLES)
@given(data=st.data())
@settings(max_examples=40, deadline=None)
def test_posterior_agrees_with_a_bayesian_network(name: str, data: st.DataObject) -> None:
    """To 1e-9, for plain and for doubtful sights of any of the indications."""
    table = TABLES[name]
    chosen = data.draw(st.sets(st.sampled_from(table.indications)))
    observed = tuple(Observed(id, data.draw(_seen(table.states[table.index[id]]))) for id in sorted(chosen))
    ours = believe(table, Evidence(observed)).posterior
    assert ours == pytest.approx(NETWORKS[name].posterior(observed), abs=1e-9)


@pytest.mark.source(PEER, found="recomputed")
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("causes", "indications"), [(1, 1), (2, 3), (6, 10), (20, 15), (60, 25)])
def test_posterior_agrees_on_machines_drawn_at_random(causes: int, indications: int, seed: int) -> None:
    """Of several sizes, a third of the indications hanging on an earlier one; half are told, every third in doubt."""
    rng = np.random.default_rng(seed)
    table = compile(drawn(rng, causes, indications))
    network = Network(table)
    for _ in range(4):
        told = rng.choice(indications, size=(indications + 1) // 2, replace=False)
        observed = _observations(table, told, rng)
        ours = believe(table, Evidence(observed)).posterior
        assert ours == pytest.approx(network.posterior(observed), abs=1e-9), observed


def drawn(rng: np.random.Generator, causes: int, indications: int) -> Machine:
    """Causes that touch some three indications each, every fifth of them intermittent."""
    states = [("normal", "odd", "poor", "gone")[: int(rng.integers(2, 5))] for _ in range(indications)]
    lamps = []
    for i, own in enumerate(states):
        follows = []
        if i and rng.random() < 1 / 3:
            parent = int(rng.integers(i))
            follows.append(Follow(((f"i{parent}", (str(rng.choice(states[parent][1:])),)),), str(rng.choice(own))))
        lamps.append(m.lamp(f"i{i}", own, follows=follows))
    made = []
    for c in range(causes):
        touched = rng.choice(indications, size=min(3, indications), replace=False)
        shows = {f"i{i}": {str(rng.choice(states[i][1:])): float(rng.uniform(0.1, 0.98))} for i in touched}
        made.append(m.cause(f"c{c}", float(rng.uniform(0.02, 2)), shows, rest_probability=0.0 if c % 5 else 0.4))
    return m.machine(lamps, made)


@pytest.mark.source(PEER, found="recomputed")
def test_posterior_agrees_on_the_tray_stacker() -> None:
    """The whole machine, 12 times some 2 to 9 facts that no single cause need explain, every third of them in doubt."""
    table = compile(read(Path(__file__).resolve().parents[2] / "knowledge" / "tray-stacker"))
    network = Network(table)
    rng = np.random.default_rng(20261120)
    for _ in range(12):
        told = rng.choice(len(table.indications), size=rng.integers(2, 10), replace=False)
        observed = _observations(table, told, rng)
        ours = believe(table, Evidence(observed)).posterior
        assert ours == pytest.approx(network.posterior(observed), abs=1e-9), observed


def _seen(states: tuple[str, ...]) -> st.SearchStrategy[dict[str, float]]:
    plainly = st.sampled_from(states).map(lambda s: {s: 1.0})
    doubtful = st.fixed_dictionaries({s: st.sampled_from([0.05, 0.3, 1.0]) for s in states})
    return plainly | doubtful


def _observations(table: Table, told: Index, rng: np.random.Generator) -> tuple[Observed, ...]:
    """A state of each at random, and of every third weights over its states."""
    found = []
    for n, i in enumerate(told):
        states = table.states[i]
        seen = {str(rng.choice(states)): 1.0} if n % 3 else {s: float(rng.uniform(0.02, 1.0)) for s in states}
        found.append(Observed(table.indications[i], seen))
    return tuple(found)
