"""`diag try`: replays the examples of machines; with `--simulate` measures their knowledge on simulated stops."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from diag.cli import json_output, machines
from diag.cli.completing import complete_machine_or_file
from diag.cli.files import simulated
from diag.cli.printing import say_lines, wrapped
from diag.cli.progress import progress
from diag.cli.settings import Settings
from diag.text import percent

if TYPE_CHECKING:
    from diag.machine.model import Machine
    from diag.vet.examples.compared import Compared
    from diag.vet.examples.replay_example import Replayed

FACTS_SHOWN = 3
"""Facts of a wrong example that are told: those that speak most, for or against."""


@click.command("try")
@click.argument("paths", nargs=-1, metavar="[PATH]...", shell_complete=complete_machine_or_file)
@click.option("--simulate", "stops", metavar="N", type=click.IntRange(1, 100_000), help="Simulate N stops as well.")
@click.option("--seed", metavar="S", type=click.IntRange(0), default=0, show_default=True, help="Which stops.")
@click.option("--each", is_flag=True, help="Simulate N stops of every cause, rare ones too; each gets its line.")
@click.option("--tree", is_flag=True, help="Follow the authored tree alone as well, on the same stops.")
@click.option("--quick", is_flag=True, help="Follow checks alone and no case: a hundred times as fast.")
@click.option("--compare", is_flag=True, help="Follow the quick way as well, and tell by how much it differs.")
@click.option("--double", is_flag=True, help="Simulate stops with two causes: are both named?")
@click.option("--without", is_flag=True, help="Simulate stops whose cause is taken out of the file: is that noticed?")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
@click.pass_obj
def command(
    settings: Settings,
    paths: tuple[str, ...],
    stops: int | None,
    seed: int,
    each: bool,
    tree: bool,
    quick: bool,
    compare: bool,
    double: bool,
    without: bool,
    as_json: bool,
) -> int:
    """Replay worked examples: at the end the cause must rank first, or within the place that the example states, and
    the authored tree must lead to it.

    PATH is a machine by name, a machine's folder, or one of its example files; without any, all machines.

    A simulated stop is drawn from the file's own weights, and some answers are lost or wrong. It is followed as the app
    advises, through a case of its own: the tree, the gate, checks, remedies with their proof, calls. The output tells
    how often the cause ranks first before the first remedy, how good the probabilities are, how the stops ended, and
    what looks can tell apart at all; for several machines a table comes last. --tree adds the trainer's tree followed
    alone. --each draws every cause N times. With --double a stop has two causes, and counts when both are named in the
    first two pairs. With --without its cause is taken out of the file, and it counts when "something that is not in
    this file" comes first or second.

    \b
    diag try
    diag try --simulate 500
    diag try tray-stacker --simulate 200 --tree
    diag try tray-stacker --simulate 20 --each --quick
    diag try tray-stacker --simulate 200 --double
    diag try tray-stacker --simulate 500 --without
    """
    if (each or double or without) and not stops:
        raise click.UsageError("--each, --double and --without go with --simulate N.")
    if (tree or quick or compare) and not stops:
        raise click.UsageError("--tree, --quick and --compare go with --simulate N.")
    if (tree or quick or compare) and (double or without):
        raise click.UsageError("--double and --without follow checks alone: leave out --tree, --quick and --compare.")
    if quick and (tree or compare):
        raise click.UsageError("--quick follows no case; --tree and --compare do: ask for one or the other.")
    if each + double + without > 1:
        raise click.UsageError("--each, --double and --without are three measurements: ask for one.")
    from diag.vet.examples.replay_example import replay

    chosen = machines.with_examples(settings.knowledge, paths)
    replayed = [replay(machine, example) for machine, examples in chosen for example in examples]
    found: dict[str, list[dict[str, Any]]] = {"examples": [_object(r) for r in replayed], "simulated": []}
    say_or_not: Callable[[Iterable[str]], None] = (lambda lines: None) if as_json else say_lines
    say_or_not(_lines(replayed))
    if stops and (double or without):
        name = "double" if double else "without"
        found[name] = [_measured(machine, name, stops, seed, say_or_not) for machine, _ in chosen]
    elif stops:
        ways = ["quick"] if quick else ["advice", *["tree"] * tree, *["quick"] * compare]
        every = [_simulated(machine, ways, stops, seed, each, say_or_not) for machine, _ in chosen]
        if len(every) > 1:
            say_or_not(simulated.table_lines(every))
        found["simulated"] = [simulated.simulated_object(one, seed) for one in every]
    if as_json:
        json_output.say_object(found)
    return 0 if all(r.fine for r in replayed) else 1


def _simulated(
    machine: Machine, ways: Sequence[str], stops: int, seed: int, each: bool, tell: Callable[[Iterable[str]], None]
) -> simulated.Simulated:
    """The same stops of a machine, followed in each of the ways."""
    from diag.practice import quick, simulate
    from diag.practice.score import every, isolability, outside
    from diag.reason.table.compile import table_of

    table, scores = table_of(machine), {}
    for way in ways:
        label = f"{machine.id}, {way}" if len(ways) > 1 else machine.id
        with progress(stops * len(machine.causes) if each else stops, label) as done:
            if way == "quick":
                scores[way] = quick.simulate(table, stops, seed, done, each)
            else:
                scores[way] = simulate.simulate(machine, stops, seed, done, each=each, tree=way == "tree")
    looks = (isolability(table, which(table)) for which in (every, outside))
    found = simulated.Simulated(machine.id, tuple(machine.causes), scores, *looks)
    tell(simulated.simulated_lines(found, seed, each))
    return found


def _measured(
    machine: Machine, name: str, stops: int, seed: int, tell: Callable[[Iterable[str]], None]
) -> dict[str, Any]:
    """Stops with two causes (`double`), or whose cause is taken out of the file (`without`)."""
    from diag.practice import double, unlisted
    from diag.reason.table.compile import compile

    table, id = compile(machine), machine.id
    with progress(stops, id) as done:
        if name == "double":
            doubles = double.simulate(table, stops, seed, done)
            lines, found = simulated.double_lines(id, doubles, seed), simulated.double_object(id, doubles, seed)
        else:
            noticed = unlisted.simulate(table, stops, seed, done)
            lines, found = simulated.without_lines(id, noticed, seed), simulated.without_object(id, noticed, seed)
    tell(lines)
    return found


def _lines(replayed: Sequence[Replayed]) -> Iterator[str]:
    for r in replayed:
        sign = "ok   " if r.fine else "WRONG"
        yield f"{sign} {r.machine}/{r.example.id}: {r.example.cause} {percent(r.probability)}, place {r.place}"
        yield from _more(r)
    yield f"{len(replayed)} examples, {sum(not r.fine for r in replayed)} wrong"


def _more(r: Replayed) -> Iterator[str]:
    """What does not hold and why, below the line of an example."""
    for trouble in r.trouble:
        yield from wrapped(trouble, 6)
    if r.compared is not None:
        yield from _facts(r.compared)
    if r.danger is not None:
        yield from wrapped(f"on the screen this case ends at its danger sign: {r.danger.stop}", 6)


def _facts(c: Compared) -> Iterator[str]:
    """The facts that speak most, in their order, each with how likely it is under the one cause and the other."""
    yield from wrapped(f"how likely the facts are under {c.expected}, and under {c.first}:", 6)
    yield f"        {percent(c.before[0]):>5}  {percent(c.before[1]):>5}  before any fact"
    told = sorted((f for f in c.facts if f.speaks), key=lambda f: -abs(f.weight))[:FACTS_SHOWN]
    for fact in (f for f in c.facts if f in told):
        speaks = f"speaks for {c.expected if fact.weight > 0 else c.first}"
        lead = f"        {percent(fact.expected):>5}  {percent(fact.first):>5}  "
        first, *others = wrapped(f"{fact.text}; {speaks}", len(lead))
        yield from (lead + first.lstrip(), *others)
    if c.hint:
        yield from wrapped(c.hint, 6)


def _object(r: Replayed) -> dict[str, Any]:
    return {
        "machine": r.machine,
        "example": r.example.id,
        "cause": r.example.cause,
        "place": r.place,
        "within": r.example.within,
        "probability": r.probability,
        "fine": r.fine,
        "trouble": list(r.trouble),
        "danger": r.danger.stop if r.danger is not None else None,
        "compared": _compared_object(r.compared) if r.compared is not None else None,
    }


def _compared_object(c: Compared) -> dict[str, Any]:
    """Probabilities under the expected cause and under the first, as pairs."""
    return {
        "causes": [c.expected, c.first],
        "before": list(c.before),
        "facts": [{"indication": f.indication, "state": f.state, "under": [f.expected, f.first]} for f in c.facts],
        "hint": c.hint,
    }
