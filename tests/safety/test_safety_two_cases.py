"""Two cases at one machine: what one enters holds in the other, exactly as one ledger for both says."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from canon import ANN, BOB
from two_cases import CASES, FEATURES, PAIRS, TwoCases

from diag.case.case import Case
from diag.case.log.ageing import Around
from diag.case.sitting import Sitting
from diag.record.casebook import Casebook
from diag.safety import Refused

RECORD = Callable[[str, object], None]
WIDE = (("danger", "remedies"), ("remedies", "way back"), ("remedies", "power for a test"))
"""Pairs with the most states."""


@pytest.mark.source(
    "29 CFR 1910.147(f)(3), (f)(1); HSG253: one point, two jobs; each lock by its owner", found="read in public text"
)
@pytest.mark.parametrize(
    "pair",
    [pytest.param(pair, id=" and ".join(pair), marks=[pytest.mark.slow] if pair in WIDE else []) for pair in PAIRS],
)
def test_two_persons_in_two_cases(pair: tuple[str, str], record_property: RECORD) -> None:
    """Each pair of features together, every state."""
    walk = TwoCases(pair).run()
    said = f"{walk.visited:,} states visited, {walk.edges:,} entries taken, both cases and ledger agree at each"
    record_property("figure", f"two cases, {' and '.join(pair)}: {said}")
    assert walk.visited == len(walk.how)


class Clock:
    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at


@pytest.mark.parametrize("seed", range(2))
def test_the_door_does_as_the_walk_does(seed: int, tmp_path: Path) -> None:
    """Random entries through `Case` and a casebook: taken, refused and shown as in the walk."""
    chance = random.Random(seed)
    walk = TwoCases(FEATURES)
    here = walk.begin()
    clock = Clock(here.at)
    with Casebook(tmp_path / "book.sqlite3") as book:
        cases = [
            Case.open(walk.machine, Sitting(person, id=CASES[n]), book=book, clock=clock)
            for n, person in enumerate(walk.people)
        ]
        cases[0].follow()
        for _ in range(100):
            if here.book.waits and chance.random() < 0.2:
                here = next(iter(walk.onward(here)))
                clock.at = here.at
                continue
            n = chance.randrange(2)
            event = chance.choice(list(likely(walk, here, n, chance)))
            cases[n].follow()
            there = walk.enter(here, here.cases[n].projection(walk.people[n], Around(here.at)), n, event)
            if there is None:
                with pytest.raises(Refused):
                    cases[n].post(event)
            else:
                cases[n].post(event)
                here = there
            cases[1 - n].follow()
            for case, so_far, name in zip(cases, here.cases, (ANN, BOB), strict=True):
                person = walk.people[(ANN, BOB).index(name)]
                shown, walked = case.state, so_far.projection(person, Around(here.at)).state
                assert (shown.banner, shown.locks, shown.holds, shown.danger, shown.steps) == (
                    *(walked.banner, walked.locks, walked.holds, walked.danger, walked.steps),
                )
                assert (shown.person, shown.own_locks, shown.ways) == (walked.person, walked.own_locks, walked.ways)
                assert {case.entries[-1].by} == {name}


def likely(walk: TwoCases, here: object, n: int, chance: random.Random) -> Iterator[object]:
    """Mostly what the gate asks for next, so that the way leads somewhere."""
    state = here.cases[n].projection(walk.people[n], Around(here.at)).state
    asked = {(s.act, s.target) for zone in state.steps.values() for s in zone}
    events = list(walk.events(here.book, n))
    next_ones = [event for event in events if event.kind == "gate" and (event.act, event.target) in asked]
    yield from next_ones if next_ones and chance.random() < 0.7 else events
