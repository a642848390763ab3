"""`diag grow`: the test tree of least expected cost for a raw table of states and tests."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diag.cli import json_output
from diag.cli.errors import WrongUsage

if TYPE_CHECKING:
    from diag.cli.measuring.table_file import TableFile
    from diag.reason.policy.policy import Tree

LONGEST = 86_400.0


@click.command("grow")
@click.option(
    "--table",
    metavar="FILE",
    required=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A JSON file of states, tests and groups.",
)
@click.option(
    "--seconds",
    metavar="N",
    default=30.0,
    show_default=True,
    type=click.FloatRange(0.0, LONGEST, min_open=True),
    help="How long to search at most; the answer then says how near the optimum it is.",
)
def command(table: Path, seconds: float) -> int:
    """Grow the cheapest test tree from a table: which test comes first, and which after each of its outcomes.

    One of the states holds. A test costs something and gives a sure outcome in each state; the set-up of a group is
    paid once on a path, with its first test. Probabilities must sum to 1; a sum within 0.01 of it is taken as rounded.

    \b
    {"states": {"fuse": 0.7, "coil": 0.3},
     "tests": {"meter": {"cost": 2, "group": "cabinet",
                         "outcomes": {"fuse": "0 V", "coil": "24 V"}}},
     "groups": {"cabinet": 5}}

    The answer is JSON: expected_cost, lower_bound (no tree costs less), exact, and the tree.
    """
    if math.isnan(seconds):
        raise WrongUsage("--seconds must be a number")
    from diag.cli.measuring import table_file
    from diag.reason.policy.policy import solve

    read = table_file.read(table)
    policy = solve(read.probabilities, read.columns, read.setups, seconds)
    found = {
        "expected_cost": policy.expected_cost,
        "lower_bound": policy.lower_bound,
        "exact": policy.exact,
        "tree": as_object(policy.tree, read),
    }
    json_output.say_object(found)
    return 0


def as_object(tree: Tree, table: TableFile) -> dict[str, Any]:
    """A leaf as its states by name, a branch as its test and what follows each outcome."""
    from diag.reason.policy.policy import Leaf

    if isinstance(tree, Leaf):
        return {"states": [table.states[s] for s in tree.states]}
    ways = {}
    for outcome, way in tree.outcomes:
        ways[str(outcome)] = as_object(way, table)
    return {"test": table.tests[tree.test], "outcomes": ways}
