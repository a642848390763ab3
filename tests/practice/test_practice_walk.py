"""Stops followed through a case: the gate, remedies and their proof, calls, and figures that repeat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diag.case.case import Case
from diag.case.log.events import Closed, Gate, Remedied, RemedyFailed, Stamped
from diag.machine.model import Access, Machine, Role
from diag.practice import simulate
from diag.practice.walk_case import WALKER, Followed, Stopped, opened, walk, walk_tree
from diag.reason.table.compile import table_of
from diag.reason.table.draw_stop import draw
from diag.safety import Act, Person


def stopped(machine: Machine, cause: str, seed: int = 0) -> Stopped:
    """The machine with this cause, as its own file draws it; every answer is the truth."""
    table = table_of(machine)
    drawn = draw(table, table.causes.index(cause), np.random.default_rng(seed))
    truth = {id: table.states[i][int(drawn[i])] for i, id in enumerate(table.indications)}
    remedy = machine.causes[cause].remedy
    return Stopped(truth, truth, frozenset({remedy.id} if remedy else ()))


def events(case: Case) -> list[object]:
    return [entry.event for entry in case.entries if isinstance(entry, Stamped)]


def followed(machine: Machine, at: Stopped, person: Person = WALKER) -> tuple[Case, Followed]:
    case, clock = opened(machine, person)
    return case, walk(case, clock, at)


def test_a_stop_is_followed_to_its_proved_cure(mixer: Machine) -> None:
    case, found = followed(mixer, stopped(mixer, "guard-not-down"))
    assert (found.ending, found.remedies) == ("cured", ["guard-not-down"])
    assert case.state.closed == "cured"
    assert events(case)[-1] == Closed(outcome="cured", cause="guard-not-down")
    assert found.diagnosis[0].id == "guard-not-down"
    assert found.minutes > sum(mixer.checks[id].minutes for id in set(found.checks))


def test_every_cause_of_a_machine_comes_to_an_end_and_nothing_inside_is_done_before_its_gate(mixer: Machine) -> None:
    ended = {}
    inside = 0
    for cause in mixer.causes:
        case, found = followed(mixer, stopped(mixer, cause))
        ended[cause] = found.ending
        dead: set[str] = set()
        for event in events(case):
            match event:
                case Gate(zone=zone, act=Act.TESTED_DEAD):
                    dead.add(zone)
                case Gate(zone=zone, act=Act.BACK):
                    dead.discard(zone)
                case Remedied(remedy=remedy) if mixer.remedies[remedy].access is Access.DEAD:
                    assert mixer.remedies[remedy].zone in dead
                    inside += 1
        assert not case.state.locks or found.ending != "cured", "whoever closes a case has gone the way back"
    assert "lost" not in ended.values()
    assert list(ended.values()).count("cured") >= 6, ended
    assert inside, "some remedy of the machine is inside"


def test_a_remedy_that_does_not_cure_is_said_to_have_failed_and_looking_goes_on(mixer: Machine) -> None:
    at = stopped(mixer, "guard-not-down")
    case, found = followed(mixer, replace(at, cures=frozenset()))
    assert found.ending in ("called", "danger")
    assert "guard-not-down" in found.remedies
    assert RemedyFailed(remedy="guard-not-down") in events(case)
    assert len(found.remedies) == len(set(found.remedies)), "none is tried twice"


def test_an_operator_calls_where_only_others_may_go_on(mixer: Machine) -> None:
    case, found = followed(mixer, stopped(mixer, "supply-unit-failed"), Person("Olga", Role.OPERATOR))
    assert found.ending == "called"
    assert case.state.called
    assert not any(isinstance(event, Gate) for event in events(case))


def test_the_tree_alone_is_followed_as_it_was_written(mixer: Machine) -> None:
    case, clock = opened(mixer)
    found = walk_tree(case, clock, stopped(mixer, "guard-not-down"))
    assert found.concluded[0] == "guard-not-down"
    assert found.ending == "cured"


def test_figures_repeat_and_the_ways_follow_the_same_stops(mixer: Machine) -> None:
    one, again = (simulate.simulate(mixer, 6, seed=2) for _ in range(2))
    assert one == again
    tree = simulate.simulate(mixer, 6, seed=2, tree=True)
    assert [s.cause for s in tree.stops] == [s.cause for s in one.stops]
    assert sum(one.endings.values()) == pytest.approx(1.0)
    assert "lost" not in one.endings
    assert simulate.simulate(mixer, 6, seed=3) != one


def test_each_cause_is_followed_as_often(mixer: Machine) -> None:
    score = simulate.simulate(mixer, 1, each=True)
    assert sorted(stop.cause for stop in score.stops) == sorted(mixer.causes)
    assert all(0.0 <= stop.brier <= 2.0 and stop.minutes > 0.0 for stop in score.stops)
