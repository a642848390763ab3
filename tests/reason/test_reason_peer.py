"""The posterior against pyAgrum, a library for Bayesian networks, on the same tables.

The network is the definition written out: one node for the cause, one for each indication, an arc from the cause to
each, and one from each indication to what follows it. An intermittent cause is two values of the cause node, showing
and resting. pyAgrum sums over whatever was not seen by message passing, and shares no line with `diag.reason`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import machines as m
import numpy as np
import pyagrum as gum
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.model import Follow, Machine
from diag.reason.belief import believe
from diag.reason.compile import Array, Table, compile
from diag.reason.constants import SLIP
from diag.reason.evidence import Evidence, Sight
from diag.reason.joint import Rule

PEER = "pyAgrum, exact inference by lazy propagation"


class Network:
    """A table as a Bayesian network."""

    def __init__(self, table: Table) -> None:
        self.table = table
        # Rows of `p` by value of the cause node: each cause as it shows, then each intermittent one at rest.
        resting = np.flatnonzero(table.quiet)
        self.rows = [*range(len(table.causes)), *(-1 for _ in resting)]
        self.owner = np.array([*range(len(table.causes)), *resting])
        prior = np.exp(table.log_prior)
        share = np.append(prior * (1 - table.quiet), (prior * table.quiet)[resting])
        self.net = gum.BayesNet()
        self.net.add(gum.RangeVariable("cause", "", 0, len(share) - 1))
        self.net.cpt("cause").fillWith((share / share.sum()).tolist())
        rules = {i: member.rules for joint in table.joints for i, member in joint.members.items()}
        for i, states in enumerate(table.states):
            self.net.add(gum.RangeVariable(str(i), "", 0, len(states) - 1))
        for i in range(len(table.states)):
            self._fill(i, rules.get(i, ()))

    def _fill(self, i: int, rules: Sequence[Rule]) -> None:
        table, name = self.table, str(i)
        parents = sorted({parent for when, _ in rules for parent, _ in when})
        self.net.addArc("cause", name)
        for parent in parents:
            self.net.addArc(str(parent), name)
        k = len(table.states[i])
        for value, *at in product(range(len(self.rows)), *(range(len(table.states[parent])) for parent in parents)):
            standing = dict(zip(parents, at, strict=True))
            p = table.p[self.rows[value], table.columns(i)]
            for when, shows in rules:
                if all(standing[parent] in wanted for parent, wanted in when):
                    p = np.full(k, SLIP / k) + (1 - SLIP) * (np.arange(k) == shows)
                    break
            self.net.cpt(name)[{"cause": value, **{str(q): s for q, s in standing.items()}}] = p.tolist()

    def posterior(self, sights: tuple[Sight, ...]) -> Array:
        """P(cause | sights), shape [C]."""
        engine = gum.LazyPropagation(self.net)
        for sight in sights:
            i = self.table.index[sight.indication]
            engine.addEvidence(str(i), [sight.seen.get(s, 0.0) for s in self.table.states[i]])
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
    return m.machine(lamps, [*causes, m.cause("comes-and-goes", 0.2, {"lamp-0": {"dark": 0.98}}, quiet=0.6)])


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
            m.cause("loose-wire", 0.2, {"supply-0": {"low": 0.85}, "ready": {"no": 0.4}}, quiet=0.5),
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
    sights = tuple(Sight(id, data.draw(_seen(table.states[table.index[id]]))) for id in sorted(chosen))
    ours = believe(table, Evidence(sights)).posterior
    assert ours == pytest.approx(NETWORKS[name].posterior(sights), abs=1e-9)


def _seen(states: tuple[str, ...]) -> st.SearchStrategy[dict[str, float]]:
    plainly = st.sampled_from(states).map(lambda s: {s: 1.0})
    doubtful = st.fixed_dictionaries({s: st.sampled_from([0.05, 0.3, 1.0]) for s in states})
    return plainly | doubtful
