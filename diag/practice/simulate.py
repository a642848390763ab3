"""How good the advice is: stops drawn from the machine's own weights and followed through `Case`, as the app shows it.

A hidden cause is drawn by its rate, and the states of all indications by its signature; then some answers are lost and
some are replaced by another state at random. A case is opened in memory and its advice is followed to the end of the
stop: the gate, checks, remedies with their proof, calls, and the look further ahead. The diagnosis is scored when the
looking is over, before the first remedy or at the end. A cause counts as found when it, one of its ambiguity group or a
cause with the same remedy is.
"""

from __future__ import annotations

import numpy as np

from diag.machine.model import Machine
from diag.practice.quick import Done, answered, drawn
from diag.practice.score import Score, Stop, by_group, scored
from diag.practice.walk_case import Followed, Stopped, opened, walk, walk_tree
from diag.reason.table.compile import Array, Table, table_of
from diag.reason.table.draw_stop import draw


def simulate(
    machine: Machine,
    n: int,
    seed: int = 0,
    done: Done = lambda stops: None,
    *,
    each: bool = False,
    tree: bool = False,
) -> Score:
    """The stops that are `drawn`, followed by the advice or, with `tree`, by the authored tree alone."""
    table, found = table_of(machine), []
    for cause, rng in drawn(table, n, seed, each):
        found.append(_stop(machine, table, cause, rng, tree))
        done(1)
    return Score(tuple(found))


def _stop(machine: Machine, table: Table, cause: int, rng: np.random.Generator, tree: bool) -> Stop:
    """One stop with the listed cause of that number: drawn, answered with some answers lost or wrong, and followed."""
    truth = draw(table, cause, rng)
    answers = answered(table, truth, rng)
    remedy, named = machine.causes[table.causes[cause]].remedy, (table.indications, table.states)
    stopped = Stopped(
        {id: None if a is None else states[a] for id, states, a in zip(*named, answers, strict=True)},
        {id: states[k] for id, states, k in zip(*named, truth, strict=True)},
        frozenset() if remedy is None else frozenset({remedy.id}),
    )
    case, clock = opened(machine)
    followed = (walk_tree if tree else walk)(case, clock, stopped)
    belief = _belief(table, followed, tree)
    best = by_group(table, belief[None, :])[0].argmax()
    return scored(
        table,
        cause,
        belief,
        top=int(np.where(table.group == best, belief, -1.0).argmax()),
        asked=len(followed.checks),
        minutes=followed.minutes,
        corrupted=sum(stopped.answers[id] != stopped.truth[id] for id in followed.answered),
        ending=followed.ending,
        remedies=len(followed.remedies),
    )


def _belief(table: Table, followed: Followed, tree: bool) -> Array:
    """The probability of each cause at the end of the diagnosis, [C + 1]. A tree that concludes says that it is one of
    its causes, each as likely; one that does not says nothing, so that every cause is as likely."""
    concluded = followed.concluded or table.causes
    by_tree = dict.fromkeys(concluded, 1.0 / len(concluded))
    found = by_tree if tree else {likely.id: likely.probability for likely in followed.diagnosis}
    return np.array([found.get(cause, 0.0) for cause in table.causes])
