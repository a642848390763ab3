"""What is not in the file, by hand: belief against the written rules, walked state by state.

The hand below takes nothing from `diag.reason` but the figures that it is held against: it writes each row out of the
causes' own words, sums over every guise and every state of the whole machine, and slips every sight by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import log, prod

import machines as m
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.model import Follow, Indication, Machine
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.table.compile import Table, compile
from diag.reason.table.unlisted_mixture import unlisted_mixture

E = 0.02
PRIOR = 0.03
SPREAD = 0.2
NONE = 30
UNLIKE = 0.2

Row = dict[str, list[float]]
"""By indication: P(true state) where no rule holds."""
Seen = Mapping[str, Sequence[float]]
"""By indication: P(seen | state looked at)."""


def slipped(i: Indication) -> list[list[float]]:
    """P(state looked at | true state), true states down."""
    k = len(i.states)
    return [[(1 - E) * (s == t) + E / k for s in range(k)] for t in range(k)]


@dataclass
class Hand:
    machine: Machine

    def healthy(self) -> Row:
        return {
            i.id: list(i.usual) or [float(s == i.normal) for s in i.state_ids]
            for i in self.machine.indications.values()
        }

    def listed(self, id: str) -> Row:
        row = self.healthy()
        for i, shows in self.machine.causes[id].shows.items():
            ids = self.machine.indications[i].state_ids
            row[i] = [shows.get(s, 0.0) + (1 - sum(shows.values())) * p for s, p in zip(ids, row[i], strict=True)]
        return row

    def none(self) -> Row:
        """Like none: the average of the listed, with an even spread of what is looked at as heavy as thirty."""
        listed = [self.listed(id) for id in self.machine.causes]
        row = {}
        for i in self.machine.indications.values():
            k = len(i.states)
            spread = [1 - SPREAD if s == i.normal else SPREAD / (k - 1) for s in i.state_ids]
            true = [(p - E / k) / (1 - E) for p in spread]
            row[i.id] = [(sum(r[i.id][s] for r in listed) + NONE * true[s]) / (len(listed) + NONE) for s in range(k)]
        return row

    def like(self, id: str) -> Row:
        listed, none = self.listed(id), self.none()
        followed = {p for i in self.machine.indications.values() for rule in i.follows for p, _ in rule.when}
        return {
            i: p if i in followed else [(1 - UNLIKE) * a + UNLIKE * b for a, b in zip(p, none[i], strict=True)]
            for i, p in listed.items()
        }

    def unlisted_mixture(self) -> list[tuple[float, Row]]:
        lasting = [c for c in self.machine.causes.values() if not c.rest_probability]
        n, total = len(lasting), sum(c.rate for c in lasting)
        return [
            (NONE / (NONE + n), self.none()),
            *((n * c.rate / total / (NONE + n), self.like(c.id)) for c in lasting),
        ]

    def worlds(self, row: Row) -> list[tuple[float, dict[str, int]]]:
        """Every true state of the whole machine, with its chance."""
        inds = self.machine.indications
        found = []
        for states in product(*(range(len(i.states)) for i in inds.values())):
            at = dict(zip(inds, states, strict=True))
            chance = 1.0
            for i in inds.values():
                for rule in i.follows:
                    if all(inds[p].state_ids[at[p]] in wanted for p, wanted in rule.when):
                        chance *= i.state_ids[at[i.id]] == rule.shows
                        break
                else:
                    chance *= row[i.id][at[i.id]]
            found.append((chance, at))
        return found

    def chance(self, row: Row, seen: Seen) -> float:
        """P(seen | row)."""
        look = {i: slipped(self.machine.indications[i]) for i in seen}
        return sum(
            p * prod(sum(a * b for a, b in zip(v, look[i][at[i]], strict=True)) for i, v in seen.items())
            for p, at in self.worlds(row)
        )

    def likelihood(self, seen: Sequence[Seen]) -> list[float]:
        """P(seen round by round | cause), `unlisted` last."""
        every = {i: v for one in seen for i, v in one.items()}
        found = []
        for c in self.machine.causes.values():
            if c.rest_probability:
                each = (
                    (1 - c.rest_probability) * self.chance(self.listed(c.id), one)
                    + c.rest_probability * self.chance(self.healthy(), one)
                    for one in seen
                )
                found.append(prod(each))
            else:
                found.append(self.chance(self.listed(c.id), every))
        return [*found, sum(share * self.chance(row, every) for share, row in self.unlisted_mixture())]

    def posterior(self, seen: Sequence[Seen]) -> list[float]:
        rates = [c.rate for c in self.machine.causes.values()]
        prior = [*((1 - PRIOR) * rate / sum(rates) for rate in rates), PRIOR]
        joint = [p * q for p, q in zip(prior, self.likelihood(seen), strict=True)]
        return [p / sum(joint) for p in joint]

    def next(self, seen: Seen, i: str) -> list[float]:
        """P(state looked at next | `unlisted`, seen)."""
        k = len(self.machine.indications[i].states)
        sure = [[float(s == t) for t in range(k)] for s in range(k)]
        joint = [sum(share * self.chance(row, {**seen, i: v}) for share, row in self.unlisted_mixture()) for v in sure]
        return [p / sum(joint) for p in joint]


def bench(linked: bool) -> Machine:
    """Five indications, one of them a question; linked, a switch takes a supply away and both of them the lamps."""
    switch = m.lamp("switch", ("on", "off"))
    supply = m.lamp("supply", ("good", "low", "absent"))
    lamp = m.lamp("lamp", ("lit", "dim", "dark"))
    if linked:
        supply = replace(supply, follows=(Follow((("switch", ("off",)),), "absent"),))
        low = Follow((("supply", ("low",)), ("switch", ("on",))), "dim")
        lamp = replace(lamp, follows=(Follow((("supply", ("absent",)),), "dark"), low))
    when = replace(m.lamp("when", ("start", "running", "idle")), usual=(0.5, 0.3, 0.2))
    return m.machine(
        [switch, supply, lamp, when, m.lamp("apart")],
        [
            m.cause("switched-off", 2.0, {"switch": {"off": 0.98}, "when": {"start": 0.85}}),
            m.cause("supply-failed", 0.2, {"supply": {"absent": 0.85, "low": 0.1}}),
            m.cause("lamp-failed", 0.02, {"lamp": {"dark": 0.98}, "apart": {"dark": 0.4}}),
            m.cause("loose", 0.2, {"supply": {"low": 0.4}, "lamp": {"dim": 0.85}}, rest_probability=0.5),
        ],
    )


HANDS = {linked: Hand(bench(linked)) for linked in (False, True)}
TABLES = {linked: compile(hand.machine) for linked, hand in HANDS.items()}


@st.composite
def told(draw: st.DrawFn, linked: bool) -> tuple[list[dict[str, list[float]]], Evidence]:
    """Up to five sights, plain or doubtful, in one round or in two."""
    rounds: list[dict[str, list[float]]] = [{} for _ in range(draw(st.integers(1, 2)))]
    observed = []
    for i in HANDS[linked].machine.indications.values():
        n = draw(st.integers(0, len(rounds)))
        if n:
            k = len(i.states)
            weights = st.lists(st.sampled_from([0.0, 0.05, 0.7, 1.0]), min_size=k, max_size=k)
            v = draw(weights.filter(lambda v: any(v) and set(v) != {1.0}))
            rounds[n - 1][i.id] = v
            observed.append(Observed(i.id, dict(zip(i.state_ids, v, strict=True)), n))
    return [one for one in rounds if one] or [{}], Evidence(tuple(observed))


@pytest.mark.parametrize("linked", HANDS)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_belief_is_the_sum_over_all_guises_and_states(linked: bool, data: st.DataObject) -> None:
    seen, evidence = data.draw(told(linked))
    belief = believe(TABLES[linked], evidence)
    assert belief.posterior == pytest.approx(HANDS[linked].posterior(seen), abs=1e-12, rel=1e-9)


@pytest.mark.parametrize("linked", HANDS)
@given(data=st.data())
@settings(max_examples=30, deadline=None)
def test_what_it_shows_next_and_what_each_sight_says_are_such_sums_too(linked: bool, data: st.DataObject) -> None:
    hand, table = HANDS[linked], TABLES[linked]
    seen, evidence = data.draw(told(linked))
    belief = believe(table, evidence)
    every = {i: v for one in seen for i, v in one.items()}
    for i, id in enumerate(table.indications):
        if id not in every:
            assert belief.predicted[-1, table.columns(i)] == pytest.approx(hand.next(every, id), abs=1e-9)
    whole = hand.likelihood(seen)
    for observation, given_ in zip(evidence.observed, belief.by_observation, strict=True):
        rest = hand.likelihood([{i: v for i, v in one.items() if i != observation.indication} for one in seen])
        assert given_ == pytest.approx([log(a / b) for a, b in zip(whole, rest, strict=True)], abs=1e-9)


def test_the_sum_of_one_fact_in_figures() -> None:
    """a comes once a year and darkens x four times in five, b three times and leaves it alone."""
    supply = m.lamp("supply", ("good", "absent"))
    lamp = m.lamp("lamp", follows=[Follow((("supply", ("absent",)),), "dark")])
    causes = [m.cause("a", 1.0, {"supply": {"absent": 0.9}, "x": {"dark": 0.8}}), m.cause("b", 3.0)]
    table = compile(m.machine([supply, lamp, m.lamp("x")], causes))
    a, b = 0.98 * 0.8 + 0.01, 0.01
    none = (a + b + 30 * 0.2) / 32
    like_a, like_b = 0.8 * a + 0.2 * none, 0.8 * b + 0.2 * none
    dark = believe(table, Evidence((Observed("x", {"dark": 1.0}),))).log_likelihood[-1]
    assert np.exp(dark) == pytest.approx((30 * none + 0.5 * like_a + 1.5 * like_b) / 32)
    supplied = unlisted_mixture(table).rows[unlisted_mixture(table).at[1], table.columns(0)]
    assert supplied == pytest.approx([0.1, 0.9])  # others follow it: as under a, with no share of the average


def test_an_intermittent_cause_gives_no_guise() -> None:
    def shares(*rest_probability: float) -> list[float]:
        return np.exp(unlisted_mixture(of(*rest_probability)).log_share).tolist()

    def of(*rest_probability: float) -> Table:
        causes = [
            m.cause(f"c{n}", 1.0, {"x": {"dark": 0.8}}, rest_probability=q) for n, q in enumerate(rest_probability)
        ]
        return compile(m.machine([m.lamp("x")], causes))

    assert shares(0.5, 0.0) == pytest.approx([30 / 31, 1 / 31])
    assert shares(0.5) == pytest.approx([1.0])
    dark = believe(of(0.5), Evidence((Observed("x", {"dark": 1.0}),)))
    assert np.exp(dark.log_likelihood[-1]) == pytest.approx((0.98 * 0.8 + 0.01 + 30 * 0.2) / 31)
    assert dark.predicted.sum(axis=1) == pytest.approx([1.0, 1.0])
